"""What a filed practice batch truly was, to be drawn over what the probe showed of it."""

from typing import TYPE_CHECKING

from snapcurve.notebook.records import Batch
from snapcurve.recording.curve import decode
from snapcurve.simulation.practice_diary import diary_of

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


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
