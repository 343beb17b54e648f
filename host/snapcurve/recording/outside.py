"""Outside the working window: each stay by the board's own rule, and all that was recorded.

Counted are settled readings as recorded, not smoothed, beyond the edge itself. Only what makes a
stay (`Excursion`) has a tolerance: that of wire.window, by which the board sounds too.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from snapcurve.recording.curve import Event
from snapcurve.recording.known_spans import Known
from snapcurve.recording.series import Array
from snapcurve.wire.window import (
    BACK_MS,
    CRYSTALS_MELT_K_S,
    OUTSIDE_MS,
    high_limit_c,
    low_limit_c,
)

WARNINGS = {True: ("too_warm", "temper_lost"), False: ("too_cool",)}
STATES = ("inside", "too_warm", "too_cool")
HEEDED_S = 180.0  # a warning not followed by a reading outside for so long was in time


@dataclass(frozen=True)
class Excursion:
    """A stay ``above`` or below the window, from the first reading beyond the edge to the last.

    ``seconds`` of it were recorded beyond the edge; ``sure`` whether its extreme lies farther
    out than the readings may be off, None if that is not known.
    """

    start_s: float
    end_s: float
    extreme_c: float
    above: bool
    seconds: float
    sure: bool | None


@dataclass(frozen=True)
class Outside:
    """One side of the window, ``above`` or below it, whose edge is ``edge_c``.

    ``warnings`` says how often each alarm of WARNINGS sounded in the whole record, ``in_time``
    how many of them no reading beyond the edge followed. ``seconds`` of settled readings lie
    beyond the edge, however little, from the first one in the window on; ``extreme_c`` is the
    reading farthest to this side since then, beyond the edge or not, and ``extreme_s`` its time.
    None: the chocolate was not seen in the window.
    """

    above: bool
    edge_c: float
    warnings: dict[str, int] = field(default_factory=dict)
    in_time: int = 0
    seconds: float = 0.0
    extreme_c: float | None = None
    extreme_s: float | None = None

    @property
    def warned(self) -> int:
        """All warnings together."""
        return sum(self.warnings.values())

    @property
    def silent(self) -> bool:
        """Whether nothing sounded and nothing was recorded beyond the edge."""
        return not self.warned and not self.seconds

    @property
    def beyond_c(self) -> float:
        """How far the farthest reading lies beyond the edge; 0 or less: it does not."""
        if self.extreme_c is None:
            return 0.0
        return self.extreme_c - self.edge_c if self.above else self.edge_c - self.extreme_c

    @property
    def farthest_c(self) -> float | None:
        """The farthest reading beyond the edge; None: no reading is."""
        return self.extreme_c if self.seconds else None


@dataclass(frozen=True)
class CrystalsGone:
    """A stay so long and so far above where crystals last that they are taken for melted.

    ``at_s``: when that was; ``seconds`` of the stay lie above, ``extreme_c`` is its warmest.
    """

    at_s: float
    seconds: float
    extreme_c: float


def crystals_gone_of(
    known: Known, lasting_c: float, high_c: float, since_s: float
) -> CrystalsGone | None:
    """The last stay above ``lasting_c`` that took the temper, by CRYSTALS_MELT_K_S; what is back
    at the window's ``high_c`` or below begins anew."""
    its = known.within(since_s, known.end_s)
    values = known.values_c.array[its]
    above = np.flatnonzero(values > lasting_c)
    # How often it was back before each of them.
    back = np.cumsum(values <= high_c)[above].tolist()
    times = known.times_s.array[its][above].tolist()
    found, seconds, k_s, extreme_c, at_s, times_back = None, 0.0, 0.0, lasting_c, 0.0, 0
    for time_s, value, so_often in zip(times, values[above].tolist(), back, strict=True):
        if so_often != times_back:
            seconds = k_s = 0.0
            extreme_c, times_back = lasting_c, so_often
        melting = k_s < CRYSTALS_MELT_K_S
        seconds += known.step_s
        k_s += (value - lasting_c) * known.step_s
        extreme_c = max(extreme_c, value)
        if k_s >= CRYSTALS_MELT_K_S:
            at_s = time_s if melting else at_s
            found = CrystalsGone(at_s, seconds, extreme_c)
    return found


def outside_of(
    known: Known, alarms: Sequence[Event], window_c: tuple[float, float], since_s: float | None
) -> tuple[Outside, Outside]:
    """Above and below ``window_c`` since the first reading in it at ``since_s`` (None: it was
    not seen there)."""
    first = len(known.times_s) if since_s is None else known.before(since_s)
    times, values = known.times_s.array[first:], known.recorded_c.array[first:]

    def side(above: bool) -> Outside:
        edge_c = window_c[1] if above else window_c[0]
        warned = [event for event in alarms if event.name in WARNINGS[above]]
        counts = {name: sum(one.name == name for one in warned) for name in WARNINGS[above]}
        beyond_s = times[values > edge_c if above else values < edge_c]
        in_time = 0
        for one in warned:
            later_s = beyond_s - one.offset_ms / 1000
            in_time += not ((later_s >= 0) & (later_s <= HEEDED_S)).any()
        extreme_s = extreme_c = None
        if len(values):
            farthest = values.argmax() if above else values.argmin()
            extreme_s, extreme_c = float(times[farthest]), float(values[farthest])
        seconds = known.step_s * len(beyond_s)
        return Outside(above, edge_c, counts, in_time, seconds, extreme_c, extreme_s)

    return side(True), side(False)


def excursions_of(
    known: Known, window_c: tuple[float, float], since_s: float, uncertainty_c: float | None
) -> list[Excursion]:
    """Every stay outside ``window_c`` from ``since_s`` on, in order.

    What was hidden is neither in nor out: a stay ends with the last reading before it.
    """
    its = known.within(since_s, known.end_s)
    times, values = known.times_s.array[its], known.values_c.array[its]
    runs = _runs(times, values, window_c, 5 * known.step_s)
    recorded = known.recorded_c.array[its]
    found = (
        _excursion(times, recorded, run, window_c, known.step_s, uncertainty_c) for run in runs
    )
    return [one for one in found if one is not None]


def _runs(
    times: Array, values: Array, window_c: tuple[float, float], gap_s: float
) -> list[tuple[int, int, str]]:
    """Which readings, from and up to, were in a state other than "inside"."""
    if not len(values):
        return []
    # What each reading is taken for depends on the state; it is the same all along a stretch.
    taken = {state: _taken_for(values, window_c, state) for state in STATES}
    new = np.zeros(len(values), bool)
    for one in taken.values():
        new[1:] |= one[1:] != one[:-1]
    gaps = np.zeros(len(values), bool)
    gaps[1:] = times[1:] - times[:-1] > gap_s
    starts = np.flatnonzero(new | gaps).tolist()
    runs: list[tuple[int, int, str]] = []
    state, begun, candidate = "inside", 0, ("inside", 0)
    for start, end in itertools.pairwise([0, *starts, len(values)]):
        if gaps[start]:
            if state != "inside":
                runs.append((begun, start, state))
            state, candidate = "inside", ("inside", start)
        index = start
        while index < end:
            now = STATES[taken[state][index]]
            if now != candidate[0]:
                candidate = (now, index)
            if now == state:
                break
            wait_ms = BACK_MS if now == "inside" else OUTSIDE_MS
            long_enough = (times[index:end] - times[candidate[1]]) * 1000 >= wait_ms
            if not long_enough.any():
                break
            index += int(long_enough.argmax())
            if state != "inside":
                runs.append((begun, candidate[1], state))
            state, begun = now, candidate[1]
            index += 1
    if state != "inside":
        runs.append((begun, len(values), state))
    return runs


def _taken_for(values: Array, window_c: tuple[float, float], state: str) -> NDArray[np.int64]:
    """For which of STATES each reading is taken while it is ``state``."""
    warm, cool = values > high_limit_c(*window_c, state), values < low_limit_c(*window_c, state)
    return np.where(warm, STATES.index("too_warm"), np.where(cool, STATES.index("too_cool"), 0))


def _excursion(
    times: Array,
    recorded: Array,
    run: tuple[int, int, str],
    window_c: tuple[float, float],
    step_s: float,
    uncertainty_c: float | None,
) -> Excursion | None:
    """From the first to the last reading beyond the edge; the rule asks for a little more."""
    start, end, state = run
    above = state == "too_warm"
    beyond_c = recorded[:end] - window_c[1] if above else window_c[0] - recorded[:end]
    while start and beyond_c[start - 1] > 0 and times[start] - times[start - 1] <= 5 * step_s:
        start -= 1
    outside = start + np.flatnonzero(beyond_c[start:] > 0)
    if not len(outside):
        return None
    farthest = outside[beyond_c[outside].argmax()]
    return Excursion(
        float(times[outside[0]]),
        float(times[outside[-1]]),
        float(recorded[farthest]),
        above,
        step_s * len(outside),
        None if uncertainty_c is None else bool(beyond_c[farthest] > uncertainty_c),
    )
