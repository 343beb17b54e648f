"""A filed batch to its judgement, from the notebook; its parts (`notebook.wholes`) as one."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from snapcurve.analysis.verdict import Judgement, judge
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook.entries import blades_with_offsets
from snapcurve.notebook.records import LOST, AmendedBatch, Batch, BatchRow, Entry
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve, decode_each
from snapcurve.recording.dip_tests import BladeResult
from snapcurve.recording.event_words import RESULT_WORDS
from snapcurve.recording.parts import Joined, Part, join
from snapcurve.recording.timeline import Timeline, timeline_of
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook
    from snapcurve.notebook.whole_records import Piece, Recording


_PAGE = 100  # batches are read so many at once
PASSED = {"passed": True, "failed": False, "early": False}


def blades_of(batch: Batch, entries: Sequence[Entry]) -> list[BladeResult]:
    """Results of test blades that are filed with ``batch``, in the order of dipping.

    A result in other words than those of PASSED is left out: it is not known what it proves.
    """
    return [
        BladeResult(at_s, PASSED[word], _detail(word, entry.payload))
        for at_s, entry in blades_with_offsets(batch, entries)
        if (word := entry.payload["result"].strip().lower()) in PASSED
    ]


def _detail(word: str, payload: Mapping[str, Any]) -> str:
    parts = [
        RESULT_WORDS["set_early"] if word == "early" else "",
        f"set after {payload['set_s']} s" if "set_s" in payload else "",
        on_one_line(payload.get("text", "")),
    ]
    return ", ".join(part for part in parts if part)


def judge_batch(
    notebook: "Notebook", code_or_id: str, style: Style, blade_passed: bool | None = None
) -> tuple[AmendedBatch, Judgement]:
    """The whole batch and its judgement in words of ``style``; ``blade_passed`` is what the last
    marked test blade showed, None if nothing more is known than what was marked and filed.

    A batch that is in several records, after a restart of the board or with the probe forgotten
    outside, is one, under the code and on the clock of the first, with the marks, alarms, lots
    and entries of all. SnapcurveError if there is no such batch, or ``blade_passed`` is given and
    no blade was marked.
    """
    batch_id = notebook.id_of(code_or_id)
    pieces = notebook.pieces([batch_id])[batch_id]
    curves = decoded({one.batch.filed.id: one.raw for one in pieces})
    return _judged(pieces, curves, style, blade_passed)


def decoded(raws: Mapping[int, bytes | None]) -> "dict[int, Curve | RecordError]":
    """The curves of these records, all at once; in the place of one that cannot be decoded why.
    Those without bytes are left out."""
    there = {key: raw for key, raw in raws.items() if raw is not None}
    return dict(zip(there, decode_each(list(there.values())), strict=True))


def _judged(
    pieces: "Sequence[Piece]",
    curves: "Mapping[int, Curve | RecordError]",
    style: Style,
    blade_passed: bool | None = None,
) -> tuple[AmendedBatch, Judgement]:
    filed = [one.batch.filed for one in pieces]
    joined = join([Part(_curve(one, curves), one.code, one.started_unix_ms) for one in filed])
    found = _whole([one.batch for one in pieces], joined)
    first = found.filed
    # A result that is filed with the first is about a dip of the whole batch; its own dips have
    # the same numbers.
    own = [(first, 0.0), *zip(filed[1:], joined.offsets_s[1:], strict=True)]
    blades = [
        replace(blade, at_s=blade.at_s + offset_s)
        for one, offset_s in own
        for blade in blades_of(one, [entry for entry in found.entries if entry.code == one.code])
    ]
    if blade_passed is not None:
        blades = [BladeResult(_last_dip_s(joined.curve, first.code), blade_passed)]
    judgement = judge(joined, blades, _clock(filed, joined), _uncertainty_c(first), style)
    return found, _doubted(judgement, found) if found.not_as_filed else judgement


def _curve(filed: Batch, curves: "Mapping[int, Curve | RecordError]") -> Curve:
    """Its curve; RecordError if that is missing or damaged."""
    found = curves.get(filed.id)
    if isinstance(found, RecordError):
        raise found
    if found is not None:
        return found
    if filed.curve == LOST:
        raise RecordError(
            f"Batch {filed.code} has lost its curve; restore a backup of the notebook."
        )
    raise RecordError(
        f"The stored curve of batch {filed.code} is damaged; restore a backup of the notebook."
    )


def _doubted(judgement: Judgement, found: AmendedBatch) -> Judgement:
    """What is left of a judgement of a record that was altered: words, and no proof."""
    said = " ".join(found.not_as_filed)
    verdict = f"Not as filed: {said} So it proves nothing; what it says now: {judgement.verdict}"
    return replace(judgement, verdict=verdict, proved=None)


@dataclass(frozen=True)
class Judged:
    """A batch with its line in the list; ``judgement`` None if its record cannot be read."""

    row: BatchRow
    found: AmendedBatch
    judgement: Judgement | None


def judged_batches(notebook: "Notebook", rows: Sequence[BatchRow], style: Style) -> list[Judged]:
    """The batches of these lines, in that order, each once: a batch that is in several records
    stands where the first of them that is asked for stands."""
    return list(judged_one_by_one(notebook, rows, style))


def judged_one_by_one(
    notebook: "Notebook",
    rows: Sequence[BatchRow],
    style: Style,
    unreadable: Callable[[str], None] | None = None,
) -> Iterator[Judged]:
    """The same, read page by page, so that of many only a page is held. A batch of which nothing
    can be read is told to ``unreadable`` in a sentence; without that its RecordError is raised."""
    seen = set[int]()
    for begin in range(0, len(rows), _PAGE):
        page = [row for row in rows[begin : begin + _PAGE] if row.id not in seen]
        pieces = _pieces(notebook, page, unreadable)
        every = {one.batch.filed.id: one.raw for its in pieces.values() for one in its}
        curves = decoded(every)
        for row in page:
            if row.id in seen or row.id not in pieces:
                continue
            its = pieces[row.id]
            try:
                found, judgement = _judged(its, curves, style)
            except RecordError:  # 'snapcurve show' says what is wrong with it
                own = next(one for one in its if one.batch.filed.id == row.id)
                yield Judged(row, own.batch, None)
            else:
                seen.update(one.batch.filed.id for one in its)
                yield Judged(row, found, judgement)


def timelines_one_by_one(
    notebook: "Notebook", rows: Sequence[BatchRow]
) -> Iterator[tuple[BatchRow, Timeline]]:
    """The timelines of the batches of these lines as `judged_one_by_one` has them, but for the
    results of blades that were filed beside the records; RecordError for the first that cannot
    be read."""
    seen = set[int]()
    for begin in range(0, len(rows), _PAGE):
        page = [row for row in rows[begin : begin + _PAGE] if row.id not in seen]
        recordings = notebook.recordings([row.id for row in page])
        curves = decoded({key: one.raw for its in recordings.values() for key, one in its.items()})
        for row in page:
            if row.id in seen:
                continue
            its = recordings[row.id]
            parts = []
            for key, one in its.items():
                curve = curves.get(key)
                if not isinstance(curve, Curve):
                    raise RecordError(
                        f"Batch {row.code} cannot be read: 'snapcurve show {row.code}' says why."
                    )
                parts.append(Part(curve, one.code, one.started_unix_ms))
            seen.update(its)
            joined = join(parts)
            filed = list(its.values())
            yield row, timeline_of(joined, (), _uncertainty_c(filed[0]), _clock(filed, joined))


def _pieces(
    notebook: "Notebook", page: Sequence[BatchRow], unreadable: Callable[[str], None] | None
) -> "dict[int, tuple[Piece, ...]]":
    """The records of a page; where one of them cannot be read, of each of the others."""
    try:
        return notebook.pieces([row.id for row in page])
    except (SnapcurveError, ValueError, TypeError, LookupError) as error:
        if unreadable is None:
            raise
        if len(page) > 1:
            middle = len(page) // 2
            first = _pieces(notebook, page[:middle], unreadable)
            return first | _pieces(notebook, page[middle:], unreadable)
        said = str(error) if isinstance(error, SnapcurveError) else type(error).__name__
        unreadable(f"Batch {page[0].code} cannot be read: {said.rstrip('.')}.")
        return {}


def _clock(pieces: "Sequence[Batch | Recording]", joined: Joined) -> Clock:
    """When it began; by the first record that is dated, if the very first is not."""
    for one, offset_s in zip(pieces, joined.offsets_s, strict=True):
        if one.started_unix_ms is not None:
            started_ms = one.started_unix_ms - round(offset_s * 1000)
            return Clock(started_ms, one.utc_offset_min, from_later_part=one is not pieces[0])
    return Clock(None, pieces[0].utc_offset_min)


def _uncertainty_c(first: "Batch | Recording") -> float | None:
    """How far the temperatures of a batch may be off, by its first record."""
    return None if first.uncertainty_centi_c is None else first.uncertainty_centi_c / 100


def _whole(pieces: Sequence[AmendedBatch], joined: Joined) -> AmendedBatch:
    """All records of a batch as one."""
    first = pieces[0]
    if len(pieces) == 1:
        return first
    from snapcurve.collecting.filing import alarms_of, marks_of  # which loads the board's side

    marks, alarms = marks_of(joined.curve), alarms_of(joined.curve)
    lots = dict.fromkeys(lot for one in pieces for lot in one.now.lots)
    filed_lots = dict.fromkeys(lot for one in pieces for lot in one.filed.lots)
    return AmendedBatch(
        replace(first.filed, marks=marks, alarms=alarms, lots=tuple(filed_lots)),
        replace(first.now, marks=marks, alarms=alarms, lots=tuple(lots)),
        tuple(change for one in pieces for change in one.changes),
        tuple(sorted((entry for one in pieces for entry in one.entries), key=lambda e: e.id)),
        tuple(dict.fromkeys(left for one in pieces for left in one.leftovers)),
        tuple(dict.fromkeys(code for one in pieces for code in one.went_into)),
        tuple(sentence for one in pieces for sentence in one.not_as_filed),
        first.filed_by,
    )


def _last_dip_s(curve: Curve, code: str) -> float:
    dips = [event.offset_ms for event in curve.events if event.name == "dip_test"]
    if not dips:
        raise SnapcurveError(
            f"No test blade was marked in batch {code}, so it cannot have shown anything: "
            "press the button when you dip the next one."
        )
    return dips[-1] / 1000
