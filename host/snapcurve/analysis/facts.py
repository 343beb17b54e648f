"""What a batch's record shows, as numbers: no words, no judgement.

What lies outside the window is measured here and nowhere else: settled readings as recorded, not
smoothed, beyond the edge itself, and the alarms that sounded. Only what counts as worked too warm
or too cool (`Excursion`) has a tolerance, and the sentence that uses it says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypedDict

from snapcurve.analysis.dip_tests import BladeResult, DipTest, dip_tests
from snapcurve.analysis.record_line import profile_of
from snapcurve.recording.curve import Curve
from snapcurve.recording.known_spans import Known, known
from snapcurve.recording.mistakes import started_by_mistake
from snapcurve.recording.phases import PhaseSpan, phase_spans

NEAR_TARGET_C = 0.3  # so close below a target counts as there: probe and bowl are no better
# What counts as a state of the bowl: a reading so far beyond the window's edge, for so long.
EDGE_C = 0.1
WORD_S = 15.0
RATE_OVER_S = 60.0
# Crystals of form V melt at about 33.8 °C (Wille and Lutton, JAOCS 43 (1966) 491, as commonly
# quoted); milk fat lowers that by a degree or two.
FORM_V_C = 33.8
WARNINGS = {True: ("too_warm", "temper_lost"), False: ("too_cool",)}


@dataclass(frozen=True)
class Outside:
    """One side of the window, ``above`` or below it, whose edge is ``edge_c``.

    ``warnings`` says how often each alarm of WARNINGS sounded in the whole record. ``seconds``
    of settled readings lie beyond the edge, however little, from the first one in the window on;
    ``extreme_c`` is the reading farthest to this side since then, beyond the edge or not, and
    ``extreme_s`` its time. None: the chocolate was not seen in the window.
    """

    above: bool
    edge_c: float
    warnings: dict[str, int] = field(default_factory=dict)
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
class Excursion:
    """Outside the window from ``start_s`` to ``end_s``, as far as it is known: by more than
    EDGE_C, for at least WORD_S."""

    start_s: float
    end_s: float
    extreme_c: float
    above: bool


class FactNumbers(TypedDict):
    """The facts that commands give to scripts, rounded to hundredths; None: not known."""

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
class Facts:
    """All temperatures in °C, times in s from the start; None: not known or not asked.

    ``melt_c``, ``window_c``, ``cool_c``, ``never_above_c`` are the profile's. ``entered_s``
    is when the chocolate first stood in the window; ``descent_*`` go from the last time at
    the melting temperature to there. ``above`` and ``below`` say what was recorded and what
    sounded on either side of the window; ``uncertainty_c`` how far readings may be off (k = 2).
    ``mistake``: the record is no batch's. ``starts_before``: its batch began in an earlier
    record, which is not in it; ``breaks_off``: the record has no end.
    """

    method: str
    couverture: str
    known: Known
    melt_c: float | None
    window_c: tuple[float, float] | None
    cool_c: float | None
    never_above_c: float | None
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
    left_s: float | None = None
    in_window_s: float = 0.0
    above: Outside | None = None
    below: Outside | None = None
    work_hidden_s: float = 0.0
    excursions: list[Excursion] = field(default_factory=list)
    dip_tests: list[DipTest] = field(default_factory=list)

    @property
    def above_window_s(self) -> float:
        """Seconds that were recorded above the window once it had come in."""
        return 0.0 if self.above is None else self.above.seconds

    @property
    def below_window_s(self) -> float:
        """Seconds that were recorded below the window once it had come in."""
        return 0.0 if self.below is None else self.below.seconds

    @property
    def warned_above(self) -> int:
        """How often the board warned that it was, or would be, above the window."""
        return 0 if self.above is None else self.above.warned

    @property
    def warned_below(self) -> int:
        """How often the board warned that it was, or would be, below the window."""
        return 0 if self.below is None else self.below.warned

    def numbers(self) -> FactNumbers:
        """The facts for a script."""
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
            "highest_outside_c": None if self.above is None else rounded(self.above.farthest_c),
            "lowest_outside_c": None if self.below is None else rounded(self.below.farthest_c),
            "warned_above": self.warned_above,
            "warned_below": self.warned_below,
            "work_hidden_s": round(self.work_hidden_s, 2),
        }


def rounded(value: float | None) -> float | None:
    """To hundredths; None stays."""
    return None if value is None else round(value, 2)


def facts_of(
    curve: Curve,
    filed: Sequence[BladeResult] = (),
    uncertainty_c: float | None = None,
    starts_before: bool | None = None,
) -> Facts:
    """The facts of a decoded curve; results of blades in ``filed`` count before those on the
    board. ``uncertainty_c`` is the expanded uncertainty (k = 2) of its temperatures, None if it
    is not known. ``starts_before``: see Facts; None: as the curve itself says.

    A profile that cannot be read counts as none.
    """
    profile, seen = profile_of(curve.profile), known(curve)
    melt, cool, work = (profile.target(kind) for kind in ("melt", "cool", "work"))
    window = None if work is None or work.low_c is None else (work.low_c, work.high_c)
    spans = phase_spans(curve.events, profile.phases, seen.end_s)
    facts = Facts(
        method=profile.method,
        couverture=profile.couverture,
        known=seen,
        melt_c=None if melt is None else melt.high_c,
        window_c=window,
        cool_c=None if cool is None or profile.method == "cup" else cool.high_c,
        never_above_c=profile.never_above_c,
        uncertainty_c=uncertainty_c,
        mistake=started_by_mistake(curve, seen),
        starts_before=curve.continues is not None if starts_before is None else starts_before,
        breaks_off=curve.end_reason is None or curve.turned_out_new,
    )
    _add_melting(facts, curve, spans)
    _add_heat(facts, curve)
    if window is not None:
        _add_work(facts, curve, spans, *window)
        _add_outside(facts, curve, *window)
        _add_descent(facts, window[1])
    for test in dip_tests(curve, profile.test_due_s, seen.end_s, filed):
        chocolate_c = seen.at(test.at_s) if test.chocolate_c is None else test.chocolate_c
        inside = None
        if chocolate_c is not None and window is not None:
            inside = window[0] - EDGE_C <= chocolate_c <= window[1] + EDGE_C
        facts.dip_tests.append(replace(test, chocolate_c=chocolate_c, in_window=inside))
    return facts


def _first(curve: Curve, alarm: str, phase: str) -> float | None:
    for event in curve.alarms:
        if event.name == alarm and event.phase == phase:
            return event.offset_ms / 1000
    return None


def _add_melting(facts: Facts, curve: Curve, spans: list[PhaseSpan]) -> None:
    seen, melt_c = facts.known, facts.melt_c
    if not seen.values_c:
        return
    readings = list(zip(seen.values_c, seen.times_s, strict=True))
    # The board looks through the probe's lag, so it may know of more than the readings show.
    estimates = [
        (event.estimate_c, event.offset_ms / 1000)
        for event in curve.alarms
        if event.estimate_c is not None and event.name in ("reached", "too_hot", "near")
    ]
    facts.peak_c, facts.peak_s = max(readings + estimates, key=lambda one: one[0])
    if melt_c is None:
        return
    there = [at_s for value, at_s in readings if value >= melt_c - NEAR_TARGET_C]
    facts.melted_s = _first(curve, "reached", "melt")
    if facts.melted_s is None and len(there) * seen.step_s >= WORD_S:
        facts.melted_s = there[0]
    facts.above_melt_s = len(there) * seen.step_s
    melting = [span for span in spans if span.kind == "melt"]
    facts.melt_hidden_s = seen.hidden_s(0.0, melting[-1].end_s if melting else seen.end_s)


def _add_heat(facts: Facts, curve: Curve) -> None:
    seen, limit_c = facts.known, facts.never_above_c
    if limit_c is None:
        return
    readings = zip(seen.times_s, seen.values_c, strict=True)
    hot = [(at_s, value) for at_s, value in readings if value >= limit_c]
    alarms = [event for event in curve.alarms if event.name == "too_hot"]
    if not alarms and len(hot) * seen.step_s < 3:
        return
    facts.too_hot_s = min([at_s for at_s, _ in hot] + [one.offset_ms / 1000 for one in alarms])
    tops = [value for _, value in hot]
    tops += [event.estimate_c for event in alarms if event.estimate_c is not None]
    facts.hottest_c = max(tops, default=None)


def _add_work(
    facts: Facts, curve: Curve, spans: list[PhaseSpan], low_c: float, high_c: float
) -> None:
    seen = facts.known
    entered_s = _first(curve, "reached", "work")
    if entered_s is None:
        # The board may have been silent for another reason: the readings decide.
        began_s = next((span.start_s for span in spans if span.kind == "work"), seen.end_s)
        times, values = seen.between(began_s, seen.end_s)
        inside = [at_s for at_s, v in zip(times, values, strict=True) if low_c <= v <= high_c]
        if len(inside) * seen.step_s < WORD_S * 2:
            return
        entered_s = inside[0]
    facts.entered_s = entered_s
    times, values = seen.between(entered_s, seen.end_s)
    if times:
        facts.left_s = times[-1]
        facts.work_hidden_s = seen.hidden_s(entered_s, times[-1])
        facts.excursions = _excursions(times, values, low_c, high_c, seen.step_s)


def _add_outside(facts: Facts, curve: Curve, low_c: float, high_c: float) -> None:
    names = [event.name for event in curve.alarms]
    counts = {above: {one: names.count(one) for one in WARNINGS[above]} for above in WARNINGS}
    facts.above = Outside(True, high_c, counts[True])
    facts.below = Outside(False, low_c, counts[False])
    if facts.entered_s is None:
        return
    seen = facts.known
    readings = [
        (value, at_s)
        for at_s, value in zip(seen.times_s, seen.recorded_c, strict=True)
        if at_s >= (facts.entered_s or 0.0)
    ]
    # The board sees through the probe's lag: the reading itself comes in a little later.
    inside_s = (at_s for value, at_s in readings if low_c <= value <= high_c)
    since_s = next(inside_s, facts.entered_s)
    readings = [one for one in readings if one[1] >= since_s]
    facts.in_window_s = seen.seconds(since_s, low_c, high_c)
    if readings:
        above_s = seen.step_s * sum(value > high_c for value, _ in readings)
        below_s = seen.step_s * sum(value < low_c for value, _ in readings)
        highest, lowest = (end(readings, key=lambda one: one[0]) for end in (max, min))
        facts.above = Outside(True, high_c, counts[True], above_s, *highest)
        facts.below = Outside(False, low_c, counts[False], below_s, *lowest)


def _excursions(
    times: list[float], values: list[float], low_c: float, high_c: float, step_s: float
) -> list[Excursion]:
    found: list[Excursion] = []
    run: list[tuple[float, float]] = []
    side = 0

    def close() -> None:
        if side and (run[-1][0] - run[0][0]) >= WORD_S:
            extreme = (max if side > 0 else min)(value for _, value in run)
            found.append(Excursion(run[0][0], run[-1][0], extreme, side > 0))

    for at_s, value in zip(times, values, strict=True):
        now = 1 if value > high_c + EDGE_C else -1 if value < low_c - EDGE_C else 0
        # What was hidden is neither: an excursion ends with the last reading that shows it.
        if now != side or (run and at_s - run[-1][0] > 5 * step_s):
            close()
            run, side = [], now
        run.append((at_s, value))
    close()
    return found


def _add_descent(facts: Facts, high_c: float) -> None:
    """From the last time at the melting temperature (or the peak) into the window."""
    seen, melt_c, melted_s = facts.known, facts.melt_c, facts.melted_s
    end_s = seen.end_s if facts.entered_s is None else facts.entered_s
    times, values = seen.between(0.0, end_s)
    if melt_c is None or melted_s is None or not values:
        return
    readings = zip(times, values, strict=True)
    high = [(at_s, value) for at_s, value in readings if value >= melt_c - NEAR_TARGET_C]
    facts.descent_start_s, start_c = high[-1] if high else (melted_s, melt_c)
    start_s = facts.descent_start_s
    times, values = seen.between(start_s, end_s)
    if len(times) < 3:
        return
    lowest = min(range(len(values)), key=values.__getitem__)
    facts.lowest_before_c, facts.lowest_before_s = values[lowest], times[lowest]
    facts.steepest_c_per_min = _steepest(times, values)
    # Down to the window's upper edge; the board may have known a little before the probe.
    times, values = seen.between(start_s, end_s + RATE_OVER_S)
    below = [at_s for at_s, value in zip(times, values, strict=True) if value <= high_c]
    if below and below[0] > start_s:
        facts.descent_rate_c_per_min = (start_c - high_c) / (below[0] - start_s) * 60


def _steepest(times: list[float], values: list[float]) -> float | None:
    """Fastest fall over RATE_OVER_S of unbroken readings, °C/min, positive."""
    best: float | None = None
    first = 0
    for index, at_s in enumerate(times):
        if index and at_s - times[index - 1] > 5:
            first = index
        while at_s - times[first] > RATE_OVER_S:
            first += 1
        span_s = at_s - times[first]
        if span_s >= 0.9 * RATE_OVER_S:
            rate = (values[first] - values[index]) / span_s * 60
            best = rate if best is None else max(best, rate)
    return best
