"""What a batch's record shows, as numbers: no words, no judgement."""

import math
from dataclasses import dataclass, field
from typing import Any

from snapcurve.charts.phases import PhaseSpan, phase_spans
from snapcurve.charts.words import RESULT_WORDS
from snapcurve.curves import Curve
from snapcurve.errors import RecordError
from snapcurve.judgement.stretches import Known, known
from snapcurve.profiles import read_profile

NEAR_TARGET_C = 0.3  # so close below a target counts as there: probe and bowl are no better
EDGE_C = 0.1  # beyond the window's edge by more than noise
RATE_OVER_S = 60.0
WORD_S = 15.0  # for so long a reading must stand somewhere to count as a state of the bowl
# Crystals of form V melt at about 33.8 °C (Wille and Lutton, JAOCS 43 (1966) 491, as commonly
# quoted); milk fat lowers that by a degree or two.
FORM_V_C = 33.8


@dataclass(frozen=True)
class BladeResult:
    """What a test blade showed; ``at_s`` is when it was dipped, or when its result was told
    (offset in the curve); ``said`` the result in words, if there is more to it than passed."""

    at_s: float
    passed: bool
    said: str = ""


@dataclass(frozen=True)
class DipTest:
    """A test that was marked: ``chocolate_c`` None if unknown; ``waited``: until it was due."""

    at_s: float
    chocolate_c: float | None
    in_window: bool | None
    waited: bool
    result: BladeResult | None


@dataclass(frozen=True)
class Excursion:
    """Outside the window from ``start_s`` to ``end_s``, as far as it is known."""

    start_s: float
    end_s: float
    extreme_c: float
    above: bool


@dataclass(frozen=True)
class Facts:
    """All temperatures in °C, times in s from the start; None: not known or not asked.

    ``melt_c``, ``window_c``, ``cool_c``, ``never_above_c`` are the profile's. ``entered_s``
    is when the chocolate first stood in the window; ``descent_*`` go from the last time at
    the melting temperature to there.
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
    above_window_s: float = 0.0
    below_window_s: float = 0.0
    work_hidden_s: float = 0.0
    excursions: list[Excursion] = field(default_factory=list)
    dip_tests: list[DipTest] = field(default_factory=list)
    silenced: int = 0


def facts_of(curve: Curve, blades: list[BladeResult] | None = None) -> Facts:
    """The facts of a decoded curve; ``blades`` are what the person noted of test blades
    beside what was told to the board, and count before that.

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
    }
    found |= _melting(curve, seen, spans, target.get("melt"))
    found |= _heat(curve, seen, found["never_above_c"])
    if window is not None:
        found |= _working(curve, seen, spans, window)
        found |= _descent(seen, found, window)
    found["dip_tests"] = _dip_tests(curve, seen, window, told(curve) + (blades or []))
    return Facts(**found)


def told(curve: Curve) -> list[BladeResult]:
    """What was told to the board of test blades, by the button or ``snapcurve mark``."""
    return [
        BladeResult(
            event.offset_ms / 1000,
            event.name == "passed",
            "" if event.name == "passed" else RESULT_WORDS[event.name],
        )
        for event in curve.events
        if event.kind == "mark" and event.name in RESULT_WORDS
    ]


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
    excursions = _excursions(times, values, window, seen.step_s)
    inside_s = seen.seconds(entered_s, end_s, low_c - EDGE_C, high_c + EDGE_C)
    return {
        "entered_s": entered_s,
        "left_s": end_s,
        "in_window_s": inside_s,
        "above_window_s": seen.seconds(entered_s, end_s, high_c + EDGE_C, 1000),
        "below_window_s": seen.seconds(entered_s, end_s, -1000, low_c - EDGE_C),
        "work_hidden_s": seen.hidden_s(entered_s, end_s),
        "excursions": excursions,
        "silenced": sum(event.name == "silence" for event in curve.events),
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


def _dip_tests(
    curve: Curve,
    seen: Known,
    window: tuple[float, float] | None,
    blades: list[BladeResult],
) -> list[DipTest]:
    marks = [event for event in curve.events if event.kind == "mark" and event.name == "dip_test"]
    starts = [event.offset_ms / 1000 for event in marks]
    tests = []
    for event, at_s, until_s in zip(marks, starts, [*starts, math.inf][1:], strict=True):
        chocolate_c = event.estimate_c
        if chocolate_c is None:
            chocolate_c = seen.at(at_s)
        inside = None
        if chocolate_c is not None and window is not None:
            inside = window[0] - EDGE_C <= chocolate_c <= window[1] + EDGE_C
        due = any(
            alarm.name == "test_due" and at_s < alarm.offset_ms / 1000 <= until_s
            for alarm in curve.alarms
        )
        results = [blade for blade in blades if at_s <= blade.at_s < until_s]
        result = results[-1] if results else None
        tests.append(DipTest(at_s, chocolate_c, inside, due, result))
    return tests
