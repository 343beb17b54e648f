"""snapcurve load: a profile to the board."""

import argparse
import time

from snapcurve.commands import options
from snapcurve.shown import folders
from snapcurve.shown.quantities import Style


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("couverture", help="name or .toml file")
    options.method(parser)
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """Compile, send, read back, compare."""
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.couvertures import load, loaded, user_folder
    from snapcurve.couvertures.profile import compile_profile, phases_of
    from snapcurve.shown.settings_file import load as load_settings

    style = load_settings().style
    couverture = load(arguments.couverture, user_folder())
    profile = compile_profile(couverture, arguments.method)
    # a board is told no more than the name: 'collect' finds the rest of the file here
    loaded.remember(folders.data_folder(), profile, couverture)
    with open_board(arguments.port) as board:
        board.set_clock(time.time())
        board.put_profile(profile)
        print(f"{couverture.name} by {arguments.method} is on the board, read back and compared:")
    for phase in phases_of(couverture, arguments.method):
        print("  " + _line(phase, style))
    print(f"  never above {style.temperature(couverture.never_above_c, 2, trim=True)}")
    return 0


def _line(phase: dict[str, object], style: Style) -> str:
    def degrees(name: str) -> str:
        return style.degrees(int(str(phase[name])) / 100, 2, trim=True)

    if phase["direction"] == "hold":
        low, high = degrees("low_centi_c"), degrees("high_centi_c")
        window = f"keep between {low} and {high} {style.degree}"
        lost = f"temper lost above {degrees('target_centi_c')} {style.degree}"
        return f"{phase['kind']:<7} {window}, {lost}"
    towards = "warm to" if phase["direction"] == "rise" else "cool to"
    dwell = f", stay there {phase['dwell_s']} s" if phase["dwell_s"] else ""
    return f"{phase['kind']:<7} {towards} {degrees('target_centi_c')} {style.degree}{dwell}"
