"""snapcurve load: a profile to the board."""

import argparse
import time

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("couverture", help="name or .toml file")
    options.method(parser)
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """Compile, send, read back, compare."""
    from snapcurve.couvertures import load, user_folder
    from snapcurve.link.opening import open_board
    from snapcurve.profiles import compile_profile, phases_of

    couverture = load(arguments.couverture, user_folder())
    profile = compile_profile(couverture, arguments.method)
    with open_board(arguments.port) as board:
        board.set_clock(time.time())
        board.put_profile(profile)
        print(f"{couverture.name} by {arguments.method} is on the board, read back and compared:")
    for phase in phases_of(couverture, arguments.method):
        print("  " + _line(phase))
    print(f"  never above {couverture.never_above_c:g} °C")
    return 0


def _line(phase: dict[str, object]) -> str:
    def c(name: str) -> str:
        return f"{int(str(phase[name])) / 100:g}"

    if phase["direction"] == "hold":
        window = f"keep between {c('low_centi_c')} and {c('high_centi_c')} °C"
        return f"{phase['kind']:<7} {window}, temper lost above {c('target_centi_c')} °C"
    towards = "warm to" if phase["direction"] == "rise" else "cool to"
    dwell = f", stay there {phase['dwell_s']} s" if phase["dwell_s"] else ""
    return f"{phase['kind']:<7} {towards} {c('target_centi_c')} °C{dwell}"
