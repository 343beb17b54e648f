"""snapcurve couvertures: what can be named where a couverture is asked for."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError

if TYPE_CHECKING:
    from snapcurve.couvertures import Couverture
    from snapcurve.shown.units import Style


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("couverture", nargs="?", help="only this one: id, or path of a file.toml")
    parser.add_argument(
        "--chart", type=Path, metavar="FILE", help="draw its heat over temperature"
    )
    options.replace(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List names, temperatures and origins."""
    from snapcurve.couvertures import available, load, user_folder
    from snapcurve.shown.settings_file import load as load_settings

    options.chart(arguments)
    settings = load_settings()
    style = settings.style
    folder = user_folder()
    if arguments.couverture is None:
        if arguments.chart:
            raise SnapcurveError("Which couverture? Name the one to draw before --chart.")
        found = available(folder)
    else:
        found = [load(arguments.couverture, folder)]
    if arguments.chart:
        from snapcurve.advice.inputs import temperatures_of, thermal_of
        from snapcurve.report.advice_charts import enthalpy_chart

        one = found[0]
        thermal, temperatures = thermal_of(one), temperatures_of(one)
        paper = settings.paper
        enthalpy_chart(thermal, temperatures, one.name, arguments.chart, paper, style)
    if arguments.json:
        options.print_json(
            [
                {
                    "id": one.id,
                    "name": one.name,
                    "kind": one.kind,
                    "melt_c": one.melt_c,
                    "cool_c": one.cool_c,
                    "work_c": [one.work_low_c, one.work_high_c],
                    "aim_c": one.aim_c,
                    "crystals_last_to_c": one.crystals_last_to_c,
                    "never_above_c": one.never_above_c,
                    "tempering": one.tempering,
                    "source": one.source,
                    "origin": one.origin,
                }
                for one in found
            ]
        )
        return 0
    for one in found:
        cool = "" if one.cool_c is None else f", cool {style.degrees(one.cool_c, 2, trim=True)}"
        work = [style.degrees(end, 2, trim=True) for end in (one.work_low_c, one.work_high_c)]
        print(
            f"{one.id:<18} {one.name}: melt {style.degrees(one.melt_c, 2, trim=True)}{cool}, "
            f"work {' to '.join(work)}, "
            f"never above {style.temperature(one.never_above_c, 2, trim=True)} ({one.origin})"
        )
    if arguments.chart:
        print(arguments.chart)
    if arguments.couverture is not None:
        print("\n".join(_more(found[0], style)))
    else:
        print(f"Your own go into {folder}; the figures on the bag come first.")
    return 0


def _more(one: "Couverture", style: "Style") -> list[str]:
    from snapcurve.shown.table import row, wrapped

    rows = []
    if one.aim_c is not None:
        rows.append(("Aim", f"{style.degrees_words(one.aim_c)}."))
    if one.crystals_last_to_c is not None:
        last = style.degrees_words(one.crystals_last_to_c)
        rows.append(("Crystals", f"last to {last}; for minutes above it they melt."))
    # The source keeps the units it was written in: the file and --json have it.
    return wrapped([row(word, text) for word, text in rows])
