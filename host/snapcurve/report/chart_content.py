"""What a chart of one batch shows, as numbers and words: no drawing, no page."""

from collections.abc import Sequence, Sized
from dataclasses import dataclass, field
from datetime import UTC, datetime

from snapcurve.analysis.practice_truth import Truly
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import Batch
from snapcurve.recording.curve import Curve, Event
from snapcurve.recording.dip_tests import TEST_ALARMS, DipTest
from snapcurve.recording.event_words import ENDS, alarm_words, fault_words
from snapcurve.recording.line import FAULT_BEFORE_GAP_S, Gap, Line, Profile, nearest_reading
from snapcurve.recording.parts import Hole
from snapcurve.recording.timeline import Phase, Timeline
from snapcurve.shown.units import Style, local, seconds_words

SPAN_MIN_C = 4.0  # a narrower chart would make noise look like news
STRETCH_MAX = 1.6  # what is not the chocolate may make the chart this much taller, no more
PAD_LOW, PAD_HIGH = 0.05, 0.07
COUNTED = ("too_hot", "temper_lost", "too_warm", "too_cool")
TRUTH = (
    "dashed line, melted and fine crystals: what the practice bowl truly was, which no board sees"
)
DRAWN_MOST = 3000  # things on one chart: with more none can be seen, and drawing takes minutes
UNMARKED = ("probe_out", "probe_in", *TEST_ALARMS)  # drawn as spans

Extra = tuple[str, list[float]]  # words for the caption, heights in °C


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
    """All of the chart; ``limits_c`` bound what is drawn.

    ``notes`` are the parts of the caption that explain the drawing itself, ``gap_words`` says of
    each gap of the line why nothing was read.
    """

    line: Line
    phases: list[Phase]
    levels: list[Level]
    bands: list[Band]
    markers: list[Marker]
    dip_tests: list[DipTest]
    room: list[tuple[float, float]]
    limits_c: tuple[float, float]
    gap_words: list[str]
    caption: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    truth: Sequence[Truly] = ()


def content_of(
    timeline: Timeline,
    uncertainty: str,
    style: Style,
    truth: Sequence[Truly] = (),
) -> Content:
    """What the chart of a batch shows, its words in the units of ``style``; ``truth`` is what a
    practice bowl truly was.

    SnapcurveError if the curve has no samples at all, or is in more pieces than can be drawn.
    A profile that cannot be read counts as none: the line is worth showing without its bands.
    """
    curve, line, phases = timeline.curve, timeline.line, timeline.phases
    if line is None:
        raise SnapcurveError("There is nothing to draw: this curve holds no samples.")
    markers, tests = _markers(curve.events, line), timeline.dip_tests
    drawn: tuple[Sized, ...] = (line.pieces, line.gaps, line.out, phases, markers, tests)
    if (count := sum(map(len, drawn))) > DRAWN_MOST:
        raise SnapcurveError(
            f"This curve is in {count} pieces, too many to draw: look for a loose plug at the "
            "probe, and read the numbers with 'snapcurve show BATCH --curve FILE.csv'."
        )
    levels, bands = _targets(phases, style)
    never = []
    if line.profile.never_above_c is not None:
        at_c = line.profile.never_above_c
        words = f"never above {style.temperature(at_c, trim=True)}"
        never = [Level("never", 0.0, line.end_s, at_c, words)]
    core, extras = _heights(line, [*levels, *bands, *markers], curve.room_c, never, style)
    truth = [one for one in truth if 0 <= one.at_s <= line.end_s]
    low_c, high_c = limits(core + [one.chocolate_c for one in truth], extras)
    notes = (
        _counts(markers)
        + ([TRUTH] if truth else [])
        + outside_notes(timeline, style)
        + [
            f"{words} (beyond the chart)"
            for words, values in extras
            if not (low_c < min(values) and max(values) < high_c)
        ]
    )
    return Content(
        line=line,
        phases=phases,
        levels=levels + [level for level in never if low_c < level.at_c < high_c],
        bands=bands,
        markers=markers,
        dip_tests=tests,
        room=[(at_s, value_c) for at_s, value_c in curve.room_c if low_c < value_c < high_c],
        limits_c=(low_c, high_c),
        gap_words=[_gap_words(gap, timeline.joined.holes) for gap in line.gaps],
        caption=_caption(timeline, line.profile, uncertainty, style) + notes,
        notes=notes,
        truth=truth,
    )


def _targets(phases: list[Phase], style: Style) -> tuple[list[Level], list[Band]]:
    levels: list[Level] = []
    bands: list[Band] = []
    for phase in phases:
        if phase.target is None:
            continue
        low_c, high_c = phase.target.low_c, phase.target.high_c
        if low_c is not None and phase.kind == "cool":
            continue  # on its way down; the window is drawn from where it came in
        if low_c is not None:
            words = f"working window {style.window(low_c, high_c)}"
            bands.append(Band(phase.start_s, phase.end_s, low_c, high_c, words))
        else:
            words = f"{phase.kind} to {style.temperature(high_c, trim=True)}"
            levels.append(Level(phase.kind, phase.start_s, phase.end_s, high_c, words))
    return levels, bands


def _markers(events: list[Event], line: Line) -> list[Marker]:
    markers = []
    nearest = nearest_reading(line.pieces)
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
        near_s = FAULT_BEFORE_GAP_S
        beside_gap = any(one.start_s - near_s <= at_s <= one.end_s + near_s for one in line.gaps)
        if name in ("probe_fault", "probe_ok") and beside_gap:
            continue  # the gap says it
        line_c = nearest(at_s)
        if line_c is not None:
            at_c = line_c if event.estimate_c is None else event.estimate_c
            markers.append(Marker(at_s, at_c, line_c, name, words))
    return markers


def _counts(markers: list[Marker]) -> list[str]:
    names = [marker.name for marker in markers]
    counts = [(name, names.count(name)) for name in COUNTED]
    parts = [f"{alarm_words(name)} {count}×" for name, count in counts if count]
    if any(marker.name != "note" for marker in markers):
        parts.append("alarms stand at the board's estimate")
    return parts


def _gap_words(gap: Gap, holes: Sequence[Hole]) -> str:
    if hole := next((one for one in holes if gap.start_s <= one.at_s <= gap.end_s), None):
        about = "" if hole.known else ", how long is not known"
        return ("board off" if hole.restart else "not recorded") + about
    return "no reading" + (f": {fault_words(gap.fault)}" if gap.fault else "")


def outside_notes(timeline: Timeline, style: Style) -> list[str]:
    """What was recorded outside the window: for how long, and how far."""
    notes = []
    for side in (timeline.above, timeline.below):
        if side is not None and side.farthest_c is not None:
            where, farthest = ("above", "highest") if side.above else ("below", "lowest")
            count = sum(run.above == side.above for run in timeline.excursions)
            words = f"{where} the window {seconds_words(side.seconds)}, {farthest} "
            words += style.temperature(side.farthest_c, 2)
            notes.append(words + (f", left {count}×" if count else ""))
    return notes


def _heights(
    line: Line,
    targets: list[Level | Band | Marker],
    room: list[tuple[float, float]],
    never: list[Level],
    style: Style,
) -> tuple[list[float], list[Extra]]:
    core = [value for piece in line.pieces if not piece.in_air for value in piece.values_c]
    for one in targets:
        core += (one.low_c, one.high_c) if isinstance(one, Band) else (one.at_c,)
    air = [value for piece in line.pieces if piece.in_air for value in piece.values_c]
    if not core:
        core, air = air, []
    extras: list[Extra] = []
    if air:
        extras.append((f"with the probe out {style.window(min(air), max(air))}", air))
    extras += [(level.words, [level.at_c]) for level in never]
    if room_c := [value for _, value in room]:
        low, high = (style.degrees(end, trim=True) for end in (min(room_c), max(room_c)))
        words = low if low == high else f"{low} to {high}"
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


def clean(text: str) -> str:
    """``text`` on one line, without characters that no picture format may hold."""
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def batch_uncertainty(batch: Batch, style: Style) -> str:
    """The uncertainty filed with a batch, in words; empty if none was."""
    if batch.uncertainty_centi_c is None or batch.uncertainty_at_centi_c is None:
        return ""
    figure = style.uncertainty(batch.uncertainty_centi_c / 100)
    return f"{figure} at {style.temperature(batch.uncertainty_at_centi_c / 100, 0)} (k = 2)"


def recording_parts(curve: Curve) -> list[str]:
    """How much was recorded, what is missing of it, and how it ended."""
    parts = [_count(curve.recorded, "sample recorded", "samples recorded")]
    if missing := len(curve.temperatures_c) - curve.recorded:
        parts.append(f"{missing} without a reading")
    if curve.lost_blocks:
        parts.append(_count(curve.lost_blocks, "block lost", "blocks lost"))
    if curve.trailing_bytes:
        parts.append("end damaged")
    return [*parts, ENDS.get(curve.end_reason, f"ended: {curve.end_reason}")]


def _caption(timeline: Timeline, profile: Profile, uncertainty: str, style: Style) -> list[str]:
    curve = timeline.curve
    started, calibrated = "time unknown", "none"
    clock = timeline.clock
    if clock.started_unix_ms is not None:
        started = f"started {style.minute(local(clock.started_unix_ms, clock.utc_offset_min))}"
    if curve.calibrated_unix_s:
        calibrated = style.day(datetime.fromtimestamp(curve.calibrated_unix_s, UTC))
    parts = [
        *((profile.couverture, profile.method) if profile.couverture else ("no profile",)),
        started,
        f"board {curve.board_id:08x}",
        f"goes on with curve {timeline.joined.continues}" if timeline.joined.continues else "",
        _count(len(timeline.joined.codes), "part", "parts") if timeline.joined.holes else "",
        *recording_parts(curve),
        f"calibration: {calibrated}",
        uncertainty,
    ]
    return [clean(part) for part in parts if part]


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
