"""One timeline of a batch, made once from its curve, events and profile: numbers, no words.

Verdict, chart, sheet, list, comparison, learning and export read it and measure nothing
themselves. All times are seconds from the start of the (first) recording; ``clock`` says what
time of day that was. `outside` finds what lay outside the window, `known_spans` what is known of
the chocolate at all.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypedDict

import numpy as np

from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.recording.dip_tests import BladeResult, DipTest, dip_tests
from snapcurve.recording.known_spans import Hidden, Known, known
from snapcurve.recording.line import Line, Target, line_of, profile_of, target_of
from snapcurve.recording.mistakes import started_by_mistake
from snapcurve.recording.outside import (
    CrystalsGone,
    Excursion,
    Outside,
    crystals_gone_of,
    excursions_of,
    outside_of,
)
from snapcurve.recording.parts import Joined, Part, join
from snapcurve.recording.phases import PhaseSpan, phase_spans, with_way_in
from snapcurve.recording.series import Array
from snapcurve.wire.window import OUTSIDE_C

NEAR_TARGET_C = 0.3  # so close below a target counts as there: probe and bowl are no better
MELTED_S = 15.0  # so long there, for the readings alone to say that it was melted through
ENTERED_S = 30.0  # so long in the window, for the readings alone to say that it came in
HOT_S = 3.0
RATE_OVER_S = 60.0

_Told = list[tuple[float, float]]  # when, and what the board took the chocolate for


@dataclass(frozen=True)
class Phase:
    """A phase that ran; lowest, highest and last are of settled readings and of what the board
    took it for when it got there; None without any.

    ``kind`` is one of catalogue.PHASE_KINDS. By seeding the board works from "melted through" on;
    here the way down into the window is a phase "cool", whose target is the window.
    """

    kind: str
    start_s: float
    end_s: float
    target: Target | None
    lowest_c: float | None = None
    highest_c: float | None = None
    last_c: float | None = None


class Numbers(TypedDict):
    """What commands give to scripts, rounded to hundredths; None: not known."""

    peak_c: float | None
    melted_s: float | None
    above_melt_s: float
    melt_hidden_s: float
    too_hot_s: float | None
    hottest_c: float | None
    descent_rate_c_per_min: float | None
    steepest_c_per_min: float | None
    lowest_before_c: float | None
    entered_s: float | None
    in_window_s: float
    above_window_s: float
    below_window_s: float
    highest_outside_c: float | None
    lowest_outside_c: float | None
    warned_above: int
    warned_below: int
    work_hidden_s: float


@dataclass
class Timeline:
    """All temperatures in °C, times in s from the start; None: not known or not asked.

    ``melt_c``, ``window_c``, ``cool_c``, ``never_above_c`` are the profile's. ``entered_s``
    is when the chocolate first stood in the window; ``descent_*`` go from the last time at
    the melting temperature to there. ``above`` and ``below`` say what was recorded and what
    sounded on either side of the window; ``uncertainty_c`` how far readings may be off (k = 2).
    ``mistake``: the record is no batch's. ``starts_before``: its batch began in an earlier
    record, which is not in it; ``breaks_off``: the record has no end. ``joined`` says what it was
    put together from.
    """

    curve: Curve
    joined: Joined
    clock: Clock
    method: str
    couverture: str
    known: Known
    phases: list[Phase]
    melt_c: float | None
    window_c: tuple[float, float] | None
    cool_c: float | None
    never_above_c: float | None
    crystals_last_to_c: float | None
    uncertainty_c: float | None
    mistake: bool
    starts_before: bool
    breaks_off: bool
    peak_c: float | None = None
    peak_s: float | None = None
    melted_s: float | None = None
    above_melt_s: float = 0.0
    melt_hidden_s: float = 0.0
    too_hot_s: float | None = None
    hottest_c: float | None = None
    descent_start_s: float | None = None
    descent_rate_c_per_min: float | None = None
    steepest_c_per_min: float | None = None
    lowest_before_c: float | None = None
    lowest_before_s: float | None = None
    entered_s: float | None = None
    entered_c: float | None = None
    left_s: float | None = None
    in_window_s: float = 0.0
    above: Outside | None = None
    below: Outside | None = None
    work_hidden_s: float = 0.0
    excursions: list[Excursion] = field(default_factory=list)
    crystals_gone: CrystalsGone | None = None
    dip_tests: list[DipTest] = field(default_factory=list)

    @property
    def end_s(self) -> float:
        """When the recording ended."""
        return self.known.end_s

    @property
    def unknown(self) -> list[Hidden]:
        """Every stretch in which nothing is known of the chocolate, and why."""
        return self.known.hidden

    @property
    def above_window_s(self) -> float:
        """Seconds that were recorded above the window once it had come in."""
        return 0.0 if self.above is None else self.above.seconds

    @property
    def below_window_s(self) -> float:
        """Seconds that were recorded below the window once it had come in."""
        return 0.0 if self.below is None else self.below.seconds

    @property
    def highest_outside_c(self) -> float | None:
        """The highest reading above the window once it had come in; None: there is none."""
        return None if self.above is None else self.above.farthest_c

    @property
    def lowest_outside_c(self) -> float | None:
        """The lowest reading below the window once it had come in; None: there is none."""
        return None if self.below is None else self.below.farthest_c

    @property
    def warned_above(self) -> int:
        """How often the board warned that it was, or would be, above the window."""
        return 0 if self.above is None else self.above.warned

    @property
    def warned_below(self) -> int:
        """How often the board warned that it was, or would be, below the window."""
        return 0 if self.below is None else self.below.warned

    @cached_property
    def line(self) -> Line | None:
        """The record as it is drawn; None without a sample."""
        return line_of(self.curve) if self.curve.times_s else None

    def numbers(self) -> Numbers:
        """It for a script."""
        return {
            "peak_c": rounded(self.peak_c),
            "melted_s": rounded(self.melted_s),
            "above_melt_s": round(self.above_melt_s, 2),
            "melt_hidden_s": round(self.melt_hidden_s, 2),
            "too_hot_s": rounded(self.too_hot_s),
            "hottest_c": rounded(self.hottest_c),
            "descent_rate_c_per_min": rounded(self.descent_rate_c_per_min),
            "steepest_c_per_min": rounded(self.steepest_c_per_min),
            "lowest_before_c": rounded(self.lowest_before_c),
            "entered_s": rounded(self.entered_s),
            "in_window_s": round(self.in_window_s, 2),
            "above_window_s": round(self.above_window_s, 2),
            "below_window_s": round(self.below_window_s, 2),
            "highest_outside_c": rounded(self.highest_outside_c),
            "lowest_outside_c": rounded(self.lowest_outside_c),
            "warned_above": self.warned_above,
            "warned_below": self.warned_below,
            "work_hidden_s": round(self.work_hidden_s, 2),
        }


def rounded(value: float | None) -> float | None:
    """To hundredths; None stays."""
    return None if value is None else round(value, 2)


def timeline_of(
    curve: Curve | Joined,
    filed: Sequence[BladeResult] = (),
    uncertainty_c: float | None = None,
    clock: Clock | None = None,
) -> Timeline:
    """The timeline of a decoded curve, or of one that was put together from several.

    Results of blades in ``filed`` count before those on the board; ``uncertainty_c`` is the
    expanded uncertainty (k = 2) of the temperatures, None if it is not known. A profile that
    cannot be read counts as none.
    """
    joined = join([Part(curve, "", curve.started_unix_ms)]) if isinstance(curve, Curve) else curve
    curve = joined.curve
    profile = profile_of(curve.profile)
    if profile.method == "cup":  # a sample in a cup is no bowl: the board's "out" means nothing
        ways = ("probe_out", "probe_in")
        curve = replace(curve, events=[one for one in curve.events if one.name not in ways])
    seen = known(curve, joined.holes)
    melt, cool, work = (profile.target(kind) for kind in ("melt", "cool", "work"))
    window = None if work is None or work.low_c is None else (work.low_c, work.high_c)
    spans = phase_spans(curve.events, profile.phases, seen.end_s)
    timeline = Timeline(
        curve=curve,
        joined=joined,
        clock=clock or Clock(curve.started_unix_ms),
        method=profile.method,
        couverture=profile.couverture,
        known=seen,
        phases=[],
        melt_c=None if melt is None else melt.high_c,
        window_c=window,
        cool_c=_low_point_c(cool, window),
        never_above_c=profile.never_above_c,
        crystals_last_to_c=None if window is None else profile.crystals_last_to_c,
        uncertainty_c=uncertainty_c,
        mistake=started_by_mistake(curve, seen),
        starts_before=joined.continues is not None,
        breaks_off=curve.end_reason is None or curve.turned_out_new,
    )
    told = _estimates(curve)
    _add_melting(timeline, curve, spans, told)
    _add_heat(timeline, curve)
    if window is not None:
        _add_work(timeline, curve, spans, window, told)
        _add_descent(timeline, window[1])
    if _rate_is_unknown(timeline):
        timeline.descent_rate_c_per_min = None
    ran = with_way_in(spans, curve.events, profile.phases, timeline.entered_s)
    timeline.phases = [_phase(span, told, seen) for span in ran]
    for test in dip_tests(curve, profile.test_due_s, seen.end_s, filed):
        chocolate_c = seen.at(test.at_s) if test.chocolate_c is None else test.chocolate_c
        inside = None
        if chocolate_c is not None and window is not None:
            inside = window[0] - OUTSIDE_C <= chocolate_c <= window[1] + OUTSIDE_C
        timeline.dip_tests.append(replace(test, chocolate_c=chocolate_c, in_window=inside))
    return timeline


def _low_point_c(cool: Target | None, window_c: tuple[float, float] | None) -> float | None:
    """Where it is cooled to below its window; what is cooled to in a cup, or for crystal seed to
    go in, is no low point."""
    if cool is None or window_c is None or cool.high_c > window_c[0]:
        return None
    return cool.high_c


def _estimates(curve: Curve) -> _Told:
    """When and for what the board took the chocolate as it got near, there, or too hot: it looks
    through the probe's lag, so it may know of more than the settled readings show."""
    return [
        (event.offset_ms / 1000, event.estimate_c)
        for event in curve.alarms
        if event.estimate_c is not None and event.name in ("reached", "too_hot", "near")
    ]


def _phase(span: PhaseSpan, estimates: _Told, seen: Known) -> Phase:
    first, last = seen.before(span.start_s), seen.before(span.end_s)
    times, values = seen.times_s.array[first:last], seen.recorded_c.array[first:last]
    told = [one for one in estimates if span.start_s < one[0] <= span.end_s]
    both_c = [value for _, value in told]
    if last > first:
        both_c += [float(values.min()), float(values.max())]
        # Of pieces that were put together two may have been read at once.
        newest = seen.before(float(times[-1])) - first
        told += zip(times[newest:].tolist(), values[newest:].tolist(), strict=True)
    return Phase(
        span.kind,
        span.start_s,
        span.end_s,
        None if span.phase is None else target_of(span.phase),
        min(both_c, default=None),
        max(both_c, default=None),
        max(told)[1] if told else None,
    )


def _first(curve: Curve, alarm: str, phase: str) -> float | None:
    for event in curve.alarms:
        if event.name == alarm and event.phase == phase:
            return event.offset_ms / 1000
    return None


def _add_melting(timeline: Timeline, curve: Curve, spans: list[PhaseSpan], told: _Told) -> None:
    seen, melt_c = timeline.known, timeline.melt_c
    if not seen.values_c:
        return
    times, values = seen.times_s.array, seen.values_c.array
    highest = values.argmax()
    peak = (float(values[highest]), float(times[highest]))
    estimates = [(value, at_s) for at_s, value in told]
    timeline.peak_c, timeline.peak_s = max([peak, *estimates], key=lambda one: one[0])
    if melt_c is None:
        return
    there = np.flatnonzero(values >= melt_c - NEAR_TARGET_C)
    timeline.melted_s = _first(curve, "reached", "melt")
    if timeline.melted_s is None and len(there) * seen.step_s >= MELTED_S:
        timeline.melted_s = float(times[there[0]])
    timeline.above_melt_s = len(there) * seen.step_s
    melting = [span for span in spans if span.kind == "melt"]
    timeline.melt_hidden_s = seen.hidden_s(0.0, melting[-1].end_s if melting else seen.end_s)


def _add_heat(timeline: Timeline, curve: Curve) -> None:
    seen, limit_c = timeline.known, timeline.never_above_c
    if limit_c is None:
        return
    hot = np.flatnonzero(seen.values_c.array >= limit_c)
    alarms = [event for event in curve.alarms if event.name == "too_hot"]
    if not alarms and len(hot) * seen.step_s < HOT_S:
        return
    told_s = [event.offset_ms / 1000 for event in alarms]
    timeline.too_hot_s = min([*seen.times_s.array[hot].tolist(), *told_s])
    tops = seen.values_c.array[hot].tolist()
    tops += [event.estimate_c for event in alarms if event.estimate_c is not None]
    timeline.hottest_c = max(tops, default=None)


def _add_work(
    timeline: Timeline,
    curve: Curve,
    spans: list[PhaseSpan],
    window_c: tuple[float, float],
    told: _Told,
) -> None:
    seen, (low_c, high_c) = timeline.known, window_c
    timeline.entered_s = _entered_s(timeline, curve, spans, window_c)
    told_c = [value for at_s, value in told if at_s == timeline.entered_s]
    if timeline.entered_s is not None:
        timeline.entered_c = told_c[0] if told_c else seen.at(timeline.entered_s)
    since_s = None
    if timeline.entered_s is not None:
        its = seen.within(timeline.entered_s, seen.end_s)
        times, recorded = seen.times_s.array[its], seen.recorded_c.array[its]
        since_s = timeline.entered_s
        if len(times):
            timeline.left_s = float(times[-1])
            timeline.work_hidden_s = seen.hidden_s(timeline.entered_s, timeline.left_s)
            # The board sees through the probe's lag: the reading itself comes in a little later.
            inside = (recorded >= low_c) & (recorded <= high_c)
            if inside.any():
                since_s = float(times[inside.argmax()])
        timeline.in_window_s = seen.seconds(since_s, low_c, high_c)
        if timeline.crystals_last_to_c is not None:
            timeline.crystals_gone = crystals_gone_of(
                seen, timeline.crystals_last_to_c, high_c, since_s
            )
        timeline.excursions = excursions_of(seen, window_c, since_s, timeline.uncertainty_c)
    timeline.above, timeline.below = outside_of(seen, curve.alarms, window_c, since_s)


def _entered_s(
    timeline: Timeline, curve: Curve, spans: list[PhaseSpan], window_c: tuple[float, float]
) -> float | None:
    """When it came into the window first, None if it was not seen there."""
    seen, (low_c, high_c) = timeline.known, window_c
    entered_s = _first(curve, "reached", "work")
    if entered_s is not None:
        return entered_s
    # The board may have been silent for another reason: the readings decide.
    began_s = next((span.start_s for span in spans if span.kind == "work"), seen.end_s)
    its = seen.within(began_s, seen.end_s)
    times, values = seen.times_s.array[its], seen.values_c.array[its]
    inside = times[(values >= low_c) & (values <= high_c)].tolist()
    # What falls through it in some seconds has not come into it.
    enough = max(1, round(ENTERED_S / seen.step_s))
    stays = zip(inside, inside[enough - 1 :], strict=False)
    return next((at_s for at_s, later_s in stays if later_s - at_s <= 2 * ENTERED_S), None)


def _add_descent(timeline: Timeline, high_c: float) -> None:
    """From the last time at the melting temperature (or the peak) into the window."""
    seen, melt_c, melted_s = timeline.known, timeline.melt_c, timeline.melted_s
    end_s = seen.end_s if timeline.entered_s is None else timeline.entered_s
    its = seen.within(0.0, end_s)
    times, values = seen.times_s.array[its], seen.values_c.array[its]
    if melt_c is None or melted_s is None or not len(values):
        return
    high = np.flatnonzero(values >= melt_c - NEAR_TARGET_C)
    start_s, start_c = melted_s, melt_c
    if len(high):
        start_s, start_c = float(times[high[-1]]), float(values[high[-1]])
    timeline.descent_start_s = start_s
    its = seen.within(start_s, end_s)
    times, values = seen.times_s.array[its], seen.values_c.array[its]
    if len(times) < 3:
        return
    lowest = values.argmin()
    timeline.lowest_before_c, timeline.lowest_before_s = (
        float(values[lowest]),
        float(times[lowest]),
    )
    timeline.steepest_c_per_min = _steepest(times, values)
    # Down to the window's upper edge; the board may have known a little before the probe.
    its = seen.within(start_s, end_s + RATE_OVER_S)
    times, values = seen.times_s.array[its], seen.values_c.array[its]
    below = values <= high_c
    if below.any() and (below_s := float(times[below.argmax()])) > start_s:
        timeline.descent_rate_c_per_min = (start_c - high_c) / (below_s - start_s) * 60


def _rate_is_unknown(timeline: Timeline) -> bool:
    """Whether a hole of unknown length lies on the way down."""
    start_s, end_s = timeline.descent_start_s, timeline.entered_s
    if start_s is None or end_s is None:
        return False
    holes = timeline.joined.holes
    return any(not hole.known and start_s <= hole.at_s <= end_s for hole in holes)


def _steepest(times: Array, values: Array) -> float | None:
    """Fastest fall over RATE_OVER_S of unbroken readings, °C/min, positive."""
    # For each reading the first one within RATE_OVER_S before it; rounding may miss it by one.
    first = np.searchsorted(times, times - RATE_OVER_S)
    first += times - times[first] > RATE_OVER_S
    before = np.maximum(first - 1, 0)
    first = np.where(times - times[before] <= RATE_OVER_S, before, first)
    index = np.arange(len(times))
    breaks = np.where(np.append(False, times[1:] - times[:-1] > 5), index, 0)
    first = np.maximum(first, np.maximum.accumulate(breaks))
    spans_s = times - times[first]
    enough = spans_s >= 0.9 * RATE_OVER_S
    if not enough.any():
        return None
    return float(((values[first] - values)[enough] / spans_s[enough] * 60).max())
