"""snapcurve cup: the cooling-curve test of a sample in ice water."""

import argparse
import textwrap
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError

HOW = (
    "Load the method with 'snapcurve load COUVERTURE --method cup'. A few grams into a small "
    "metal cup, the probe hung in the middle; after a quarter of a minute the cup goes into ice "
    "water up to its rim, and nobody touches it until it has fallen to about 12 °C. Always the "
    "same cup, the same weight, the same ice water: the slope depends on them. No drop of water "
    "may come into the cup or, later, with the probe into the bowl."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = f"{parser.description} {HOW}"
    parser.add_argument("batch", help="code of the cup's record, or 'last'")
    parser.add_argument("--chart", type=Path, help="draw it (.png, .svg or .pdf)")
    options.replace(parser)
    parser.add_argument(
        "--outcomes",
        type=Path,
        metavar="FILE",
        help="CSV of how batches turned out (batch,released,gloss[,bloom_days])",
    )
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Find the slope and name the temper, as far as this bench has learned it."""
    from snapcurve.analysis import filed_outcomes as from_notebook
    from snapcurve.analysis.cooling_curve import find_inflection
    from snapcurve.analysis.cup_temper import name_temper
    from snapcurve.analysis.outcome_file import read_outcomes
    from snapcurve.notebook import open_notebook
    from snapcurve.recording.curve import decode

    options.chart(arguments)
    noted = {} if arguments.outcomes is None else read_outcomes(arguments.outcomes)
    with open_notebook(arguments.notebook) as notebook:
        cup = notebook.batch(arguments.batch)
        if cup.method != "cup":
            raise SnapcurveError(
                f"batch {cup.code} is no cup but {cup.couverture} by {cup.method}: record a "
                "sample in ice water with 'snapcurve load COUVERTURE --method cup'"
            )
        curve = decode(notebook.curve_raw(cup.id))
        inflection = find_inflection(curve.times_s, curve.temperatures_c)
        noted = {**from_notebook.filed_outcomes(notebook), **noted}
        good = list(from_notebook.good_cups(notebook, cup, noted))
        batch = from_notebook.batch_of_cup(cup, notebook.batches())
    verdict = name_temper(inflection, [one.slope_c_per_min for _, one in good])
    if arguments.chart is not None:
        from snapcurve.report.cup_chart import cup_chart

        title = f"Cup {cup.code}: {cup.couverture}"
        cup_chart(curve, inflection, verdict, title, arguments.chart)
    if arguments.json:
        limits = verdict.limits
        options.print_json(
            {
                "cup": cup.code,
                "batch": None if batch is None else batch.code,
                "slope_c_per_min": round(inflection.slope_c_per_min, 3),
                "slope_uncertainty_c_per_min": round(inflection.slope_uncertainty_c_per_min, 3),
                "at_s": inflection.at_s,
                "temperature_c": round(inflection.temperature_c, 2),
                "noise_c": round(inflection.noise_c, 4),
                "half_window_s": inflection.half_window_s,
                "temper": verdict.temper,
                "limits_c_per_min": None
                if limits is None
                else [round(limits.low_c_per_min, 3), round(limits.high_c_per_min, 3)],
                "good_cups": [code for code, _ in good],
                "sentence": verdict.sentence,
            }
        )
        return 0
    print(textwrap.fill(verdict.sentence, 92))
    since_s = inflection.at_s - inflection.start_s
    print(
        f"It lies at {inflection.temperature_c:.1f} °C, {since_s:.0f} s after the fall began "
        f"(local cubics of ±{inflection.half_window_s:.0f} s)."
    )
    if batch is not None:
        print(f"Taken to be of batch {batch.code}, the newest of this couverture before it.")
    if arguments.chart is not None:
        print(arguments.chart)
    return 0
