"""What `recording` does with whole arrays, done reading by reading: slow, and to be read.

A test holds the two against each other. The bytes are read as the wire says, block by block.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Sequence
from statistics import median
from typing import Any

import construct

from snapcurve.board import structs
from snapcurve.board.fitted import Fitted
from snapcurve.errors import RecordError
from snapcurve.recording.curve import EVENTS_MOST, LONGEST_MS, PERIOD_LEAST_MS, Curve, Event
from snapcurve.recording.known_spans import (
    HIDDEN_S,
    LEAVING_S,
    SETTLE_S,
    SMOOTH,
    WILD_C,
    Hidden,
    out_spans,
)
from snapcurve.recording.outside import HEEDED_S, WARNINGS, CrystalsGone, Excursion, Outside
from snapcurve.recording.parts import Hole
from snapcurve.recording.timeline import RATE_OVER_S
from snapcurve.wire import catalogue, curve, curve_data
from snapcurve.wire.errors import WireError
from snapcurve.wire.window import (
    BACK_MS,
    CRYSTALS_MELT_K_S,
    OUTSIDE_MS,
    high_limit_c,
    low_limit_c,
)


class Readings:
    """As `known_spans.Known`, with lists."""

    def __init__(self, times_s, values_c, recorded_c, hidden, step_s, end_s):
        self.times_s = times_s
        self.values_c = values_c
        self.recorded_c = recorded_c
        self.hidden = hidden
        self.step_s = step_s
        self.end_s = end_s

    def between(self, start_s, end_s):
        first = bisect.bisect_left(self.times_s, start_s)
        last = bisect.bisect_right(self.times_s, end_s)
        return self.times_s[first:last], self.values_c[first:last]


def decode(data: bytes) -> Curve:
    """The curve in ``data``; RecordError if it does not begin with a head. Without ``samples``
    neither those nor the events, which takes most of the time.

    Damage further on costs the damaged blocks only: reading goes on with the next block
    that is whole, and ``lost_blocks`` says how many are missing.
    """
    result = Curve()
    at = 0
    good_end = 0
    expected = 0
    while at < len(data):
        try:
            kind, number, block, start, following = curve.parse_block(data, at)
            # Only ever forwards, and only this curve's own blocks.
            if (expected == 0) != (kind == "head") or block < expected:
                raise WireError("bad_value")
            if expected and number != result.curve:
                raise WireError("bad_value")
            _take(result, kind, data, start, following)
        except (WireError, construct.ConstructError) as error:
            if expected == 0:
                raise RecordError(
                    "The curve has no readable beginning; collect it again from the board."
                ) from error
            following = data.find(bytes([catalogue.BLOCK_SYNC]), at + 1)
            if following < 0:
                break
            at = following
            continue
        if expected == 0:
            result.curve = number
        result.lost_blocks += block - expected
        expected = block + 1
        at = good_end = following
    result.trailing_bytes = len(data) - good_end
    if expected == 0:
        raise RecordError(
            "The curve is empty, because the board lost power before its first block; name"
            " another one."
        )
    return result


def _take(result: Curve, kind: str, data: bytes, start: int, end: int) -> None:
    if kind == "data":
        _take_data(result, data, start, end)
    elif kind == "head":
        _take_head(result, structs.parse(catalogue.CURVE_HEAD, data[start:end]))
    elif kind == "probe":
        result.fitted = Fitted(**structs.parse(catalogue.PROBE, data[start:end]))
    elif kind == "clock":
        values = structs.parse(catalogue.CLOCK_BLOCK, data[start:end])
        if result.started_unix_ms is None:
            unix_ms = values["unix_s"] * 1000 + values["unix_ms"]
            if values["offset_ms"] <= min(unix_ms, LONGEST_MS):
                result.started_unix_ms = unix_ms - values["offset_ms"]
    else:
        result.end_reason = structs.parse(catalogue.END_BLOCK, data[start:end])["reason"]


def _take_head(result: Curve, head: dict[str, Any]) -> None:
    result.board_id = head["board_id"]
    result.boot = head["boot"]
    result.started_uptime_ms = head["uptime_s"] * 1000 + head["uptime_ms"]
    if head["unix_s"]:
        result.started_unix_ms = head["unix_s"] * 1000 + head["unix_ms"]
    result.firmware = f"{head['major']}.{head['minor']}.{head['patch']}"
    result.calibrated_unix_s = head["calibrated_unix_s"]
    result.profile = head["profile"]


def _take_data(result: Curve, data: bytes, start: int, end: int) -> None:
    head, values, events = curve_data.parse_data(data, start, end, curve_data.decode_samples)
    start_ms, period_ms, _, _, _, _, room_centi_c, _ = head
    last_ms = start_ms + period_ms * max(0, len(values) - 1)
    forwards = not result.times_s or start_ms > result.times_s[-1] * 1000
    if values and not (period_ms >= PERIOD_LEAST_MS and forwards and last_ms <= LONGEST_MS):
        raise WireError("bad_value")  # no board's: its time would go back, or nowhere
    if len(values) > catalogue.BLOCK_SAMPLES or len(events) > catalogue.BLOCK_EVENTS_MAX:
        raise WireError("bad_length")
    if len(result.events) + len(events) > EVENTS_MOST:
        raise WireError("bad_length")
    if any(event[0] > LONGEST_MS for event in events):
        raise WireError("bad_value")
    result.times_s += [(start_ms + index * period_ms) / 1000 for index in range(len(values))]
    result.temperatures_c += [None if value == curve.GAP else value / 128 for value in values]
    if room_centi_c != catalogue.CENTI_NONE:
        result.room_c.append((start_ms / 1000, room_centi_c / 100))
    for offset_ms, kind, code, phase, centi, number in events:
        result.events.append(
            Event(offset_ms, kind, _event_name(kind, code), phase, _c(centi), number)
        )


def _event_name(kind: str, code: int) -> str:
    if kind == "fault":
        return ",".join(catalogue.fault_names(code))
    if kind == "resumed":
        return "resumed"
    words = catalogue.ALARMS if kind == "alarm" else catalogue.MARKS
    return words[code] if code < len(words) else f"unknown {code}"


def _c(centi: int) -> float | None:
    return None if centi == catalogue.CENTI_NONE else centi / 100


def known(curve: Curve, holes: Sequence[Hole] = ()) -> Readings:
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
    return Readings(at, values, recorded, _hidden(at, step_s, end_s, out, holes), step_s, end_s)


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


def _smoothed(times, values, step_s):
    """The median of the readings near each."""
    half = SMOOTH // 2
    near_s = (half + 0.5) * step_s

    def middle(index):
        at_s = times[index]
        return median(
            values[other]
            for other in range(max(0, index - half), min(len(values), index + half + 1))
            if abs(times[other] - at_s) <= near_s
        )

    return [middle(index) for index in range(len(times))]


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


def crystals_gone_of(
    known: Readings, lasting_c: float, high_c: float, since_s: float
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
    known: Readings, alarms: Sequence[Event], window_c: tuple[float, float], since_s: float | None
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
    known: Readings, window_c: tuple[float, float], since_s: float, uncertainty_c: float | None
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


def steepest(times: list[float], values: list[float]) -> float | None:
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
