"""The whole notebook for other programs: tables that join by batch code, and one JSON document.

°C, g, s and ISO 8601 whatever the settings say. A batch in several records is one, under the
code of its first, in all tables. host/export.schema.json describes the document.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypedDict

from snapcurve.analysis.deviations import DeviationData
from snapcurve.analysis.filed_batch import Judged
from snapcurve.notebook.codes import parts_of
from snapcurve.notebook.descriptions import plain_groups
from snapcurve.notebook.entries import made_of
from snapcurve.notebook.exports import (
    BATCH_HEAD,
    BatchJson,
    EntryJson,
    batch_row,
    csv_lines,
    entry_plain,
    made_plain,
    plain,
)
from snapcurve.notebook.records import ChainEnd, Entry, Lot
from snapcurve.report.batch_list import handled_column, handled_data
from snapcurve.report.batch_texts import VerdictData, summary, verdict_data
from snapcurve.shown.plain_text import json_text

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


TABLES: dict[str, tuple[str, ...]] = {
    "batches.csv": (*BATCH_HEAD, *summary(None), "deviations"),
    "lots.csv": ("batch", "ingredient", "lot", "maker", "mass (g)", "best before", "allergens"),
    "went_into.csv": ("of batch", "into batch", "what", "mass (g)"),
    "made.csv": ("batch", "made", "pieces", "mass (g)", "best before", "went to"),
    "deviations.csv": ("batch", "number", "deviation", "at (s)", "words", *STEP_HEADS, "open"),
    "dips.csv": (
        "batch", "number", "at (s)", "chocolate (°C)", "in window", "waited", "passed", "result",
    ),
    "entries.csv": ("batch", "at (ISO 8601)", "kind", "who", "why", "words"),
}  # fmt: skip
"""The tables (RFC 4180), by the names of their files, with their heads."""
DOCUMENT = "notebook.json"


class Export:
    """Tables and document, written batch by batch, so that of a large notebook only one is held.

    ``write`` appends a text to the file of that name; ``end`` is where the chain ended.
    """

    def __init__(self, write: Callable[[str, str], None], end: ChainEnd):
        self._write = write
        self._whole: dict[Any, str] = {}  # of each record, under which code it is exported
        self._went: list[WentIntoJson] = []
        self._first = True
        for name, head in TABLES.items():
            write(name, csv_lines([head]))
        chain_end = json_text(f"{end.number}:{end.hash}")
        write(DOCUMENT, f'{{"format": {FORMAT}, "chain_end": {chain_end},\n"batches": [')

    def add(self, one: Judged) -> None:
        """A batch: all of it, or with an error nothing of it."""
        code = str(one.found.filed.code)
        records = () if one.judgement is None else one.judgement.records
        verdict = None if one.judgement is None else verdict_data(one.judgement)
        handled = handled_data(one)
        went, rows = list(_went_into(one)), _rows(one, verdict, handled)
        batch: ExportedBatch = {
            **plain(one.found),
            "judgement": verdict,
            "deviations": handled,
        }
        text = json_text(batch, indent=None)
        lines = {name: csv_lines(its) for name, its in rows.items()}
        self._whole |= dict.fromkeys(map(parts_of, (one.row.code, *records)), code)
        self._went += went
        self._write(DOCUMENT, ("\n" if self._first else ",\n") + text)
        self._first = False
        for name, its in lines.items():
            self._write(name, its)

    def finish(self, bench: Sequence[Entry]) -> None:
        """What is of no batch, and what went from batch to batch: both as the codes under which
        they are exported."""
        for went in self._went:
            went["of"] = self._whole.get(parts_of(went["of"]), went["of"])
        self._write("went_into.csv", csv_lines(list(went.values()) for went in self._went))
        entries = [entry_plain(entry) for entry in bench]
        self._write("entries.csv", csv_lines(_entry_row("", entry) for entry in entries))
        rest = f'"went_into": {json_text(self._went)},\n"bench": {json_text(entries)}}}\n'
        self._write(DOCUMENT, f"],\n{rest}")


def _rows(
    one: Judged, verdict: VerdictData | None, handled: Sequence[DeviationData]
) -> dict[str, list[Sequence[Any]]]:
    """What goes into each table of a batch."""
    code = one.found.filed.code
    return {
        "batches.csv": [
            (
                *batch_row(one.found),
                *summary(one.judgement).values(),
                *handled_column(one).values(),
            )
        ],
        "lots.csv": [(code, *_lot(lot)) for lot in one.found.now.lots],
        "made.csv": [(code, *made_plain(made).values()) for made in made_of(one.found.entries)],
        "deviations.csv": list(_deviations(code, handled)),
        "dips.csv": list(_dips(code, verdict)),
        "entries.csv": [_entry_row(code, entry_plain(entry)) for entry in one.found.entries],
    }


def _entry_row(code: str, entry: EntryJson) -> Sequence[Any]:
    return (code, *list(entry.values())[:5])


def _went_into(one: Judged) -> Iterator[WentIntoJson]:
    """What of earlier batches went into this one, under the codes that were noted."""
    earlier = {left.code for left in one.found.leftovers}
    for lot in one.found.now.lots:
        if lot.lot in earlier:
            into = str(one.found.filed.code)
            yield {"of": lot.lot, "into": into, "what": lot.ingredient, "mass_g": _grams(lot)}


def _lot(lot: Lot) -> tuple[Any, ...]:
    groups = "not known" if lot.allergens is None else plain_groups(lot.allergens) or "none"
    return lot.ingredient, lot.lot, lot.supplier, _grams(lot), lot.best_before, groups


def _grams(lot: Lot) -> float | None:
    return None if lot.mass_mg is None else lot.mass_mg / 1000


def _deviations(code: str, handled: Sequence[DeviationData]) -> Iterator[tuple[Any, ...]]:
    for number, each in enumerate(handled, start=1):
        data: Mapping[str, Any] = each
        steps = [
            value
            for name in STEPS
            for value in ((data[name] or {}).get("words"), (data[name] or {}).get("who"))
        ]
        yield (
            code,
            number,
            each["deviation"],
            each["at_s"],
            each["words"],
            *steps,
            ", ".join(each["open"]),
        )


def _dips(code: str, verdict: VerdictData | None) -> Iterator[tuple[Any, ...]]:
    for test in [] if verdict is None else verdict["dip_tests"]:
        yield (code, *test.values())
