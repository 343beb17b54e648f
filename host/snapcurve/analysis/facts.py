"""What a batch's record shows, as numbers: no words, no judgement."""

from dataclasses import dataclass, field
from typing import Any

from snapcurve.analysis.blades import BladeResult, DipTest, dip_tests, told
from snapcurve.analysis.excursions import Outside, outside
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError
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


@dataclass(frozen=True)
class Excursion:
    """Outside the window from ``start_s`` to ``end_s``, as far as it is known: by more than
    EDGE_C, for at least WORD_S."""

    start_s: float
    end_s: float
    extreme_c: float
    above: bool


@dataclass(frozen=True)
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
    silenced: int = 0
    uncertainty_c: float | None = None
    mistake: bool = False
    starts_before: bool = False
    breaks_off: bool = False

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

    @property
    def highest_outside_c(self) -> float | None:
        """The highest reading above the window; None: no reading is."""
        return self.above.extreme_c if self.above is not None and self.above.seconds else None

    @property
    def lowest_outside_c(self) -> float | None:
        """The lowest reading below the window; None: no reading is."""
        return self.below.extreme_c if self.below is not None and self.below.seconds else None


def facts_of(
    curve: Curve,
    blades: list[BladeResult] | None = None,
    uncertainty_c: float | None = None,
    starts_before: bool | None = None,
) -> Facts:
    """The facts of a decoded curve; ``blades`` are what the person noted of test blades
    beside what was told to the board, and count before that. ``uncertainty_c`` is the expanded
    uncertainty (k = 2) of its temperatures, None if it is not known. ``starts_before``: see Facts;
    None: as the curve itself says.

    A profile that cannot be read counts as none.
    """
    head, phases = _profile(curve.profile)
    seen = known(curve)
    by_kind = {phase["kind"]: phase for phase in phases}
    work = by_kind.get("work")
    window = None if work is None else (work["low_centi_c"] / 100, work["high_centi_c"] / 100)
    target = {kind: phase["target_centi_c"] / 100 for kind, phase in by_kind.items()}
    spans = phase_spans(curve.events, phases, seen.end_s)
    found: dict[str, Any] = {
        "method": head.get("method", "none"),
        "couverture": head.get("couverture", ""),
        "known": seen,
        "melt_c": target.get("melt"),
        "cool_c": target.get("cool") if head.get("method") != "cup" else None,
        "window_c": window,
        "never_above_c": head["never_above_centi_c"] / 100 if head else None,
        "uncertainty_c": uncertainty_c,
        "mistake": started_by_mistake(curve, seen),
        "starts_before": curve.continues is not None if starts_before is None else starts_before,
        "breaks_off": curve.end_reason is None or curve.turned_out_new,
    }
    found |= _melting(curve, seen, spans, target.get("melt"))
    found |= _heat(curve, seen, found["never_above_c"])
    if window is not None:
        found |= _working(curve, seen, spans, window)
        found |= _outside(curve, seen, found.get("entered_s"), window)
        found |= _descent(seen, found, window)
    found["dip_tests"] = dip_tests(curve, seen, window, EDGE_C, told(curve) + (blades or []))
    return Facts(**found)


def _profile(raw: bytes) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    try:
        return read_profile(raw) if raw else ({}, [])
    except RecordError:
        return {}, []


def _first(curve: Curve, alarm: str, phase: str | None = None) -> float | None:
    for event in curve.alarms:
        if event.name == alarm and phase in (None, event.phase):
            return event.offset_ms / 1000
    return None


def _melting(
    curve: Curve, seen: Known, spans: list[PhaseSpan], melt_c: float | None
) -> dict[str, Any]:
    if not seen.values_c:
        return {}
    top = max(range(len(seen.values_c)), key=seen.values_c.__getitem__)
    found: dict[str, Any] = {"peak_c": seen.values_c[top], "peak_s": seen.times_s[top]}
    estimates = [
        (event.estimate_c, event.offset_ms / 1000)
        for event in curve.alarms
        if event.estimate_c is not None and event.name in ("reached", "too_hot", "near")
    ]
    # The board looks through the probe's lag, so it may know of more than the readings show.
    for estimate_c, at_s in estimates:
        if estimate_c > found["peak_c"]:
            found |= {"peak_c": estimate_c, "peak_s": at_s}
    if melt_c is None:
        return found
    there = [
        at_s
        for at_s, value in zip(seen.times_s, seen.values_c, strict=True)
        if value >= melt_c - NEAR_TARGET_C
    ]
    reached_s = _first(curve, "reached", "melt")
    if reached_s is None and len(there) * seen.step_s >= WORD_S:
        reached_s = there[0]
    found["melted_s"] = reached_s
    found["above_melt_s"] = len(there) * seen.step_s
    melting = [span for span in spans if span.kind == "melt"]
    until_s = melting[-1].end_s if melting else seen.end_s
    found["melt_hidden_s"] = seen.hidden_s(0.0, until_s)
    return found


def _heat(curve: Curve, seen: Known, limit_c: float | None) -> dict[str, Any]:
    if limit_c is None:
        return {}
    hot = [
        (at_s, value)
        for at_s, value in zip(seen.times_s, seen.values_c, strict=True)
        if value >= limit_c
    ]
    alarms = [event for event in curve.alarms if event.name == "too_hot"]
    if not alarms and len(hot) * seen.step_s < 3:
        return {}
    first_s = min([at_s for at_s, _ in hot] + [event.offset_ms / 1000 for event in alarms])
    tops = [value for _, value in hot]
    tops += [event.estimate_c for event in alarms if event.estimate_c is not None]
    return {"too_hot_s": first_s, "hottest_c": max(tops) if tops else None}


def _working(
    curve: Curve, seen: Known, spans: list[PhaseSpan], window: tuple[float, float]
) -> dict[str, Any]:
    low_c, high_c = window
    entered_s = _first(curve, "reached", "work")
    if entered_s is None:
        # The board may have been silent for another reason: the readings decide.
        began = [span.start_s for span in spans if span.kind == "work"]
        times, values = seen.between(began[0] if began else seen.end_s, seen.end_s)
        inside = [at_s for at_s, v in zip(times, values, strict=True) if low_c <= v <= high_c]
        if len(inside) * seen.step_s < WORD_S * 2:
            return {}
        entered_s = inside[0]
    times, values = seen.between(entered_s, seen.end_s)
    if not times:
        return {"entered_s": entered_s}
    end_s = times[-1]
    return {
        "entered_s": entered_s,
        "left_s": end_s,
        "work_hidden_s": seen.hidden_s(entered_s, end_s),
        "excursions": _excursions(times, values, window, seen.step_s),
        "silenced": sum(event.name == "silence" for event in curve.events),
    }


def _outside(
    curve: Curve, seen: Known, entered_s: float | None, window: tuple[float, float]
) -> dict[str, Any]:
    low_c, high_c = window
    since_s = entered_s
    if entered_s is not None:
        # The board sees through the probe's lag: the reading itself comes in a little later.
        readings = zip(seen.times_s, seen.recorded_c, strict=True)
        inside = (at_s for at_s, v in readings if at_s >= entered_s and low_c <= v <= high_c)
        since_s = next(inside, entered_s)
    return {
        "above": outside(True, high_c, curve.alarms, seen, since_s),
        "below": outside(False, low_c, curve.alarms, seen, since_s),
        "in_window_s": 0.0 if since_s is None else seen.seconds(since_s, low_c, high_c),
    }


def _excursions(
    times: list[float], values: list[float], window: tuple[float, float], step_s: float
) -> list[Excursion]:
    low_c, high_c = window
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


def _descent(seen: Known, found: dict[str, Any], window: tuple[float, float]) -> dict[str, Any]:
    """From the last time at the melting temperature (or the peak) into the window."""
    entered_s, melt_c = found.get("entered_s"), found.get("melt_c")
    end_s = entered_s if entered_s is not None else seen.end_s
    times, values = seen.between(0.0, end_s)
    if melt_c is None or not values or found.get("melted_s") is None:
        return {}
    high = [
        (at_s, value)
        for at_s, value in zip(times, values, strict=True)
        if value >= melt_c - NEAR_TARGET_C
    ]
    start_s, start_c = high[-1] if high else (found["melted_s"], melt_c)
    times, values = seen.between(start_s, end_s)
    if len(times) < 3:
        return {"descent_start_s": start_s}
    lowest = min(range(len(values)), key=values.__getitem__)
    found_here: dict[str, Any] = {
        "descent_start_s": start_s,
        "lowest_before_c": values[lowest],
        "lowest_before_s": times[lowest],
        "steepest_c_per_min": _steepest(times, values),
    }
    # Down to the window's upper edge; the board may have known a little before the probe.
    times, values = seen.between(start_s, end_s + RATE_OVER_S)
    below = [at_s for at_s, value in zip(times, values, strict=True) if value <= window[1]]
    if below and below[0] > start_s:
        rate = (start_c - window[1]) / (below[0] - start_s) * 60
        found_here["descent_rate_c_per_min"] = rate
    return found_here


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
