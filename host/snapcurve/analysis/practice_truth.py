"""A filed practice batch beside its diary: what it truly was, and what its learner called it."""

from typing import TYPE_CHECKING, NamedTuple

from snapcurve.analysis.practice_facts import SET_LATE_S, Called
from snapcurve.notebook.records import Batch, Search
from snapcurve.recording.curve import decode
from snapcurve.recording.dip_tests import dip_tests
from snapcurve.recording.parts import Joined
from snapcurve.simulation.practice_diary import Diary, diary_of

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook

NEWEST = 8  # of the filed rehearsals: a bowl has as many records as its board has starts


def called_of(notebook: "Notebook", diary: Diary) -> list[Called]:
    """What the learner called the blades of this bowl, in the records of it that are filed."""
    found = []
    for row in notebook.search(Search(), NEWEST):
        if not row.rehearsal:
            continue
        curve = decode(notebook.curve_raw(row.id))
        start_s = diary.start_s(curve)
        if start_s is None or not curve.times_s:
            continue
        for test in dip_tests(curve, SET_LATE_S, curve.times_s[-1]):
            if test.result is not None:
                found.append(Called(start_s + test.at_s, test.result.passed, test.result.words))
    return sorted(found, key=lambda one: one.seconds)


class Truly(NamedTuple):
    """What the chocolate truly was at ``at_s`` of the batch: °C, the share of all that was melted,
    and the share that is fine crystals, both 0 to 1."""

    at_s: float
    chocolate_c: float
    melted_share: float
    crystals_share: float


def truth_of(notebook: "Notebook", batch: Batch, joined: Joined) -> list[Truly]:
    """What it truly was, in seconds of the batch's first record and over restarts of its board;
    nothing unless it was a practice bowl on this computer."""
    if not batch.rehearsal or not joined.curve.times_s:
        return []
    found = []
    ends_s = (*joined.offsets_s[1:], joined.curve.times_s[-1])
    for code, offset_s, end_s in zip(joined.codes, joined.offsets_s, ends_s, strict=True):
        diary = diary_of(decode(notebook.curve_raw(notebook.id_of(code)))) if code else None
        found += [
            Truly(
                one.seconds + offset_s,
                one.chocolate_c,
                1 - one.unmelted_share,
                one.crystals_share,
            )
            for one in (() if diary is None else diary.truth)
            if 0 <= one.seconds <= end_s - offset_s
        ]
    return found
