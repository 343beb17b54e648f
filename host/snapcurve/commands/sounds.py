"""snapcurve sounds: what the board's sounds mean."""

import argparse

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("name", nargs="?", help="play this one on the board")
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """List the sounds, or have the board play one."""
    from probe.sounds import SOUNDS

    if arguments.name is None:
        for name, rhythm, pitch_hz, _, urgent, meaning in SOUNDS:
            repeats = ", repeats" if urgent else ""
            print(f"{name:<12} {rhythm:<16} {pitch_hz:4d} Hz  {meaning}{repeats}")
        print("t tick, s short, m middle, l long; . short pause, - longer pause")
        return 0
    names = [row[0] for row in SOUNDS]
    if arguments.name not in names:
        known = ", ".join(names)
        raise SnapcurveError(f"there is no sound {arguments.name!r}: choose from {known}")
    from snapcurve.link.opening import open_board

    with open_board(arguments.port) as board:
        board.ask("sound", sound=arguments.name)
    print(f"the board plays {arguments.name}")
    return 0
