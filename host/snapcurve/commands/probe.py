"""snapcurve probe: how far the probe's reading can be trusted, and why."""

import argparse
import time
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    parser.add_argument(
        "--at",
        metavar="TEMPERATURE",
        help="temperature to judge, in the unit that is set, or such as 88F (default: 31 °C)",
    )
    parser.add_argument(
        "--class",
        dest="tolerance_class",
        type=int,
        choices=(1, 2, 3),
        help="the probe's class after IEC 60584-1 (default: what the board says, or 1)",
    )
    options.number(
        parser,
        "--depth-diameters",
        default=10.0,
        metavar="N",
        help="how deep the probe is in, in diameters of its sheath (default: 10)",
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the budget."""
    from snapcurve.calibration.budget import immersion_hint
    from snapcurve.calibration.stored import parse
    from snapcurve.calibration.trust import ROOM_C, WORKING_C, trust
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.shown.settings_file import load

    style = load().style
    at_c = WORKING_C if arguments.at is None else style.parse_temperature(arguments.at)
    if not -10 <= at_c <= 150:
        raise SnapcurveError(f"--at must be between {style.window(-10, 150)}")
    if not 0 < arguments.depth_diameters <= 1000:
        raise SnapcurveError("--depth-diameters must be above 0: the depth over the diameter")
    with open_board(arguments.port) as board:
        hello = board.greeting
        calibration = parse(board.calibration())
        room_c = board.reading().room_c
        crash = board.last_crash()
    found = trust(
        hello.converter,
        hello.tc_type,
        calibration,
        at_c,
        time.time(),
        tolerance_class=arguments.tolerance_class,
        room_c=ROOM_C if room_c is None else room_c,
        diameters=arguments.depth_diameters,
    )
    hint = immersion_hint(arguments.depth_diameters)
    if arguments.json:
        options.print_json(_as_json(hello, found, hint, crash))
        return 0
    at = style.temperature(at_c, 2, trim=True)
    print(f"{hello.converter}, type {hello.tc_type}, at {at} (JCGM 100)")
    if style.fahrenheit:
        print("The table is in °C, as the standards are.")
    for line in table(found.budget):
        print(line)
    before = style.difference(found.expanded_c, 3, sign=False)
    print(f"\n{style.degrees(at_c)} {found.figure(style)} (k = 2, {before} before rounding)")
    for remark in (found.remark, hint):
        if remark:
            print(f"Note: {remark}")
    if crash[1]:
        print(
            f"Note: the board's firmware failed in its start {crash[0]} (it is in start "
            f"{hello.boot} now; {crash[1]} in all): {crash[2]}"
        )
    return 0


def table(budget: Any) -> list[str]:
    """The budget, one line a component, the largest share first."""
    width = max(len(part.name) for part in budget.components)
    head = (
        f"{'component':<{width}}  {'stated':>8}  {'shape':<11}  {'u':>7}  "
        f"{'c':>6}  {'|c| u':>7}  share"
    )
    lines = [head]
    parts = sorted(budget.components, key=lambda part: -part.contribution)
    lines += [
        f"{part.name:<{width}}  {part.value:8.4f}  {part.distribution:<11}  "
        f"{part.standard_uncertainty:7.4f}  {part.sensitivity:6.3f}  {part.contribution:7.4f}  "
        f"{100 * budget.share(part):4.0f} %"
        for part in parts
    ]
    lines.append(f"{'combined':<{width}}  {'':8}  {'':11}  {'':7}  {'':6}  {budget.combined:7.4f}")
    return lines


def _as_json(
    hello: Any, found: Any, hint: str | None, crash: tuple[int, int, str]
) -> dict[str, Any]:
    return {
        "crash": {"boot": crash[0], "crashes": crash[1], "reason": crash[2]},
        "converter": hello.converter,
        "type": hello.tc_type,
        "at_c": found.at_c,
        "components": [
            {
                "name": part.name,
                "value": part.value,
                "distribution": part.distribution,
                "standard_uncertainty_c": part.standard_uncertainty,
                "sensitivity": part.sensitivity,
                "contribution_c": part.contribution,
            }
            for part in found.budget.components
        ],
        "combined_c": found.budget.combined,
        "expanded_c": found.expanded_c,
        "k": 2,
        "remark": found.remark,
        "hint": hint or "",
    }
