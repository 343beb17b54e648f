"""The command ``snapcurve``.

A command's module is imported only when it is the one asked for: help must come at once,
and charts, databases and binary layouts are heavy.
"""

import argparse
import importlib
import io
import os
import re
import sys
from collections.abc import Sequence
from contextlib import suppress
from contextvars import copy_context
from typing import Any, NoReturn

from snapcurve.errors import INTERRUPTED, RecordError, SnapcurveError, cannot, hidden
from snapcurve.shown.plain_text import visible
from snapcurve.wire.version import __version__

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
    (
        "install",
        "put the firmware onto a board that runs MicroPython",
        "snapcurve install --port /dev/ttyACM0",
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
        "mark",
        "tell the board how a test blade came out, or go to another phase",
        "snapcurve mark passed --port /dev/ttyACM0",
    ),
    (
        "collect",
        "fetch new curves from the board into the notebook",
        "snapcurve collect --port /dev/ttyACM0",
    ),
    ("batches", "list the batches in the notebook", "snapcurve batches --limit 20"),
    (
        "find",
        "find batches by date, couverture, lot, outcome, operator or words",
        "snapcurve find --since 2026-11-01 --outcome dull",
    ),
    ("show", "show all that is known of a batch", "snapcurve show last"),
    (
        "today",
        "set place, room and mass once for the day",
        "snapcurve today --room 21 --mass 1.2kg",
    ),
    (
        "lot",
        "note which lot of an ingredient went into a batch, or into all of today's",
        "snapcurve lot today 'milk couverture' MC-104 --maker Hollerbach --allergens milk",
    ),
    ("note", "add words to a batch", 'snapcurve note last "moulds were cold"'),
    (
        "blade",
        "note what a test blade showed",
        "snapcurve blade last good --set-s 240",
    ),
    (
        "outcome",
        "note how the pieces turned out",
        "snapcurve outcome last --gloss high --release clean --bloom 7=none",
    ),
    (
        "picture",
        "note a picture of a batch with its SHA-256",
        "snapcurve picture last tray.jpg",
    ),
    (
        "amend",
        "put a field of a batch right; what was filed stays beside it",
        "snapcurve amend last operator 'Ilka Brandner' --why 'wrong name typed'",
    ),
    (
        "cleaned",
        "note that the bench was cleaned",
        "snapcurve cleaned 'bowl, probe and slab, hot water, dried'",
    ),
    (
        "trace",
        "list every batch with a lot, and all lots of these batches",
        "snapcurve trace MC-104",
    ),
    (
        "compare",
        "put batches side by side, and over each other",
        "snapcurve compare 2026-11-24-01 last --chart both.png",
    ),
    (
        "export",
        "write batches as CSV or JSON",
        "snapcurve export --since 2026-11-01 --output november.csv",
    ),
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
        "list the board's sounds, play or write them, or set how loud they are",
        "snapcurve sounds reached --wav .",
    ),
    ("notebook", "check or copy the notebook, or list what is old", "snapcurve notebook check"),
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


class _Parser(argparse.ArgumentParser):
    def __init__(self, *values: Any, **named: Any) -> None:
        super().__init__(*values, **named)
        # -460F and -1kg reach the command, which says in one sentence what is wrong with them;
        # there is no public way.
        self._negative_number_matcher = re.compile(r"^-\.?\d")

    def error(self, message: str) -> NoReturn:
        """Repeats what was typed, but no password: an address is easily put in a wrong place."""
        super().error(hidden(message))


def _parser(chosen: str | None) -> argparse.ArgumentParser:
    parser = _Parser(
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
    # Each is None if whoever started us had closed it.
    sys.stdin = sys.stdin or io.StringIO()
    sys.stdout = sys.stdout or io.StringIO()
    sys.stderr = sys.stderr or io.StringIO()
    try:
        try:
            arguments = parser.parse_args(words)
        except SystemExit as ended:  # argparse has said what it had to say
            raise SystemExit(_flushed(ended.code)) from None
        if arguments.command is None:
            parser.print_help()
            return int(_flushed(2))
        # what a command chooses for itself, such as units, ends with it
        code = int(copy_context().run(arguments.run, arguments))
    except SnapcurveError as error:
        code = _complain(str(error), error.exit_code)
    except KeyboardInterrupt:
        code = _complain("interrupted", INTERRUPTED)
    except BrokenPipeError:
        code = 0  # whoever read the output has seen enough
    except OSError as error:
        if _flushed(0):
            return RecordError.exit_code  # it was the output, and that has been said
        code = _complain(str(cannot(_doing(error), error)), RecordError.exit_code)
    return int(_flushed(code))


def _complain(sentence: str, code: int) -> int:
    """Say why it did not go, on one line; ``code``."""
    with suppress(OSError):
        print(f"snapcurve: {visible(sentence)}", file=sys.stderr, flush=True)
    return code


def _doing(error: OSError) -> str:
    name = error.filename
    if isinstance(name, bytes):
        name = os.fsdecode(name)
    return "finish" if name is None else f"use {name}"


def _flushed(code: Any) -> Any:
    """``code``, or that of a record error if the output took no more."""
    try:
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        pass
    except OSError as error:
        code = _complain(str(cannot("write the output", error)), RecordError.exit_code)
    # Python would try again at exit, and complain.
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


if __name__ == "__main__":
    sys.exit(main())
