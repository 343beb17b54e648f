"""A filed batch to its judgement, from the notebook; its parts (`notebook.wholes`) as one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from snapcurve.analysis.verdict import Judgement, judge
from snapcurve.collecting.filing import alarms_of, marks_of
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook.entries import blades_with_offsets
from snapcurve.notebook.records import AmendedBatch, Batch, BatchRow, Entry
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve, decode
from snapcurve.recording.dip_tests import BladeResult
from snapcurve.recording.event_words import RESULT_WORDS
from snapcurve.recording.parts import Joined, Part, join
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


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
    pieces = [(one, decode(notebook.curve_raw(one.id))) for one in notebook.parts(code_or_id)]
    joined = join([Part(curve, one.code, one.started_unix_ms) for one, curve in pieces])
    found = _whole([notebook.as_amended(one.code) for one, _ in pieces], joined)
    first = found.filed
    # A result that is filed with the first is about a dip of the whole batch; its own dips have
    # the same numbers.
    own = [(first, 0.0)]
    own += [(one, at_s) for (one, _), at_s in zip(pieces[1:], joined.offsets_s[1:], strict=True)]
    blades = [
        replace(blade, at_s=blade.at_s + offset_s)
        for one, offset_s in own
        for blade in blades_of(one, [entry for entry in found.entries if entry.code == one.code])
    ]
    if blade_passed is not None:
        blades = [BladeResult(_last_dip_s(joined.curve, first.code), blade_passed)]
    uncertainty = first.uncertainty_centi_c
    judgement = judge(
        joined,
        blades,
        _clock([one for one, _ in pieces], joined),
        None if uncertainty is None else uncertainty / 100,
        style,
    )
    return found, _doubted(judgement, found) if found.not_as_filed else judgement


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
    found: dict[str, Judged] = {}
    for row in rows:
        try:
            whole, judgement = judge_batch(notebook, row.code, style)
        except RecordError:  # 'snapcurve show' says what is wrong with it
            found[row.code] = Judged(row, notebook.as_amended(row.code), None)
        else:
            found.setdefault(str(whole.filed.code), Judged(row, whole, judgement))
    return list(found.values())


def _clock(pieces: Sequence[Batch], joined: Joined) -> Clock:
    """When it began; by the first record that is dated, if the very first is not."""
    for one, offset_s in zip(pieces, joined.offsets_s, strict=True):
        if one.started_unix_ms is not None:
            started_ms = one.started_unix_ms - round(offset_s * 1000)
            return Clock(started_ms, one.utc_offset_min, from_later_part=one is not pieces[0])
    return Clock(None, pieces[0].utc_offset_min)


def _whole(pieces: Sequence[AmendedBatch], joined: Joined) -> AmendedBatch:
    """All records of a batch as one."""
    first = pieces[0]
    if len(pieces) == 1:
        return first
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
    )


def _last_dip_s(curve: Curve, code: str) -> float:
    dips = [event.offset_ms for event in curve.events if event.name == "dip_test"]
    if not dips:
        raise SnapcurveError(
            f"No test blade was marked in batch {code}, so it cannot have shown anything: "
            "press the button when you dip the next one."
        )
    return dips[-1] / 1000
