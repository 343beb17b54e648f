"""The list of batches: what each came to, and what is still open about it."""

from collections.abc import Sequence

from snapcurve.analysis.deviations import DeviationData, data, deviations_of
from snapcurve.analysis.filed_batch import Judged
from snapcurve.analysis.verdict import Judgement
from snapcurve.notebook import allergens
from snapcurve.notebook.descriptions import DEVIATION_WORDS, allergen_words, value_words
from snapcurve.notebook.entries import outcomes_of
from snapcurve.notebook.records import AmendedBatch
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.table import table
from snapcurve.shown.units import PLAIN, Style, local

HEAD = (
    "batch", "began", "couverture", "method", "mass", "verdict", "outcome", "open", "allergens",
)  # fmt: skip


def list_table(batches: Sequence[Judged], style: Style) -> str:
    """A line for each, below the names of the columns."""
    return table([HEAD, *(_cells(one, style) for one in batches)])


def outcome_words(found: AmendedBatch) -> str:
    """How the pieces turned out, as far as it was noted."""
    return ", ".join(
        f"{what} {word}" + (f" {days} d" if days else "")
        for (what, days), word in outcomes_of(found.entries).items()
    )


def still_open(found: AmendedBatch, judgement: Judgement) -> list[str]:
    """What nobody has said yet: a blade's result, what was done about a deviation and
    became of it, its review, an outcome.

    Nothing is open about a cup, a rehearsal, and what was started by mistake.
    """
    timeline = judgement.timeline
    if found.now.mistake or found.now.rehearsal or timeline.method == "cup":
        return []
    missing = []
    if timeline.method != "coating" and not any(test.result for test in timeline.dip_tests):
        missing.append("dip result" if timeline.dip_tests else "dip test")
    steps = {step for one in deviations_of(found, judgement, PLAIN) for step in one.open}
    missing += [step for step in ("held", "action", "disposition", "review") if step in steps]
    if not outcomes_of(found.entries):
        missing.append("outcome")
    return missing


def handled_data(one: Judged) -> list[DeviationData]:
    """The deviations of a batch for a script; none if its record cannot be read."""
    if one.judgement is None:
        return []
    return data(deviations_of(one.found, one.judgement, PLAIN))


def handled_column(one: Judged) -> dict[str, str]:
    """The same as a column of a table: a line for each."""
    lines = []
    for each in handled_data(one):
        steps = [
            f"{name} {step['words']} ({step['who']})"
            for name in ("action", "disposition", "review")
            if (step := each[name]) is not None
        ]
        head = f"{DEVIATION_WORDS[each['deviation']]} at {each['at_s'] / 60:.0f} min"
        lines.append("; ".join([head, *steps, *(f"{name} open" for name in each["open"])]))
    return {"deviations": "\n".join(lines)}


def _cells(one: Judged, style: Style) -> tuple[str, ...]:
    row, now, judgement = one.row, one.found.now, one.judgement
    began, started_ms = "time unknown", row.started_unix_ms
    if judgement is not None:  # a later part may be the one that is dated
        started_ms = judgement.timeline.clock.started_unix_ms
    if started_ms is not None:
        moment = local(started_ms, row.utc_offset_min)
        began = f"{style.day(moment)} {moment:%H:%M}"
    notes = ["rehearsal"] if row.rehearsal else []
    notes += ["started by mistake"] if row.mistake else []
    parts = 1 if judgement is None else len(judgement.records)
    notes += [f"{parts} parts"] if parts > 1 else []
    method = now.method + (f" ({', '.join(notes)})" if notes else "")
    return (
        now.code,
        began,
        on_one_line(now.couverture),
        method,
        "—" if now.mass_mg is None else value_words("mass_mg", now.mass_mg, style),
        "unreadable" if judgement is None else judgement.short,
        outcome_words(one.found) or "—",
        ", ".join(still_open(one.found, judgement)) or "—" if judgement else "—",
        allergen_words(allergens.of(one.found), reasons=False),
    )
