"""snapcurve practise: a bowl to practise on, which goes on between the commands."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import did_you_mean
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.simulation.practice_port import PracticeBench

# word -> its value, and what it does; the acts at the bench follow
WORDS = {
    "start": ("[COUVERTURE]", "set a bowl of pieces out and load the profile"),
    "lesson": ("[NAME]", "set out a bowl in which something is wrong; or list the lessons"),
    "look": ("", "what is seen and heard now"),
    "wait": ("SECONDS", "until so much has passed at the bench"),
    "speed": ("TIMES", "as fast as the clock on the wall, 1 to 60"),
    "halt": ("", "let time stand still"),
    "go": ("", "let it run on"),
    "replug": ("", "pull the board's plug and put it back in"),
    "account": ("", "when it has ended: what was true, what was read, what would be right"),
    "class": ("FILE ...", "accounts of a class, side by side as CSV"),
    "end": ("", "put everything away; curves stay on the board until collected"),
}
UNIT_WORDS = {"s": "SECONDS", "g": "MASS", "times": "TIMES"}


def _words() -> str:
    """All words for --help, a line each."""
    from snapcurve.simulation.practice import ACTS

    rows = [(f"{word} {value}", what) for word, (value, what) in WORDS.items()]
    for name, kind in ACTS.items():
        rows.append((f"{name.replace('_', '-')} {UNIT_WORDS.get(kind.unit, '')}", kind.what))
    return "\n".join(f"  {left:<20} {what}" for left, what in rows)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    from snapcurve.simulation.practice import MELTED_C, BenchState

    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        f"{parser.description}\nThe bowl goes on between the commands. Its board is '--port "
        "rehearsal' for every\nother command: watch, mark, rescue, collect. What the chocolate "
        "truly is stays hidden\nuntil the recording has ended.\n\nwords:\n" + _words()
    )
    room = options.degrees_for_help(BenchState().room_c)
    melted = options.degrees_for_help(MELTED_C)
    add = parser.add_argument
    add("word", nargs="?", default="look", metavar="WORD", help="one of these (default: look)")
    add("values", nargs="*", metavar="VALUE", help="what goes with it")
    options.method(parser)
    add("--mass", help="with start: pieces in the bowl (default: 1 kg)")
    add("--beside", metavar="MASS", help="with start: pieces beside it as seed (default: 500 g)")
    add("--room", help=f"with start: temperature of the room (default: {room})")
    options.number(parser, "--watts", help="with start: microwave power (default: 800)")
    options.number(
        parser,
        "--times",
        default=10.0,
        help="with start and lesson: how many times faster than real, 1 to 60 (default: 10)",
    )
    add("--number", type=int, default=1, help="same number, same bench (default: 1)")
    add("--halted", action="store_true", help="with start and lesson: time stands still at first")
    options.number(
        parser, "--at", metavar="SECONDS", help="do it at this second of the bench (default: now)"
    )
    add("--temp", metavar="DEGREES", help=f"with melted: its temperature (default: {melted})")
    add("--learner", metavar="NAME", help="with account: whose it is")
    add("-o", "--output", type=Path, metavar="FILE", help="with account: .pdf; with class: .csv")
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Do the word."""
    from snapcurve.simulation.practice import ACTS

    word = arguments.word
    name = word.replace("-", "_")
    if name in ACTS:
        return _act(arguments, name)
    if word not in WORDS:
        known = [*WORDS, *(name.replace("_", "-") for name in ACTS)]
        raise SnapcurveError(
            f"Nobody can '{word[:40]}' at the practice bench{did_you_mean(word, known)}; "
            "'snapcurve practise --help' lists the words."
        )
    return {
        "start": _start,
        "lesson": _lesson,
        "account": _account,
        "class": _class,
    }.get(word, _asked)(arguments)


def _style() -> Style:
    from snapcurve.shown.settings_file import load

    return load().style


def _one(arguments: argparse.Namespace, what: str) -> str:
    """The one value of the word."""
    if len(arguments.values) != 1:
        raise SnapcurveError(f"'{arguments.word}' takes one value: {what}.")
    return str(arguments.values[0])


def _none(arguments: argparse.Namespace) -> None:
    if arguments.values:
        raise SnapcurveError(
            f"'{arguments.word}' takes no value: leave '{arguments.values[0][:40]}' out."
        )


# --- set out and put away ----------------------------------------------------------------


def _setting(arguments: argparse.Namespace, couverture: str, lesson: str | None) -> Any:
    from snapcurve.simulation.practice_setting import Setting

    style, usual = _style(), Setting()
    mass, beside, room = arguments.mass, arguments.beside, arguments.room
    return Setting(
        couverture=couverture,
        method=arguments.method,
        mass_g=usual.mass_g if mass is None else style.parse_mass(mass),
        pieces_g=usual.pieces_g
        if beside is None
        else style.parse_mass(beside, what="What lies beside"),
        room_c=usual.room_c if room is None else style.parse_room(room),
        microwave_w=usual.microwave_w if arguments.watts is None else arguments.watts,
        speed=arguments.times,
        lesson=lesson,
        number=arguments.number,
        halted=arguments.halted,
    )


def _start(arguments: argparse.Namespace) -> int:
    couverture = "milk" if not arguments.values else _one(arguments, "a couverture")
    return _set_out(arguments, _setting(arguments, couverture, None))


def _lesson(arguments: argparse.Namespace) -> int:
    from snapcurve.shown.table import row, wrapped
    from snapcurve.simulation.situations import situation_named, situations

    if not arguments.values:
        if arguments.json:
            options.print_json({word: one.name for word, one in situations().items()})
        else:
            print("\n".join(f"{word:<20} {one.name}" for word, one in situations().items()))
        return 0
    name = _one(arguments, "the name of a lesson")
    situation = situation_named(name, _style())
    if not arguments.json:
        rows = [("Lesson", situation.name), ("Seen", situation.story), ("Task", situation.task)]
        print("\n".join(wrapped([row(word, text) for word, text in rows])))
    return _set_out(arguments, _setting(arguments, situation.couverture, name))


def _set_out(arguments: argparse.Namespace, setting: Any) -> int:
    from snapcurve.simulation.practice_port import set_out

    bench = set_out(setting)
    look = bench.look()
    if arguments.json:
        options.print_json(look)
        return 0
    asked = look["setting"]
    print(
        f"A bowl of {asked['couverture']} stands on the practice bench, its profile by "
        f"{asked['method']} on the board; time runs {look['speed']:g} times as fast"
        f"{', and stands still now' if look['halted'] else ''}."
    )
    print("Never leave a metal probe in a microwave oven: it comes out before every burst.")
    print("Its board is --port rehearsal: 'snapcurve watch --port rehearsal' in another window.\n")
    _tell(look)
    return 0


# --- at the bench ------------------------------------------------------------------------


def _act(arguments: argparse.Namespace, name: str) -> int:
    from snapcurve.simulation.practice import ACTS, LEAST_MELTED_C, MOST_MELTED_C
    from snapcurve.simulation.practice_port import the_bench

    kind, style = ACTS[name], _style()
    amount = None
    if arguments.values:
        text = _one(arguments, UNIT_WORDS.get(kind.unit, "none"))
        what = f"The amount for {arguments.word}"
        if kind.unit == "g":
            amount = style.parse_mass(text, "g", what)
        else:
            amount = style.parse_number(text, what)
    at_c = None if arguments.temp is None else style.parse_temperature(arguments.temp)
    bench = the_bench()
    if at_c is not None and not (name == "melted" and LEAST_MELTED_C <= at_c <= MOST_MELTED_C):
        window = style.window(LEAST_MELTED_C, MOST_MELTED_C)
        raise SnapcurveError(f"--temp goes with melted chocolate only, {window}.")
    look = bench.act(name, amount, at_c, arguments.at)
    if arguments.at is None and name in ("heat", "hot_air") and not look["halted"]:
        look = _waited(bench, look, look["busy"].get(name, 0.0))
    return _shown(arguments, look)


def _waited(bench: "PracticeBench", look: dict[str, Any], seconds: float) -> dict[str, Any]:
    try:
        return bench.wait(seconds)
    except KeyboardInterrupt:
        return look  # it goes on by itself


def _asked(arguments: argparse.Namespace) -> int:
    """look, wait, speed, halt, go, replug, end."""
    from snapcurve.simulation.practice_port import the_bench

    word, style = arguments.word, _style()
    bench = the_bench()
    if word in ("wait", "speed"):
        value = style.parse_number(_one(arguments, WORDS[word][0]), f"'{word}'")
        return _shown(arguments, getattr(bench, word)(value))
    _none(arguments)
    if word == "end":
        bench.end()
        print(
            "The practice bowl is put away. 'snapcurve collect --port rehearsal' files what was "
            "recorded, 'snapcurve practise account' says how it truly was."
        )
        return 0
    return _shown(arguments, getattr(bench, word)())


def _shown(arguments: argparse.Namespace, look: dict[str, Any]) -> int:
    if arguments.json:
        options.print_json(look)
    else:
        _tell(look)
    return 0


def _tell(look: dict[str, Any]) -> None:
    from snapcurve.report.practice_texts import look_lines

    print("\n".join(look_lines(look, _style())))


# --- afterwards --------------------------------------------------------------------------


def _account(arguments: argparse.Namespace) -> int:
    from snapcurve.analysis.practice_account import account_of
    from snapcurve.analysis.practice_truth import called_of
    from snapcurve.commands.output_files import ACCOUNT
    from snapcurve.notebook import open_notebook
    from snapcurve.report.account_texts import (
        LEARNER_MAX,
        account_document,
        account_lines,
        account_plain,
    )
    from snapcurve.shown.plain_text import on_one_line
    from snapcurve.shown.settings_file import load
    from snapcurve.simulation.practice_diary import newest
    from snapcurve.simulation.practice_port import bench

    _none(arguments)
    settings = load()
    if arguments.output is not None:
        options.output(arguments, arguments.output, ACCOUNT)
    still = bench()
    if still is not None:
        still.keep()
    diary = newest()
    if diary is None:
        raise SnapcurveError(
            "No practice bowl was worked yet: 'snapcurve practise start milk' sets one out."
        )
    learner = on_one_line(arguments.learner or settings.operator)
    if len(learner) > LEARNER_MAX:
        raise SnapcurveError(f"--learner takes a name of at most {LEARNER_MAX} letters.")
    with open_notebook(arguments.notebook) as notebook:
        called = called_of(notebook, diary)
    account = account_of(diary, learner, settings.style, called, away=still is None)
    if arguments.output is not None:
        account_document(account, arguments.output, settings.paper, settings.style)
    if arguments.json:
        options.print_json(account_plain(account))
        return 0
    print("\n".join(account_lines(account, settings.style)))
    if arguments.output is not None:
        print(f"\n{arguments.output}")
    return 0


def _class(arguments: argparse.Namespace) -> int:
    from snapcurve.commands.output_files import CLASS
    from snapcurve.report.account_texts import class_csv, read_account
    from snapcurve.shown.whole_files import write_whole

    if not arguments.values:
        raise SnapcurveError("'class' takes the accounts of a class: name their files.")
    if arguments.output is not None:
        options.output(arguments, arguments.output, CLASS)
    text = class_csv([read_account(Path(one)) for one in arguments.values])
    if arguments.output is None:
        print(text, end="")
        return 0
    write_whole(arguments.output, text.encode("utf-8-sig"), CLASS.what)
    print(arguments.output)
    return 0
