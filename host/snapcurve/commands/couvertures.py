"""snapcurve couvertures: what can be named where a couverture is asked for."""

import argparse
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


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
                    "never_above_c": one.never_above_c,
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
    if arguments.couverture is None:
        print(f"Your own go into {folder}; the figures on the bag come first.")
    return 0
