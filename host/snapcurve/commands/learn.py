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
    from snapcurve.shown.settings_file import load as load_settings

    options.chart(arguments)
    settings = load_settings()
    couverture = load(arguments.couverture, user_folder())
    noted = {} if arguments.outcomes is None else read_outcomes(arguments.outcomes)
    with open_notebook(arguments.notebook) as notebook:
        noted = {**from_notebook.filed_outcomes(notebook), **noted}
        if not noted:
            raise SnapcurveError(from_notebook.HOW_TO_NOTE)
        for code in notebook.unknown(noted):
            notebook.batch(code)  # which says so
        drawn = arguments.chart is not None
        batches = from_notebook.learned(
            notebook, couverture.name, noted, arguments.rehearsals, drawn
        )
        place = from_notebook.place_of(notebook, couverture.name, noted, arguments.rehearsals)
    if not batches:
        raise SnapcurveError(
            f"None of the {len(noted)} outcomes belongs to a batch of {couverture.name} that "
            "was not a rehearsal (--rehearsals counts those too)."
        )
    window = (couverture.work_low_c, couverture.work_high_c)
    lesson = learn(
        [one.outcome for one in batches], couverture.name, window, settings.style, place
    )
    if arguments.chart is not None:
        from snapcurve.report.analysis_charts import outcomes_chart

        outcomes_chart(batches, lesson, window, arguments.chart, settings.paper, settings.style)
    if arguments.json:
        options.print_json(asdict(lesson))
        return 0
    _tell(lesson, window, couverture, settings.style)
    if arguments.chart is not None:
        print(arguments.chart)
    return 0


def _tell(lesson: Any, window: tuple[float, float], couverture: Any, style: Any) -> None:
    from snapcurve.analysis.lessons import lesson_lines

    print("\n".join(lesson_lines(lesson, style)))
    print(textwrap.fill(lesson.why, 92))
    if lesson.window_c is not None:
        where = "your own copy of it" if couverture.origin == "built in" else couverture.origin
        low, high = lesson.window_c
        print(
            f"Proposed is {style.window(low, high)} (now {style.window(*window)}): write "
            f"work_c = [{low:.1f}, {high:.1f}] into {where}. Nothing was changed."
        )
