"""snapcurve compare: batches side by side, as a table and over each other."""

import argparse
from pathlib import Path
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError

MOST = 6  # lines that can still be told apart in grey


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batches", nargs="+", metavar="BATCH", help="code of a batch, or 'last'")
    parser.add_argument("--chart", type=Path, help="draw them over each other (.png, .svg, .pdf)")
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Tell what differs."""
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.figures import speak
    from snapcurve.shown.settings_file import load

    options.chart(arguments)
    style = load().style
    speak(style)
    with open_notebook(arguments.notebook) as notebook:
        codes = [notebook.batch(one).code for one in arguments.batches]
        if not 2 <= len(codes) <= MOST or len(set(codes)) < len(codes):
            raise SnapcurveError(f"name two to {MOST} different batches to compare")
        found = [(notebook.as_amended(one), judge_batch(notebook, one)[1]) for one in codes]
    if arguments.chart is not None:
        from snapcurve.report.comparison_chart import compared_chart

        compared_chart(
            [
                (f"{one.filed.code} {one.now.couverture}", judgement.facts)
                for one, judgement in found
            ],
            arguments.chart,
            style,
        )
    if arguments.json:
        options.print_json([_plain(one, judgement) for one, judgement in found])
        return 0
    columns = [_column(one, judgement, style) for one, judgement in found]
    widths = [max(len(text) for text in column.values()) for column in columns]
    for words in columns[0]:
        cells = [
            f"{column[words]:<{width}}" for column, width in zip(columns, widths, strict=True)
        ]
        print(f"{words:<22}" + "  ".join(cells).rstrip())
    if arguments.chart is not None:
        print(arguments.chart)
    return 0


def _column(one: Any, judgement: Any, style: Any) -> dict[str, str]:
    from snapcurve.notebook.allergens import of
    from snapcurve.notebook.describing import allergen_words, value_words
    from snapcurve.notebook.exporting import outcomes_of
    from snapcurve.shown.plain_text import on_one_line

    facts, now = judgement.facts, one.now

    def degrees(value_c: float | None) -> str:
        return "unknown" if value_c is None else style.temperature(value_c)

    def minutes(seconds: float | None) -> str:
        return "unknown" if seconds is None else f"{style.number(seconds / 60, 1)} min"

    def seconds(length_s: float) -> str:
        """Also a few of them: a reading outside is not to be rounded away."""
        return f"{length_s:.0f} s" if length_s < 120 else minutes(length_s)

    rate = facts.descent_rate_c_per_min
    outcomes = outcomes_of(one.entries)
    said = [
        f"{what} {word}" + (f" {days} d" if days else "")
        for (what, days), word in outcomes.items()
    ]
    return {
        "batch": now.code,
        "couverture": on_one_line(now.couverture),
        "method": now.method,
        "operator": value_words("operator", now.operator, style),
        "room": value_words("room_centi_c", now.room_centi_c, style),
        "mass": value_words("mass_mg", now.mass_mg, style),
        "lots": ", ".join(on_one_line(lot.lot) for lot in now.lots) or "not recorded",
        "allergens": allergen_words(of(one), reasons=False),
        "melted through at": minutes(facts.melted_s),
        "hottest": degrees(facts.peak_c),
        "fall into the window": "unknown" if rate is None else style.rate(-rate, 2),
        "lowest before it": degrees(facts.lowest_before_c),
        "in the window at": minutes(facts.entered_s),
        "time within": minutes(facts.in_window_s),
        "time above": seconds(facts.above_window_s),
        "time below": seconds(facts.below_window_s),
        "warned above, below": f"{facts.warned_above}, {facts.warned_below}",
        "proved by a blade": {True: "yes", False: "no, it failed", None: "no"}[judgement.proved],
        "outcomes": ", ".join(said) or "not recorded",
    }


def _plain(one: Any, judgement: Any) -> dict[str, Any]:
    from snapcurve.commands.judge import NUMBERS, rounded
    from snapcurve.notebook.exporting import plain

    facts = {name: rounded(getattr(judgement.facts, name)) for name in NUMBERS}
    return {**plain(one), "verdict": judgement.verdict, "facts": facts}
