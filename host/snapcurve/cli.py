"""The command ``snapcurve``.

A command's module is imported only when it is the one asked for: help must come at once,
and charts, databases and binary layouts are heavy.
"""

import argparse
import importlib
import os
import sys
from collections.abc import Sequence

from snapcurve import __version__
from snapcurve.errors import INTERRUPTED, SnapcurveError

# name, one line, example; the module is snapcurve.commands.NAME
COMMANDS = (
    (
        "rehearse",
        "run a whole batch on the built-in board, no hardware needed",
        "snapcurve rehearse milk --speed 60",
    ),
    (
        "replay",
        "play a measured series through the firmware and list every alarm",
        "snapcurve replay trial.csv --couverture milk --method hold",
    ),
    ("probes", "list the boards that are attached", "snapcurve probes"),
    (
        "load",
        "send a couverture's profile to the board",
        "snapcurve load milk --method seeding --port /dev/ttyACM0",
    ),
    (
        "calibrate",
        "correct the probe in a bath, measure its response, or show what is known of it",
        "snapcurve calibrate ice --port /dev/ttyACM0",
    ),
    (
        "probe",
        "how far a reading can be trusted, as a table",
        "snapcurve probe --at 31 --port /dev/ttyACM0",
    ),
    (
        "plan",
        "what to melt, hold back as seed, heat and wait for",
        "snapcurve plan milk --mass 1.2kg --room 21 --watts 700",
    ),
    (
        "correct",
        "what to do after a test that did not come out right",
        "snapcurve correct milk --mass 1kg --temp 32.6 --showed mark",
    ),
    ("watch", "show the reading live", "snapcurve watch --port rehearsal --seconds 30"),
    (
        "collect",
        "fetch new curves from the board into the notebook",
        "snapcurve collect --port /dev/ttyACM0",
    ),
    ("batches", "list the batches in the notebook", "snapcurve batches --limit 20"),
    (
        "chart",
        "draw a batch as PNG, SVG or PDF",
        "snapcurve chart 2026-11-24-01 --output batch.pdf",
    ),
    (
        "judge",
        "what a batch's record proves, and what it says about a complaint",
        "snapcurve judge last --complaint bloom",
    ),
    (
        "cup",
        "the slope of a sample cooling in ice water, and what it says of the temper",
        "snapcurve cup last --chart cup.png",
    ),
    (
        "learn",
        "what separated batches that released with gloss from those that did not",
        "snapcurve learn milk --outcomes trays.csv",
    ),
    ("couvertures", "list the couvertures and where they come from", "snapcurve couvertures"),
    (
        "sounds",
        "list the board's sounds, or play one on the board",
        "snapcurve sounds reached --port /dev/ttyACM0",
    ),
    ("notebook", "check or copy the notebook", "snapcurve notebook check"),
    (
        "sheet",
        "write a batch's sheet as PDF, for the file",
        "snapcurve sheet 2026-11-24-01 --paper A4",
    ),
    (
        "settings",
        "show or set units, decimal sign, dates, paper and names",
        "snapcurve settings set temperature F",
    ),
)


def _parser(chosen: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="snapcurve",
        description="A probe thermometer for tempering chocolate: profiles to the board, "
        "curves from it, batches into the notebook.",
        epilog="'snapcurve COMMAND --help' explains one command with an example.",
    )
    parser.add_argument("--version", action="version", version=f"snapcurve {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for name, line, example in COMMANDS:
        command = commands.add_parser(
            name,
            help=line,
            description=line[0].upper() + line[1:] + ".",
            epilog=f"Example: {example}",
        )
        if name == chosen:
            module = importlib.import_module(f"snapcurve.commands.{name}")
            module.add_arguments(command)
            command.set_defaults(run=module.run)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    chosen = next((word for word in words if not word.startswith("-")), None)
    parser = _parser(chosen)
    arguments = parser.parse_args(words)
    if arguments.command is None:
        parser.print_help()
        return 2
    try:
        code = int(arguments.run(arguments))
        sys.stdout.flush()
        return code
    except SnapcurveError as error:
        print(f"snapcurve: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("snapcurve: interrupted", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has seen enough. Python would complain again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


if __name__ == "__main__":
    sys.exit(main())
