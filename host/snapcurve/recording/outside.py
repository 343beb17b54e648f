"""Outside the working window: each stay by the board's own rule, and all that was recorded.

Counted are settled readings as recorded, not smoothed, beyond the edge itself. Only what makes a
stay (`Excursion`) has a tolerance: that of wire.window, by which the board sounds too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from snapcurve.recording.curve import Event
from snapcurve.recording.known_spans import Known
from snapcurve.wire.window import (
    BACK_MS,
    CRYSTALS_MELT_K_S,
    OUTSIDE_MS,
    high_limit_c,
    low_limit_c,
)

WARNINGS = {True: ("too_warm", "temper_lost"), False: ("too_cool",)}
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
    found, seconds, k_s, extreme_c, at_s = None, 0.0, 0.0, lasting_c, 0.0
    for time_s, value in zip(*known.between(since_s, known.end_s), strict=True):
        if value <= high_c:
            seconds = k_s = 0.0
            extreme_c = lasting_c
        elif value > lasting_c:
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
    readings: list[tuple[float, float]] = []
    if since_s is not None:
        pairs = zip(known.times_s, known.recorded_c, strict=True)
        readings = [(at_s, value) for at_s, value in pairs if at_s >= since_s]

    def side(above: bool) -> Outside:
        edge_c = window_c[1] if above else window_c[0]
        warned = [event for event in alarms if event.name in WARNINGS[above]]
        counts = {name: sum(one.name == name for one in warned) for name in WARNINGS[above]}
        beyond_s = [
            at_s for at_s, value in readings if (value > edge_c if above else value < edge_c)
        ]
        in_time = sum(
            not any(0 <= at_s - one.offset_ms / 1000 <= HEEDED_S for at_s in beyond_s)
            for one in warned
        )
        extreme_s = extreme_c = None
        if readings:
            end = max if above else min
            extreme_s, extreme_c = end(readings, key=lambda one: one[1])
        seconds = known.step_s * len(beyond_s)
        return Outside(above, edge_c, counts, in_time, seconds, extreme_c, extreme_s)

    return side(True), side(False)


def excursions_of(
    known: Known, window_c: tuple[float, float], since_s: float, uncertainty_c: float | None
) -> list[Excursion]:
    """Every stay outside ``window_c`` from ``since_s`` on, in order.

    What was hidden is neither in nor out: a stay ends with the last reading before it.
    """
    times, values = known.between(since_s, known.end_s)
    first = len(known.times_s) - len(times)
    runs: list[tuple[int, int, str]] = []
    state, begun, candidate = "inside", 0, ("inside", 0)
    for index, (at_s, value) in enumerate(zip(times, values, strict=True)):
        if index and at_s - times[index - 1] > 5 * known.step_s:
            if state != "inside":
                runs.append((begun, index, state))
            state, candidate = "inside", ("inside", index)
        now = "inside"
        if value > high_limit_c(*window_c, state):
            now = "too_warm"
        elif value < low_limit_c(*window_c, state):
            now = "too_cool"
        if now != candidate[0]:
            candidate = (now, index)
        if now == state:
            continue
        wait_ms = BACK_MS if now == "inside" else OUTSIDE_MS
        if (at_s - times[candidate[1]]) * 1000 >= wait_ms:
            if state != "inside":
                runs.append((begun, candidate[1], state))
            state, begun = now, candidate[1]
    if state != "inside":
        runs.append((begun, len(times), state))
    recorded = known.recorded_c[first:]
    found = (
        _excursion(times, recorded, run, window_c, known.step_s, uncertainty_c) for run in runs
    )
    return [one for one in found if one is not None]


def _excursion(
    times: list[float],
    recorded: list[float],
    run: tuple[int, int, str],
    window_c: tuple[float, float],
    step_s: float,
    uncertainty_c: float | None,
) -> Excursion | None:
    """From the first to the last reading beyond the edge; the rule asks for a little more."""
    start, end, state = run
    above = state == "too_warm"

    def beyond_c(index: int) -> float:
        return recorded[index] - window_c[1] if above else window_c[0] - recorded[index]

    while start and beyond_c(start - 1) > 0 and times[start] - times[start - 1] <= 5 * step_s:
        start -= 1
    outside = [index for index in range(start, end) if beyond_c(index) > 0]
    if not outside:
        return None
    farthest = max(outside, key=beyond_c)
    return Excursion(
        times[outside[0]],
        times[outside[-1]],
        recorded[farthest],
        above,
        step_s * len(outside),
        None if uncertainty_c is None else beyond_c(farthest) > uncertainty_c,
    )
