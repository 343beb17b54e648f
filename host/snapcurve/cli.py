"""The command ``snapcurve``.

A command's module is imported only when it is the one asked for: help must come at once, and
charts, databases and binary layouts are heavy.
"""

import argparse
import difflib
import importlib
import io
import logging
import os
import re
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import Any, NoReturn

from snapcurve.errors import INTERRUPTED, RecordError, SnapcurveError, cannot, hidden
from snapcurve.shown.plain_text import visible
from snapcurve.wire.version import __version__

# In the order of the day: heading, then name, one line and example of each command. The module
# of a command is snapcurve.commands.NAME.
# fmt: off
COMMANDS = (
    ("Before work", (
        ("plan", "what to melt, hold back as seed, heat and wait for",
         "snapcurve plan milk --mass 1.2kg --room 21 --watts 700"),
        ("today", "set room, mass, place, operator for a day; note a cleaning",
         "snapcurve today --room 21 --mass 1.2kg"),
        ("lot", "note an ingredient's lot, for today or one batch; put one on hold",
         "snapcurve lot today 'milk couverture' MC-104 --maker Hollerbach --allergens milk"),
        ("couvertures", "list the couvertures and their temperatures",
         "snapcurve couvertures"),
    )),
    ("At the bench", (
        ("temper", "the whole batch: load the profile, show the reading, collect",
         "snapcurve temper milk"),
        ("page", "the bench in a browser: reading, next step, buttons; on a tablet too",
         "snapcurve page"),
        ("load", "send a couverture's profile to the board",
         "snapcurve load milk --method seeding"),
        ("watch", "show the reading live",
         "snapcurve watch --port rehearsal --seconds 30"),
        ("mark", "say how a test blade came out, or go to another phase",
         "snapcurve mark passed"),
        ("rescue", "what to do after a test that did not come out right",
         "snapcurve rescue milk --mass 1kg --temp 32.6 --showed mark"),
        ("collect", "fetch new curves from the board into the notebook",
         "snapcurve collect"),
    )),
    ("Records", (
        ("batches", "list or find batches, or write them to a file",
         "snapcurve batches --since 2026-11-01 --outcome dull"),
        ("show", "what is known of a batch and what it proves; or compare several",
         "snapcurve show last --complaint bloom"),
        ("note", "add words, outcome, what was made, a deviation's steps, an amendment",
         "snapcurve note last 'moulds were cold' --gloss dull --bloom 7=none"),
        ("trace", "where a lot or a batch went, and what went into it, to the end",
         "snapcurve trace MC-104"),
        ("sheet", "write a batch's sheet as PDF for the file, or a label",
         "snapcurve sheet last"),
        ("notebook", "check, back up, restore or export the notebook",
         "snapcurve notebook check"),
    )),
    ("The probe", (
        ("probe", "list the boards, and how far a reading can be trusted",
         "snapcurve probe --at 31"),
        ("calibrate", "correct the probe in a bath, or measure its response",
         "snapcurve calibrate ice"),
    )),
    ("Learning", (
        ("practise", "act on a bowl yourself, or take a lesson, no hardware needed",
         "snapcurve practise start milk"),
        ("rehearse", "run a whole batch on the built-in board, no hardware needed",
         "snapcurve rehearse milk --speed 60"),
        ("replay", "play a measured series through the firmware and list every alarm",
         "snapcurve replay trial.csv --couverture milk --method hold"),
        ("learn", "what separated batches with gloss from those without",
         "snapcurve learn milk --outcomes trays.csv"),
    )),
    ("Set-up", (
        ("install", "put the firmware onto a board that runs MicroPython",
         "snapcurve install"),
        ("sounds", "list, play or write the board's sounds, or set how loud they are",
         "snapcurve sounds reached --wav ."),
        ("settings", "show or set units, decimal sign, dates, paper and names",
         "snapcurve settings set temperature F"),
    )),
)
# fmt: on
ABOUT = {name: (line, example) for _, rows in COMMANDS for name, line, example in rows}
_UNKNOWN = re.compile(r"unrecognized arguments: (.*)")


class _Parser(argparse.ArgumentParser):
    def __init__(self, **about: Any):
        super().__init__(allow_abbrev=False, **about)
        # -460F and -1kg reach the command, which says in one sentence what is wrong with them;
        # there is no public way.
        self._negative_number_matcher = re.compile(r"^-\.?\d")

    def error(self, message: str) -> NoReturn:
        """Repeats what was typed, but no password: an address is easily put in a wrong place.
        Names the option that was probably meant."""
        if found := _UNKNOWN.match(message):
            known = [one for action in self._actions for one in action.option_strings]
            words = [word for word in found[1].split() if word.startswith("-")]
            message += "".join(nearest(word.split("=")[0], known) for word in words)
        super().error(hidden(message))


def nearest(word: str, known: Iterable[str]) -> str:
    """``; did you mean ...?`` for a word that is nearly a known one, else nothing."""
    found = difflib.get_close_matches(word, list(known), n=1)
    return f"; did you mean {found[0]}?" if found else ""


def overview() -> str:
    """The help of the whole command."""
    lines = ["usage: snapcurve [-v] [COMMAND ...]", ""]
    lines.append(
        "A probe thermometer for tempering chocolate. Without a command: how things stand."
    )
    for heading, rows in COMMANDS:
        lines.append(f"{heading}:")
        lines += [f"  {name:<12} {line}" for name, line, _ in rows]
    lines.append(
        "'snapcurve COMMAND --help' explains one, with an example. -v logs every frame and"
    )
    lines.append("file, --version names the version.")
    return "\n".join(lines) + "\n"


def _parser(name: str) -> argparse.ArgumentParser:
    """The parser of one command; SnapcurveError if there is none of that name."""
    if name not in ABOUT:
        hint = nearest(name, ABOUT) or ": 'snapcurve --help' lists them."
        raise SnapcurveError(f"There is no command {name!r}{hint}")
    line, example = ABOUT[name]
    parser = _Parser(
        prog=f"snapcurve {name}",
        description=line[0].upper() + line[1:] + ".",
        epilog=f"Example: {example}",
    )
    return _with_module(parser, name)


def _with_module(parser: argparse.ArgumentParser, name: str) -> argparse.ArgumentParser:
    module = importlib.import_module(f"snapcurve.commands.{name}")
    module.add_arguments(parser)
    parser.set_defaults(run=module.run)
    return parser


def _chosen(words: Sequence[str]) -> tuple[argparse.ArgumentParser, Sequence[str]]:
    """The parser for what was asked, and the words it is to read."""
    if words and not words[0].startswith("-"):
        return _parser(words[0]), words[1:]
    if words and words[0] in ("-h", "--help"):
        print(overview(), end="")
        raise SystemExit(0)
    parser = _Parser(prog="snapcurve", description="How things stand, and what to do now.")
    parser.add_argument("--version", action="version", version=f"snapcurve {__version__}")
    return _with_module(parser, "status"), words


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    # Each is None if the program that started this one had closed it.
    sys.stdin = sys.stdin or io.StringIO()
    sys.stdout = sys.stdout or io.StringIO()
    sys.stderr = sys.stderr or io.StringIO()
    if words[:1] == ["-v"]:
        words = words[1:]
        logging.basicConfig(
            level=logging.DEBUG, format="%(relativeCreated)7.0f ms %(name)s: %(message)s"
        )
        for other in ("matplotlib", "PIL", "fontTools", "fpdf"):  # only our own frames and files
            logging.getLogger(other).setLevel(logging.WARNING)
    try:
        try:
            parser, rest = _chosen(words)
            arguments = parser.parse_args(rest)
        except SystemExit as ended:  # argparse has said what it had to say
            raise SystemExit(_flushed(ended.code)) from None
        code = int(arguments.run(arguments))
    except SnapcurveError as error:
        code = _complain(str(error), error.exit_code)
    except KeyboardInterrupt:
        code = _complain("Interrupted.", INTERRUPTED)
    except BrokenPipeError:
        code = 0  # the reader of the output has seen enough
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
