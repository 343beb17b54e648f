"""snapcurve learn: what separated good batches from the others."""

import argparse
import textwrap
from dataclasses import asdict
from pathlib import Path
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("couverture", help="name or .toml file")
    parser.add_argument(
        "--outcomes",
        type=Path,
        metavar="FILE",
        help="CSV of how batches turned out (batch,released,gloss[,bloom_days])",
    )
    parser.add_argument("--rehearsals", action="store_true", help="count rehearsed batches too")
    parser.add_argument(
        "--chart", type=Path, help="draw all of them over each other (.png, .svg or .pdf)"
    )
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Compare, and propose a window if one stands out."""
    from snapcurve.analysis import filed_outcomes as from_notebook
    from snapcurve.analysis.lessons import learn
    from snapcurve.analysis.outcome_file import read_outcomes
    from snapcurve.couvertures import load, user_folder
    from snapcurve.notebook import open_notebook

    options.chart(arguments)
    couverture = load(arguments.couverture, user_folder())
    noted = {} if arguments.outcomes is None else read_outcomes(arguments.outcomes)
    with open_notebook(arguments.notebook) as notebook:
        noted = {**from_notebook.filed_outcomes(notebook), **noted}
        if not noted:
            raise SnapcurveError(from_notebook.HOW_TO_NOTE)
        for code in noted:
            notebook.batch(code)
        batches = from_notebook.learned(notebook, couverture.name, noted, arguments.rehearsals)
    if not batches:
        raise SnapcurveError(
            f"none of the {len(noted)} outcomes belongs to a batch of {couverture.name} that "
            "was not a rehearsal (--rehearsals counts those too)"
        )
    window = (couverture.work_low_c, couverture.work_high_c)
    lesson = learn([one.outcome for one in batches], couverture.name, window)
    if arguments.chart is not None:
        from snapcurve.report.outcome_chart import outcomes_chart

        outcomes_chart(batches, lesson, window, arguments.chart)
    if arguments.json:
        options.print_json(asdict(lesson))
        return 0
    _tell(lesson, window, couverture)
    if arguments.chart is not None:
        print(arguments.chart)
    return 0


def _tell(lesson: Any, window: tuple[float, float], couverture: Any) -> None:
    unknown = f", {lesson.unknown} without enough noted" if lesson.unknown else ""
    print(
        f"{lesson.couverture}: {lesson.good} batches released with gloss, {lesson.bad} did "
        f"not{unknown}."
    )
    if lesson.warning:
        print(lesson.warning)
    if lesson.comparisons:
        print(f"{'':24}{'good: median (range)':28}{'others: median (range)':28}")
    for one in lesson.comparisons:
        good, bad = (
            f"{three[1]:.2f} ({three[0]:.2f} to {three[2]:.2f}), {count}"
            for three, count in ((one.good, one.good_count), (one.bad, one.bad_count))
        )
        print(f"{one.words:24}{good:28}{bad:28}{one.unit}")
        higher = max(one.higher_share, 1 - one.higher_share)
        word = "higher" if one.higher_share >= 0.5 else "lower"
        print(
            f"    good ones {word} in {higher:.0%} of pairs; chance alone does so much in "
            f"{one.chance:.0%} of cases"
        )
    print(textwrap.fill(lesson.why, 92))
    if lesson.window_c is not None:
        low, high = lesson.window_c
        where = "your own copy of it" if couverture.origin == "built in" else couverture.origin
        print(
            f"Proposed for {where}: work_c = [{low:.1f}, {high:.1f}] "
            f"(now [{window[0]:g}, {window[1]:g}]). Nothing was changed."
        )
