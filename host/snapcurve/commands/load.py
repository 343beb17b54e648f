"""snapcurve load: a profile to the board."""

import argparse
import time
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options
from snapcurve.commands.chosen_board import open_board
from snapcurve.couvertures import load, loaded, user_folder
from snapcurve.couvertures.methods import chosen
from snapcurve.couvertures.profile import compile_profile, phases_of
from snapcurve.shown import folders
from snapcurve.shown.settings_file import load as load_settings
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.board.client import Board
    from snapcurve.couvertures import Couverture

CUP = (
    "With --method cup the next record is a cooling-curve test: a few grams into a small metal "
    "cup, the probe hung in the middle; after a quarter of a minute the cup goes into ice water "
    "up to its rim, and stays untouched until it has fallen to about 12 °C. Take the same cup, "
    "weight and ice water each time: the slope depends on them. Keep water out of the cup, and "
    "later, with the probe, out of the bowl. It holds for cocoa butter, not for coatings of other "
    "fats. 'snapcurve show last' reads it."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = f"{parser.description} {CUP}"
    parser.add_argument("couverture", help="name or .toml file")
    options.method(parser)
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """Compile, send, read back, compare."""
    couverture = load(arguments.couverture, user_folder())
    method = chosen(arguments.method, couverture)
    compile_profile(couverture, method)  # what is wrong with it is said first
    with open_board(arguments.port) as board:
        print("\n".join(send(board, couverture, method, load_settings().style)))
    return 0


def send(board: "Board", couverture: "Couverture", method: str, style: Style) -> list[str]:
    """Send the profile, read it back and compare; what is on the board then, in lines."""
    profile = compile_profile(couverture, method)
    # a board is told no more than the name: 'collect' finds the rest of the file here
    loaded.remember(folders.data_folder(), profile, couverture)
    board.set_clock(time.time())
    board.put_profile(profile)
    return [
        f"{couverture.name} by {method} is on the board, read back and compared:",
        *("  " + _line(phase, style) for phase in phases_of(couverture, method)),
        f"  never above {style.temperature(couverture.never_above_c, 2, trim=True)}",
    ]


def _line(phase: dict[str, Any], style: Style) -> str:
    def degrees(name: str) -> str:
        return style.degrees(phase[name] / 100, 2, trim=True)

    if phase["direction"] == "hold":
        low, high = degrees("low_centi_c"), degrees("high_centi_c")
        window = f"keep between {low} and {high} {style.degree}"
        if phase["target_centi_c"] > phase["high_centi_c"]:
            window += f", crystals last to {degrees('target_centi_c')} {style.degree}"
        return f"{phase['kind']:<7} {window}"
    towards = "warm to" if phase["direction"] == "rise" else "cool to"
    dwell = f", stay there {phase['dwell_s']} s" if phase["dwell_s"] else ""
    return f"{phase['kind']:<7} {towards} {degrees('target_centi_c')} {style.degree}{dwell}"
