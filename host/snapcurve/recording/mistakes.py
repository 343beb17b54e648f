"""Whether a recording was started by mistake: it never stood in chocolate.

A probe in a bath, in a hand, or put down on the bench makes a board begin to record. Whatever
may have been a batch is none of these: somebody marked something, it goes on with a batch, a
fault or lost blocks hide what it was. The notebook files such a recording with an amendment that
says so: sealed rows stay, and a person may say otherwise.
"""

import numpy as np

from snapcurve.couvertures.profile import method_of
from snapcurve.recording.curve import Curve
from snapcurve.recording.known_spans import SETTLE_S, Known, known
from snapcurve.recording.series import array_of

# Chocolate that is worked lies between these, and so does one that was badly overheated; ice and
# boiling water do not. Chosen, without a source.
COLDEST_C, HOTTEST_C = 15.0, 80.0
LEAST_S = 15.0  # for so long it must have stood there
UNREADABLE_S = 60.0  # of a fault may hide a batch


def started_by_mistake(curve: Curve, seen: Known | None = None) -> bool:
    """Whether ``curve`` is no batch's; ``seen`` are its settled readings, if they are there."""
    if curve.lost_blocks or curve.continues is not None:
        return False
    if any(event.kind == "mark" and event.name != "silence" for event in curve.events):
        return False
    seen = seen or known(curve)
    faulty = sum(end - start for start, end, why in seen.hidden if why == "no reading")
    if faulty > UNREADABLE_S:
        return False
    readings = seen.recorded_c.array
    if method_of(curve.profile) == "cup":
        # No bowl, so the board's word for in and out means nothing.
        readings = array_of(curve.temperatures_c)[array_of(curve.times_s) >= SETTLE_S]
    there = (readings >= COLDEST_C) & (readings <= HOTTEST_C)  # which what was not read is not
    return seen.step_s * int(np.count_nonzero(there)) < LEAST_S
