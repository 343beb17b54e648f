"""A filed practice batch beside its diary: what it truly was, and what its learner called it."""

from typing import TYPE_CHECKING

from snapcurve.analysis.practice_facts import SET_LATE_S, Called
from snapcurve.notebook.records import Batch, Search
from snapcurve.recording.curve import decode
from snapcurve.recording.dip_tests import dip_tests
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


def truth_of(notebook: "Notebook", batch: Batch) -> list[tuple[float, float]]:
    """(s, °C) of the chocolate, in seconds of the batch's first record; nothing unless it was a
    practice bowl on this computer."""
    if not batch.rehearsal:
        return []
    curve = decode(notebook.curve_raw(batch.id))
    diary = diary_of(curve)
    if diary is None or not curve.times_s:
        return []
    return [
        (one.seconds, one.chocolate_c)
        for one in diary.truth
        if 0 <= one.seconds <= curve.times_s[-1]
    ]
