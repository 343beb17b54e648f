"""What of a recorded curve is known to be the chocolate's temperature, and what is not.

A reading counts if the probe was in the chocolate by the board's own events, if it had had
time to settle after going in, and if it was not on its way out before the board said so. One
that jumps away from its neighbours, as a bad contact makes it, does not.
All the rest is hidden, neither in nor out: what the chocolate did meanwhile is not known, and
nothing here fills it in.
"""

import bisect
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

from snapcurve.recording.curve import Curve, Event
from snapcurve.recording.parts import Hole

SETTLE_S = 20.0  # after the probe went in; probes trail by 2 to 8 s
LEAVING_S = 12.0  # before the board is sure that it is out
HIDDEN_S = 5.0  # a shorter hole hides nothing that a bowl could do
SMOOTH = 5  # readings in the running median
WILD_C = 2.0  # no bowl moves so far from its neighbours' median; what does is no chocolate


class Hidden(NamedTuple):
    """A stretch from the last reading before it to the first after it.

    ``why``: "out" (of the chocolate), "settling", "restart" of the board, "not recorded" with
    the probe outside, or "no reading".
    """

    start_s: float
    end_s: float
    why: str


@dataclass(frozen=True)
class Known:
    """The settled readings in order, smoothed and as recorded, and the stretches without any.

    ``step_s`` is the time between readings.
    """

    times_s: list[float]
    values_c: list[float]
    recorded_c: list[float]
    hidden: list[Hidden]
    step_s: float
    end_s: float

    def between(self, start_s: float, end_s: float) -> tuple[list[float], list[float]]:
        """Times and values from ``start_s`` to ``end_s``."""
        first = bisect.bisect_left(self.times_s, start_s)
        last = bisect.bisect_right(self.times_s, end_s)
        return self.times_s[first:last], self.values_c[first:last]

    def at(self, at_s: float, near_s: float = 5.0) -> float | None:
        """The reading nearest to ``at_s``, None if there is none within ``near_s``."""
        times, values = self.between(at_s - near_s, at_s + near_s)
        if not times:
            return None
        return min(zip(times, values, strict=True), key=lambda pair: abs(pair[0] - at_s))[1]

    def hidden_s(self, start_s: float, end_s: float) -> float:
        """How much is hidden between ``start_s`` and ``end_s``."""
        return sum(
            max(0.0, min(end, end_s) - max(start, start_s)) for start, end, _ in self.hidden
        )

    def seconds(self, since_s: float, low_c: float, high_c: float) -> float:
        """For how long since ``since_s`` readings lay within ``low_c`` and ``high_c``."""
        first = bisect.bisect_left(self.times_s, since_s)
        return self.step_s * sum(low_c <= value <= high_c for value in self.recorded_c[first:])


def known(curve: Curve, holes: Sequence[Hole] = ()) -> Known:
    """The settled readings of ``curve``; during ``holes`` nothing was recorded."""
    times = curve.times_s
    step_s = median([b - a for a, b in itertools.pairwise(times)]) if times[1:] else 1.0
    end_s = times[-1] + step_s if times else 0.0
    out = out_spans(curve.events, end_s)
    if not any(event.name in ("probe_out", "probe_in") for event in curve.events):
        out = []
    # The way in and the way out belong to neither. A curve begins as the probe warms up.
    blurred = [(start - LEAVING_S, end + SETTLE_S) for start, end in out]
    blurred.append((0.0, SETTLE_S))
    blurred += _after_gaps(curve)
    starts, ends = _united(blurred)
    settled = [
        (at_s, value)
        for at_s, value in zip(times, curve.temperatures_c, strict=True)
        if value is not None and not at_s < ends[bisect.bisect_right(starts, at_s)]
    ]
    at, recorded = [at_s for at_s, _ in settled], [value for _, value in settled]
    values = _smoothed(at, recorded, step_s)
    tame = [abs(value - calm) <= WILD_C for value, calm in zip(recorded, values, strict=True)]
    if not all(tame):
        at, recorded = ([*itertools.compress(its, tame)] for its in (at, recorded))
        values = _smoothed(at, recorded, step_s)
    return Known(at, values, recorded, _hidden(at, step_s, end_s, out, holes), step_s, end_s)


def out_spans(events: list[Event], end_s: float) -> list[tuple[float, float]]:
    """When the probe was out of the chocolate, from the board's own alarms."""
    spans = []
    since_s: float | None = 0.0  # a first "in" tells that it was out before
    seen = False
    for event in events:
        if event.name == "probe_out" and (since_s is None or not seen):
            since_s, seen = event.offset_ms / 1000, True
        elif event.name == "probe_in":
            if since_s is not None:
                spans.append((since_s, event.offset_ms / 1000))
            since_s, seen = None, True
    if seen and since_s is not None:
        spans.append((since_s, end_s))
    return [(start, end) for start, end in spans if end > start]


def _after_gaps(curve: Curve) -> list[tuple[float, float]]:
    """After a fault the probe may have been put down unseen: it settles anew."""
    spans = []
    last_s: float | None = None
    for at_s, value in zip(curve.times_s, curve.temperatures_c, strict=True):
        if value is None:
            continue
        if last_s is not None and at_s - last_s > HIDDEN_S:
            spans.append((last_s, at_s + SETTLE_S))
        last_s = at_s
    return spans


def _united(spans: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """When each of these spans begins, and the latest end of those that begin no later: the first
    of these is that of none."""
    starts, ends = [], [-math.inf]
    for start, end in sorted(spans):
        starts.append(start)
        ends.append(max(ends[-1], end))
    return starts, ends


def _smoothed(times: list[float], values: list[float], step_s: float) -> list[float]:
    """The median of the readings near each."""
    half = SMOOTH // 2
    near_s = (half + 0.5) * step_s

    def middle(index: int) -> float:
        at_s = times[index]
        return median(
            values[other]
            for other in range(max(0, index - half), min(len(values), index + half + 1))
            if abs(times[other] - at_s) <= near_s
        )

    if any(after <= before for before, after in itertools.pairwise(times)):
        return [middle(index) for index in range(len(times))]
    # As nearly everywhere all of them are there: the same, sooner.
    last = len(times) - half
    return [
        sorted(values[index - half : index + half + 1])[half]
        if half <= index < last
        and times[index + half] - times[index] <= near_s >= times[index] - times[index - half]
        else middle(index)
        for index in range(len(times))
    ]


def _hidden(
    times: list[float],
    step_s: float,
    end_s: float,
    out: list[tuple[float, float]],
    holes: Sequence[Hole],
) -> list[Hidden]:
    spans = []
    edges = [0.0, *times, end_s]
    for before, after in itertools.pairwise(edges):
        if after - before <= max(HIDDEN_S, 2.5 * step_s):
            continue
        hole = next(
            (one for one in holes if before <= one.at_s + step_s and one.at_s < after), None
        )
        if hole is not None:
            why = "restart" if hole.restart else "not recorded"
        elif any(start < after and end > before for start, end in out):
            why = "out"
        elif before == 0.0 and after <= SETTLE_S + 2 * step_s:
            why = "settling"
        else:
            why = "no reading"
        spans.append(Hidden(before, after, why))
    return spans
