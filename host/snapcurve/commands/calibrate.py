"""snapcurve calibrate: from a bath to a correction on the board, step by step."""

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.calibration.baths import Reference

STEPS = ("ice", "boil", "point", "gallium")
ACTIONS = (*STEPS, "response", "show", "certificate", "clear")
WHILE_RECORDING = (
    "The board is recording a batch: end it with a long press of its button, then calibrate."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "action",
        choices=ACTIONS,
        help="a bath (ice, boil, point, gallium), the probe's response time, or show, clear or "
        "print (certificate) what is on the board",
    )
    options.port(parser)
    options.notebook(parser)
    options.number(parser, "--pressure-hpa", help="boil: what a barometer here shows")
    options.number(parser, "--altitude-m", help="boil: metres above sea level")
    options.number(
        parser, "--sea-level-hpa", help="boil: a weather report's pressure, with --altitude-m"
    )
    options.celsius(parser, "--reference-c", help="point: what the reference thermometer shows")
    options.kelvin(
        parser,
        "--reference-limit-c",
        default=0.3,
        help="point: what the reference may be wrong by (default: 0.3)",
    )
    parser.add_argument(
        "--reference",
        metavar="TEXT",
        default="",
        help="certificate: which reference thermometer it was, and its own certificate",
    )
    parser.add_argument(
        "--output", "-o", type=Path, help="certificate: PDF file (default: calibration-BOARD.pdf)"
    )
    options.replace(parser)
    options.tolerance_class(parser)
    options.number(
        parser, "--wait-minutes", default=20.0, help="give up after so long (default: 20)"
    )
    parser.add_argument(
        "--ask", action="store_true", help="ask before writing though there is no terminal"
    )
    parser.add_argument("--yes", action="store_true", help="write without asking, for scripts")
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Guide, measure, show before and after, ask, write."""
    from snapcurve.calibration import baths
    from snapcurve.commands.calibrate_session import Session
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.commands.output_files import SHEET
    from snapcurve.errors import Refused
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.settings_file import load

    action = arguments.action
    if not 0.5 <= arguments.wait_minutes <= 240:
        raise SnapcurveError(
            f"--wait-minutes must be between {load().style.number(0.5, 1)} and 240."
        )
    style = load().style
    if arguments.output is not None:
        options.output(arguments, arguments.output, SHEET)
    reference = _reference(arguments, style)  # what is missing is said before anybody boils water
    if action in baths.WITH_INSTRUCTIONS and not arguments.json:
        _instruct(action, reference, style)
    scene = action if action in baths.WITH_INSTRUCTIONS else "rest"
    with (
        open_notebook(arguments.notebook) as notebook,
        open_board(arguments.port, scene=scene) as board,
    ):
        try:
            if action not in ("show", "certificate"):
                board.bath(dipping=False)  # at once: the probe may be on its way into the bath
            board.set_clock(time.time())
            session = Session(arguments, board, notebook)
            if action == "show":
                session.show()
            elif action == "certificate":
                session.certificate()
            elif action == "clear":
                session.clear()
            elif action == "response":
                session.response()
            else:
                session.bath(reference)
        except Refused as error:
            if error.code == "still_recording":
                raise SnapcurveError(WHILE_RECORDING) from error
            raise
        except KeyboardInterrupt:
            print("\nNothing was written.", file=sys.stderr)
            raise
    return 0


def _reference(arguments: argparse.Namespace, style: Style) -> "Reference | None":
    """The bath's reference, None where it is asked for later or not needed."""
    from snapcurve.calibration import baths

    if arguments.action in baths.FIXED_POINTS:
        return baths.FIXED_POINTS[arguments.action]
    if arguments.action == "boil":
        return baths.boiling_water(
            arguments.pressure_hpa, arguments.altitude_m, arguments.sea_level_hpa, style
        )
    if arguments.action == "point" and arguments.reference_c is not None:
        return baths.compared(arguments.reference_c, arguments.reference_limit_c, style)
    if arguments.action == "point" and (arguments.yes or not sys.stdin.isatty()):
        raise SnapcurveError(
            "There is no reference temperature: give what the reference thermometer shows with "
            "--reference-c."
        )
    return None


def _instruct(action: str, reference: "Reference | None", style: Style) -> None:
    from snapcurve.calibration import baths

    for number, line in enumerate(baths.instructions(action, style), 1):
        print(f"  {number}. {line}")
    if reference is not None:
        print(f"Reference: {reference.words(style)} (±{style.significant(reference.limit_c)}).")
    if action == "boil":
        print(
            "A weather report's pressure is reduced to sea level and will not do: at 1500 m it "
            f"would be {style.difference(5, 0, sign=False)} wrong."
        )
