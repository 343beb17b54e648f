"""snapcurve sounds: what the board's sounds mean, to be heard or kept, and how loud."""

import argparse
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError
from snapcurve.wire.catalogue import VOLUMES

HOURS_MAX = 24


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("name", nargs="?", help="play this one on the board, or write it")
    parser.add_argument(
        "--wav", type=Path, metavar="FOLDER", help="write sounds there as WAV files: one or all"
    )
    options.replace(parser)
    parser.add_argument(
        "--volume",
        choices=VOLUMES,
        help="set how loud the board is; light: nothing sounds, the light shows each pattern",
    )
    parser.add_argument(
        "--hours",
        type=int,
        help=f"with --volume: for quiet hours, 1 to {HOURS_MAX}, then as before "
        "(default: until it is set anew)",
    )
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """List, write or play sounds, or set the volume."""
    from snapcurve.probe import sounds
    from snapcurve.probe.sound_meanings import MEANINGS
    from snapcurve.shown.table import table

    names = sounds.names()
    if arguments.name is not None and arguments.name not in names:
        known = ", ".join(names)
        raise SnapcurveError(f"There is no sound {arguments.name!r}: choose from {known}.")
    if arguments.hours is not None and arguments.volume is None:
        raise SnapcurveError("--hours says how long a --volume lasts: give that as well.")
    if arguments.hours is not None and not 1 <= arguments.hours <= HOURS_MAX:
        raise SnapcurveError(f"--hours is {arguments.hours}: choose 1 to {HOURS_MAX}")
    if arguments.wav is not None:
        from snapcurve.commands.output_files import SOUND
        from snapcurve.report.sound_files import place, write

        chosen = names if arguments.name is None else [arguments.name]
        for name in chosen:
            options.output(arguments, place(arguments.wav, name), SOUND)
        for path in write(arguments.wav, chosen):
            print(f"{path}: {MEANINGS[path.stem]}")
        return 0
    if arguments.name is None and arguments.volume is None:
        rows = [
            (name, rhythm, f"{hz} Hz", MEANINGS[name] + (", repeats" if urgent else ""))
            for name, rhythm, hz, _, urgent in map(sounds.find, names)
        ]
        print(table(rows, right=(2,)))
        print("t tick, s short, m middle, l long; . short pause, - longer pause")
        return 0
    _on_board(arguments)
    return 0


def _on_board(arguments: argparse.Namespace) -> None:
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.probe.sound_meanings import MEANINGS

    with open_board(arguments.port) as board:
        if arguments.volume is not None:
            board.set_volume(arguments.volume, arguments.hours or 0)
            print(_volume_words(arguments.volume, arguments.hours))
        if arguments.name is not None:
            board.ask("sound", sound=arguments.name)
            print(f"The board plays {arguments.name}: {MEANINGS[arguments.name]}")


def _volume_words(volume: str, hours: int | None) -> str:
    for_long = "until it is set anew" if hours is None else f"for {hours} h, then as before"
    if volume == "light":
        return f"nothing sounds {for_long}; the light shows each pattern, alarms included"
    floor = "" if volume in ("middle", "full") else "; what costs the batch stays at middle"
    return f"volume {volume} {for_long}{floor}"
