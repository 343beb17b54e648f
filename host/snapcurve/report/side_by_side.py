"""A batch as a column of the table that puts several side by side."""

from snapcurve.analysis.verdict import Judgement
from snapcurve.notebook.allergens import of
from snapcurve.notebook.descriptions import allergen_words, value_words
from snapcurve.notebook.entries import outcomes_of
from snapcurve.notebook.records import AmendedBatch
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style

PROVED = {True: "yes", False: "no, it failed", None: "no"}


def column(one: AmendedBatch, judgement: Judgement, style: Style) -> dict[str, str]:
    """What stands in each row, by the row's name."""
    facts, now = judgement.facts, one.now

    def degrees(value_c: float | None) -> str:
        return "unknown" if value_c is None else style.temperature(value_c)

    def minutes(seconds: float | None) -> str:
        return "unknown" if seconds is None else f"{style.number(seconds / 60, 1)} min"

    def seconds(length_s: float) -> str:
        """Also a few of them: a reading outside is not to be rounded away."""
        return f"{length_s:.0f} s" if length_s < 120 else minutes(length_s)

    rate = facts.descent_rate_c_per_min
    outcomes = [
        f"{what} {word}" + (f" {days} d" if days else "")
        for (what, days), word in outcomes_of(one.entries).items()
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
        "proved by a blade": PROVED[judgement.proved],
        "outcomes": ", ".join(outcomes) or "not recorded",
    }
