"""What of a recorded curve is known to be the chocolate's temperature, and what is not.

A reading counts if the probe was in the chocolate by the board's own events, if it had had
time to settle after going in, and if it was not on its way out before the board said so. One
that jumps away from its neighbours, as a bad contact makes it, does not.
All the rest is hidden, neither in nor out: what the chocolate did meanwhile is not known, and
nothing here fills it in.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

import numpy as np

from snapcurve.recording.curve import Curve, Event
from snapcurve.recording.parts import Hole
from snapcurve.recording.series import Array, Series, array_of

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

    times_s: Series
    values_c: Series
    recorded_c: Series
    hidden: list[Hidden]
    step_s: float
    end_s: float

    def within(self, start_s: float, end_s: float) -> slice:
        """The readings from ``start_s`` to ``end_s``."""
        first, last = self.times_s.array.searchsorted(start_s), self.before(end_s, and_at=True)
        return slice(int(first), last)

    def before(self, at_s: float, and_at: bool = False) -> int:
        """How many readings there are before ``at_s``, or up to it."""
        return int(self.times_s.array.searchsorted(at_s, "right" if and_at else "left"))

    def between(self, start_s: float, end_s: float) -> tuple[list[float], list[float]]:
        """Times and values from ``start_s`` to ``end_s``."""
        its = self.within(start_s, end_s)
        return self.times_s.array[its].tolist(), self.values_c.array[its].tolist()

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
        values = self.recorded_c.array[self.before(since_s) :]
        return self.step_s * int(np.count_nonzero((values >= low_c) & (values <= high_c)))


def known(curve: Curve, holes: Sequence[Hole] = ()) -> Known:
    """The settled readings of ``curve``; during ``holes`` nothing was recorded."""
    times, values = array_of(curve.times_s), array_of(curve.temperatures_c)
    step_s = median_of(times[1:] - times[:-1]) if len(times) > 1 else 1.0
    end_s = float(times[-1]) + step_s if len(times) else 0.0
    out = out_spans(curve.events, end_s)
    if not any(event.name in ("probe_out", "probe_in") for event in curve.events):
        out = []
    # Where nothing was read nothing can be known.
    read = ~np.isnan(values)
    times, values = times[read], values[read]
    # The way in and the way out belong to neither. A curve begins as the probe warms up.
    blurred = [(start - LEAVING_S, end + SETTLE_S) for start, end in out]
    blurred.append((0.0, SETTLE_S))
    blurred += _after_gaps(times)
    starts, ends = _united(blurred)
    settled = times >= np.array(ends)[np.searchsorted(starts, times, "right")]
    at, recorded = times[settled], values[settled]
    smoothed = _smoothed(at, recorded, step_s)
    tame = np.abs(recorded - smoothed) <= WILD_C
    if not tame.all():
        at, recorded = at[tame], recorded[tame]
        smoothed = _smoothed(at, recorded, step_s)
    hidden = _hidden(at, step_s, end_s, out, holes)
    return Known(Series(at), Series(smoothed), Series(recorded), hidden, step_s, end_s)


def median_of(numbers: Array) -> float:
    """Their median; there must be one."""
    ordered = np.sort(numbers)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return float(ordered[middle])
    return float((ordered[middle - 1] + ordered[middle]) / 2)


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


def _after_gaps(times: Array) -> list[tuple[float, float]]:
    """After a fault the probe may have been put down unseen: it settles anew."""
    after = np.flatnonzero(times[1:] - times[:-1] > HIDDEN_S) + 1
    return [(float(times[one - 1]), float(times[one]) + SETTLE_S) for one in after]


def _united(spans: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """When each of these spans begins, and the latest end of those that begin no later: the first
    of these is that of none."""
    starts, ends = [], [-math.inf]
    for start, end in sorted(spans):
        starts.append(start)
        ends.append(max(ends[-1], end))
    return starts, ends


def _smoothed(times: Array, values: Array, step_s: float) -> Array:
    """The median of the readings near each."""
    half = SMOOTH // 2
    near_s = (half + 0.5) * step_s
    count = len(times)

    def middle(index: int) -> float:
        near, at_s = slice(max(0, index - half), index + half + 1), float(times[index])
        pairs = zip(times[near].tolist(), values[near].tolist(), strict=True)
        return float(median(value for other_s, value in pairs if abs(other_s - at_s) <= near_s))

    smoothed = np.empty(count)
    if count > 2 * half:
        smoothed[half:-half] = _median_of_five(*(values[at : count - 4 + at] for at in range(5)))
    # As nearly everywhere all of them are there; the others by themselves.
    whole = np.zeros(count, bool)
    if count > 2 * half and not (times[1:] <= times[:-1]).any():
        inner = times[half:-half]
        whole[half:-half] = (times[2 * half :] - inner <= near_s) & (
            inner - times[: -2 * half] <= near_s
        )
    for index in np.flatnonzero(~whole).tolist():
        smoothed[index] = middle(index)
    return smoothed


def _median_of_five(one: Array, two: Array, three: Array, four: Array, five: Array) -> Array:
    """Of every five numbers that stand side by side."""
    low = np.maximum(np.minimum(one, two), np.minimum(three, four))
    high = np.minimum(np.maximum(one, two), np.maximum(three, four))
    # The least and the greatest of the four are gone: of the three that are left the middle one.
    return np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), five))


def _hidden(
    times: Array,
    step_s: float,
    end_s: float,
    out: list[tuple[float, float]],
    holes: Sequence[Hole],
) -> list[Hidden]:
    spans = []
    edges = np.concatenate(([0.0], times, [end_s]))
    long = np.flatnonzero(edges[1:] - edges[:-1] > max(HIDDEN_S, 2.5 * step_s))
    for before, after in zip(edges[long].tolist(), edges[long + 1].tolist(), strict=True):
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
