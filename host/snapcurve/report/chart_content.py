"""What a chart of one batch shows, as numbers and words: no drawing, no page."""

import bisect
import itertools
from collections.abc import Callable, Sized
from dataclasses import dataclass, field
from typing import Any

from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.recording.curve import Curve, Event
from snapcurve.recording.event_words import alarm_words, fault_words
from snapcurve.recording.known_spans import out_spans
from snapcurve.recording.phases import PhaseSpan, phase_spans
from snapcurve.report.chart_dips import TEST_ALARMS, DipTest, dip_tests
from snapcurve.report.chart_words import caption_parts, degrees
from snapcurve.shown.quantities import PLAIN, Style

STEP_UNKNOWN_S = 1.0  # the grid of a curve with fewer than two samples
GAP_STEPS = 2.5  # a single missed sample breaks the line, but is no gap to speak of
FAULT_BEFORE_GAP_S = 3.0  # a fault is noted at once, its gap begins with the next sample
SPAN_MIN_C = 4.0  # a narrower chart would make noise look like news
STRETCH_MAX = 1.6  # what is not the chocolate may make the chart this much taller, no more
PAD_LOW, PAD_HIGH = 0.05, 0.07
COUNTED = ("too_hot", "temper_lost", "too_warm", "too_cool")
DRAWN_MOST = 3000  # things on one chart: with more none can be seen, and drawing takes minutes
UNMARKED = ("probe_out", "probe_in", *TEST_ALARMS)  # drawn as spans


@dataclass(frozen=True)
class Piece:
    """An unbroken part of the line; ``in_air``: read while the probe was out."""

    times_s: list[float]
    values_c: list[float]
    in_air: bool


@dataclass(frozen=True)
class Gap:
    """No reading from ``start_s`` to ``end_s``; ``words`` says so, and why if known."""

    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True)
class Level:
    """A temperature to reach or not to pass; ``kind`` a phase kind or "never"."""

    kind: str
    start_s: float
    end_s: float
    at_c: float
    words: str


@dataclass(frozen=True)
class Band:
    """The working window while the phase that holds it ran."""

    start_s: float
    end_s: float
    low_c: float
    high_c: float
    words: str


@dataclass(frozen=True)
class Marker:
    """An alarm or a note; ``name`` the alarm, or "note".

    ``at_c`` is the board's estimate of the chocolate where it had one, which a probe
    that is still settling does not show yet; ``line_c`` is the reading nearest in time.
    """

    at_s: float
    at_c: float
    line_c: float
    name: str
    words: str


@dataclass(frozen=True)
class Content:
    """All of the chart; ``limits_c`` and ``end_s`` bound what is drawn.

    ``notes`` are the parts of the caption that explain the drawing itself.
    """

    pieces: list[Piece]
    gaps: list[Gap]
    out: list[tuple[float, float]]
    phases: list[PhaseSpan]
    levels: list[Level]
    bands: list[Band]
    markers: list[Marker]
    dip_tests: list[DipTest]
    room: list[tuple[float, float]]
    end_s: float
    limits_c: tuple[float, float]
    caption: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def content_of(curve: Curve, uncertainty: str = "", style: Style = PLAIN) -> Content:
    """What the chart of ``curve`` shows, its words in the units of ``style``.

    SnapcurveError if the curve has no samples at all, or is in more pieces than can be drawn.
    A profile that cannot be read
    counts as none: the line is worth showing without its bands.
    """
    if not curve.times_s:
        raise SnapcurveError("this curve holds no samples: there is nothing to draw")
    head, phases = _profile(curve.profile)
    end_s = curve.times_s[-1] + _step_s(curve.times_s)
    out = out_spans(curve.events, end_s)
    pieces, holes = split_line(curve.times_s, curve.temperatures_c, out)
    gaps = [Gap(start, end, _gap_words(curve.events, start, end)) for start, end in holes]
    spans = phase_spans(curve.events, phases, end_s)
    levels, bands = _targets(spans, style)
    markers = _markers(curve.events, pieces, gaps)
    tests = dip_tests(curve.events, head.get("test_due_s", 0), end_s)
    drawn: tuple[Sized, ...] = (pieces, gaps, out, spans, markers, tests)
    if (count := sum(map(len, drawn))) > DRAWN_MOST:
        raise SnapcurveError(
            f"this curve is in {count} pieces, too many to draw: look for a loose plug at the "
            "probe, and read the numbers with 'snapcurve show BATCH --curve FILE.csv'"
        )
    never = None
    if head:
        at_c = head["never_above_centi_c"] / 100
        never = Level(
            "never", 0.0, end_s, at_c, f"never above {degrees(at_c, style)} {style.degree}"
        )
    core, extras = _heights(pieces, levels, bands, markers, curve.room_c, never, style)
    low_c, high_c = limits(core, extras)
    couverture, method = head.get("couverture", ""), head.get("method", "")
    notes = _counts(markers) + _beyond(extras, low_c, high_c)
    caption = caption_parts(curve, couverture, method, uncertainty, style) + notes
    if never and low_c < never.at_c < high_c:
        levels.append(never)
    return Content(
        pieces=pieces,
        gaps=gaps,
        out=out,
        phases=spans,
        levels=levels,
        bands=bands,
        markers=markers,
        dip_tests=tests,
        room=[(at_s, value_c) for at_s, value_c in curve.room_c if low_c < value_c < high_c],
        end_s=end_s,
        limits_c=(low_c, high_c),
        caption=caption,
        notes=notes,
    )


def _profile(raw: bytes) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    try:
        return read_profile(raw) if raw else ({}, [])
    except RecordError:
        return {}, []


def _step_s(times_s: list[float]) -> float:
    steps = [after - before for before, after in itertools.pairwise(times_s)]
    return min((step for step in steps if step > 0), default=STEP_UNKNOWN_S)


def split_line(
    times_s: list[float], values_c: list[float | None], out: list[tuple[float, float]]
) -> tuple[list[Piece], list[tuple[float, float]]]:
    """The line in unbroken pieces, and the gaps between them.

    A piece ends where a value is None, where time jumps (lost blocks) or goes back, and
    where the probe goes out or in; there the next piece begins with the same sample, so
    that the line does not look broken. A gap lasts from the last reading to the next;
    one missed sample breaks the line but makes no gap.
    """
    step_s = _step_s(times_s)
    joint_s = 1.5 * step_s
    turns = sorted(out)
    starts = [start for start, _ in turns]
    # The latest end of all spans that begin no later: spans may overlap.
    ends = list(itertools.accumulate((end for _, end in turns), max))
    pieces: list[Piece] = []
    gaps: list[tuple[float, float]] = []
    last: tuple[float, float] | None = None
    for at_s, value in zip(times_s, values_c, strict=True):
        if value is None:
            continue
        begun = bisect.bisect_right(starts, at_s)
        in_air = begun > 0 and at_s < ends[begun - 1]
        after_s = last[0] if last else times_s[0] - step_s
        broken = last is None or not 0 < at_s - after_s < joint_s
        if at_s - after_s > GAP_STEPS * step_s:
            gaps.append((max(after_s, times_s[0]), at_s))
        if broken or not pieces:
            pieces.append(Piece([at_s], [value], in_air))
        elif pieces[-1].in_air != in_air:
            assert last is not None
            pieces.append(Piece([last[0], at_s], [last[1], value], in_air))
        else:
            pieces[-1].times_s.append(at_s)
            pieces[-1].values_c.append(value)
        last = (at_s, value)
    silent_since_s = last[0] if last else times_s[0]
    if last is None or times_s[-1] - silent_since_s > (GAP_STEPS - 1) * step_s:
        gaps.append((silent_since_s, times_s[-1] + step_s))
    return pieces, gaps


def _gap_words(events: list[Event], start_s: float, end_s: float) -> str:
    for event in events:
        at_s = event.offset_ms / 1000
        if event.kind == "fault" and event.name and start_s - FAULT_BEFORE_GAP_S <= at_s < end_s:
            return f"no reading: {fault_words(event.name)}"
    return "no reading"


def _targets(spans: list[PhaseSpan], style: Style) -> tuple[list[Level], list[Band]]:
    levels: list[Level] = []
    bands: list[Band] = []
    for span in spans:
        if span.phase is None:
            continue
        if span.phase["direction"] == "hold":
            low_c, high_c = span.phase["low_centi_c"] / 100, span.phase["high_centi_c"] / 100
            edges = f"{degrees(low_c, style)}–{degrees(high_c, style)}"
            words = f"working window {edges} {style.degree}"
            bands.append(Band(span.start_s, span.end_s, low_c, high_c, words))
        else:
            at_c = span.phase["target_centi_c"] / 100
            words = f"{span.kind} to {degrees(at_c, style)} {style.degree}"
            levels.append(Level(span.kind, span.start_s, span.end_s, at_c, words))
    return levels, bands


def _markers(events: list[Event], pieces: list[Piece], gaps: list[Gap]) -> list[Marker]:
    markers = []
    nearest = nearest_reading(pieces)
    for event in events:
        at_s = event.offset_ms / 1000
        if event.kind == "mark" and event.name == "note":
            name, words = "note", f"note {event.number}"
        elif event.kind == "mark" and event.name in ("next", "back"):
            name, words = "note", f"{event.name} phase by hand"
        elif event.kind == "alarm" and event.name not in UNMARKED:
            name, words = event.name, alarm_words(event.name)
        else:
            continue
        if name in ("probe_fault", "probe_ok") and _beside_gap(at_s, gaps):
            continue  # the gap says it
        line_c = nearest(at_s)
        if line_c is None:
            continue
        at_c = line_c if event.estimate_c is None else event.estimate_c
        markers.append(Marker(at_s, at_c, line_c, name, words))
    return markers


def _beside_gap(at_s: float, gaps: list[Gap]) -> bool:
    near_s = FAULT_BEFORE_GAP_S
    return any(gap.start_s - near_s <= at_s <= gap.end_s + near_s for gap in gaps)


def nearest_reading(pieces: list[Piece]) -> Callable[[float], float | None]:
    """Says which reading is nearest in time to a moment, None if there is none at all."""
    line = sorted(
        (pair for piece in pieces for pair in zip(piece.times_s, piece.values_c, strict=True)),
        key=lambda pair: pair[0],
    )
    times_s = [at_s for at_s, _ in line]

    def value_at(at_s: float) -> float | None:
        at = bisect.bisect_left(times_s, at_s)
        near = line[max(0, at - 1) : at + 1]
        return min(near, key=lambda pair: abs(pair[0] - at_s))[1] if near else None

    return value_at


def _counts(markers: list[Marker]) -> list[str]:
    names = [marker.name for marker in markers]
    counts = [(name, names.count(name)) for name in COUNTED]
    parts = [f"{alarm_words(name)} {count}×" for name, count in counts if count]
    if any(marker.name != "note" for marker in markers):
        parts.append("alarms stand at the board's estimate")
    return parts


Extra = tuple[str, list[float]]  # words for the caption, heights in °C


def _heights(
    pieces: list[Piece],
    levels: list[Level],
    bands: list[Band],
    markers: list[Marker],
    room: list[tuple[float, float]],
    never: Level | None,
    style: Style,
) -> tuple[list[float], list[Extra]]:
    core = [value for piece in pieces if not piece.in_air for value in piece.values_c]
    core += [level.at_c for level in levels] + [marker.at_c for marker in markers]
    core += [edge for band in bands for edge in (band.low_c, band.high_c)]
    air = [value for piece in pieces if piece.in_air for value in piece.values_c]
    if not core:
        core, air = air, []
    room_c = [value for _, value in room]
    extras: list[Extra] = []
    if air:
        words = f"{degrees(min(air), style)} to {degrees(max(air), style)} {style.degree}"
        extras.append((f"with the probe out {words}", air))
    if never:
        extras.append((never.words, [never.at_c]))
    if room_c:
        low, high = degrees(min(room_c), style), degrees(max(room_c), style)
        words = low if low == high else f"{low}–{high}"
        extras.append((f"room {words} {style.degree}", room_c))
    return core, extras


def limits(core: list[float], extras: list[Extra]) -> tuple[float, float]:
    """Lowest and highest °C of the chart: all of ``core``, and each of ``extras`` that
    does not make the chart more than STRETCH_MAX times as tall."""
    low_c, high_c = (min(core), max(core)) if core else (15.0, 35.0)
    short_c = SPAN_MIN_C - (high_c - low_c)
    if short_c > 0:
        low_c, high_c = low_c - short_c / 2, high_c + short_c / 2
    most_c = STRETCH_MAX * (high_c - low_c)
    for _, values in extras:
        lower_c, higher_c = min(low_c, *values), max(high_c, *values)
        if higher_c - lower_c <= most_c:
            low_c, high_c = lower_c, higher_c
    span_c = high_c - low_c
    return low_c - PAD_LOW * span_c, high_c + PAD_HIGH * span_c


def _beyond(extras: list[Extra], low_c: float, high_c: float) -> list[str]:
    """Words for each of ``extras`` that the chart does not show whole."""
    return [
        f"{words} (beyond the chart)"
        for words, values in extras
        if not (low_c < min(values) and max(values) < high_c)
    ]
