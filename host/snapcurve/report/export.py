"""The whole notebook for other programs: tables that join by batch code, and one JSON document.

°C, g, s and ISO 8601 whatever the settings say. A batch in several records is one, under the
code of its first, in all tables. host/export.schema.json describes the document.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypedDict

from snapcurve.analysis.deviations import DeviationData
from snapcurve.analysis.filed_batch import Judged
from snapcurve.notebook.codes import parts_of
from snapcurve.notebook.descriptions import plain_groups
from snapcurve.notebook.entries import made_of
from snapcurve.notebook.exports import (
    BatchJson,
    EntryJson,
    csv_of,
    entry_plain,
    made_plain,
    plain,
    table_csv,
)
from snapcurve.notebook.records import ChainEnd, Entry, Lot
from snapcurve.report.batch_list import handled_column, handled_data
from snapcurve.report.batch_texts import VerdictData, summary, verdict_data

FORMAT = 1
STEPS = ("action", "disposition", "review")
STEP_HEADS = tuple(head for step in STEPS for head in (step, f"{step} by"))


class ExportedBatch(BatchJson):
    """A batch with what its record proves, None if that cannot be read, and its deviations."""

    judgement: VerdictData | None
    deviations: list[DeviationData]


class WentIntoJson(TypedDict):
    """Something of the batch ``of`` that went into the batch ``into``."""

    of: str
    into: str
    what: str
    mass_g: float | None


class ExportJson(TypedDict):
    """The document. ``bench`` are the entries of no batch: cleanings, days, holds, notes;
    ``chain_end`` where the chain of seals ended."""

    format: int
    chain_end: str
    batches: list[ExportedBatch]
    went_into: list[WentIntoJson]
    bench: list[EntryJson]


def document(batches: Sequence[Judged], bench: Sequence[Entry], end: ChainEnd) -> ExportJson:
    """All of it."""
    return {
        "format": FORMAT,
        "chain_end": f"{end.number}:{end.hash}",
        "batches": [
            {
                **plain(one.found),
                "judgement": None if one.judgement is None else verdict_data(one.judgement),
                "deviations": handled_data(one),
            }
            for one in batches
        ],
        "went_into": went_into(batches),
        "bench": [entry_plain(entry) for entry in bench],
    }


def tables(batches: Sequence[Judged], bench: Sequence[Entry]) -> dict[str, str]:
    """Each table as CSV (RFC 4180), by the name of its file."""
    entries = [(one.found.filed.code, entry) for one in batches for entry in one.found.entries]
    return {
        "batches.csv": csv_of(
            [(one.found, {**summary(one.judgement), **handled_column(one)}) for one in batches]
        ),
        "lots.csv": table_csv(
            ("batch", "ingredient", "lot", "maker", "mass (g)", "best before", "allergens"),
            [
                (one.found.filed.code, *_lot(lot))
                for one in batches
                for lot in one.found.now.lots
            ],
        ),
        "went_into.csv": table_csv(
            ("of batch", "into batch", "what", "mass (g)"),
            [tuple(row.values()) for row in went_into(batches)],
        ),
        "made.csv": table_csv(
            ("batch", "made", "pieces", "mass (g)", "best before", "went to"),
            [
                (one.found.filed.code, *made_plain(made).values())
                for one in batches
                for made in made_of(one.found.entries)
            ],
        ),
        "deviations.csv": table_csv(
            ("batch", "number", "deviation", "at (s)", "words", *STEP_HEADS, "open"),
            [row for one in batches for row in _deviations(one)],
        ),
        "dips.csv": table_csv(
            ("batch", "number", "at (s)", "chocolate (°C)", "in window", "waited", "passed",
             "result"),
            [row for one in batches for row in _dips(one)],
        ),
        "entries.csv": table_csv(
            ("batch", "at (ISO 8601)", "kind", "who", "why", "words"),
            [
                (code, *list(entry_plain(entry).values())[:5])
                for code, entry in (*entries, *(("", entry) for entry in bench))
            ],
        ),
    }  # fmt: skip


def went_into(batches: Sequence[Judged]) -> list[WentIntoJson]:
    """What went from batch to batch; both as the codes under which they are exported."""
    whole: dict[Any, str] = {}
    for one in batches:
        records = () if one.judgement is None else one.judgement.records
        whole |= dict.fromkeys(map(parts_of, (one.row.code, *records)), one.found.filed.code)
    found: list[WentIntoJson] = []
    for one in batches:
        earlier = {left.code for left in one.found.leftovers}
        for lot in one.found.now.lots:
            if lot.lot in earlier:
                of = whole.get(parts_of(lot.lot), lot.lot)
                into, mass_g = one.found.filed.code, _grams(lot)
                found.append({"of": of, "into": into, "what": lot.ingredient, "mass_g": mass_g})
    return found


def _lot(lot: Lot) -> tuple[Any, ...]:
    groups = "not known" if lot.allergens is None else plain_groups(lot.allergens) or "none"
    return lot.ingredient, lot.lot, lot.supplier, _grams(lot), lot.best_before, groups


def _grams(lot: Lot) -> float | None:
    return None if lot.mass_mg is None else lot.mass_mg / 1000


def _deviations(one: Judged) -> Iterator[tuple[Any, ...]]:
    for number, each in enumerate(handled_data(one), start=1):
        data: Mapping[str, Any] = each
        steps = [
            value
            for name in STEPS
            for value in ((data[name] or {}).get("words"), (data[name] or {}).get("who"))
        ]
        yield (
            one.found.filed.code,
            number,
            each["deviation"],
            each["at_s"],
            each["words"],
            *steps,
            ", ".join(each["open"]),
        )


def _dips(one: Judged) -> Iterator[tuple[Any, ...]]:
    if one.judgement is None:
        return
    for test in verdict_data(one.judgement)["dip_tests"]:
        yield (one.found.filed.code, *test.values())
