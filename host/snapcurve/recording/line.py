"""What a record holds before it is judged: its profile, unbroken pieces, and gaps."""

import bisect
import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError
from snapcurve.recording.curve import Curve
from snapcurve.recording.known_spans import out_spans

STEP_UNKNOWN_S = 1.0  # the grid of a curve with fewer than two samples
GAP_STEPS = 2.5  # a single missed sample breaks the line, but is no gap to speak of
FAULT_BEFORE_GAP_S = 3.0  # a fault is noted at once, its gap begins with the next sample

Span = tuple[float, float]  # from, to, in s


@dataclass(frozen=True)
class Target:
    """A window to stay in, or with ``low_c`` None a temperature to reach."""

    low_c: float | None
    high_c: float


@dataclass(frozen=True)
class Profile:
    """What the board worked by; None, "" and "none" where there was no readable profile.

    ``phases`` are rows of catalogue.PHASE.
    """

    couverture: str = ""
    method: str = "none"
    never_above_c: float | None = None
    test_due_s: float = 0.0
    phases: list[dict[str, Any]] = field(default_factory=list)

    @property
    def crystals_last_to_c(self) -> float | None:
        """For long above it the temper is lost, °C; None where the profile has no such limit."""
        row = next((row for row in self.phases if row["direction"] == "hold"), None)
        if row is None or row["target_centi_c"] <= row["high_centi_c"]:
            return None
        return float(row["target_centi_c"] / 100)

    def target(self, kind: str) -> Target | None:
        """What the first phase of this kind asks for; None: there is none."""
        row = next((row for row in self.phases if row["kind"] == kind), None)
        return None if row is None else target_of(row)


@dataclass(frozen=True)
class Piece:
    """An unbroken part of the line; ``in_air``: read while the probe was out."""

    times_s: list[float]
    values_c: list[float]
    in_air: bool


@dataclass(frozen=True)
class Gap:
    """No reading from ``start_s`` to ``end_s``; ``fault`` names what was noted with it."""

    start_s: float
    end_s: float
    fault: str


@dataclass(frozen=True)
class Line:
    """The record as a line up to ``end_s``; ``out`` is when the probe was out of the chocolate."""

    profile: Profile
    pieces: list[Piece]
    gaps: list[Gap]
    out: list[Span]
    end_s: float


def profile_of(raw: bytes) -> Profile:
    """The profile in ``raw``, an empty one if it cannot be read."""
    try:
        head, phases = read_profile(raw) if raw else ({}, [])
    except RecordError:
        return Profile()
    if not head:
        return Profile()
    never_c = head["never_above_centi_c"] / 100
    return Profile(head["couverture"], head["method"], never_c, head["test_due_s"], phases)


def target_of(row: dict[str, Any]) -> Target:
    """What a row of catalogue.PHASE asks for."""
    if row["direction"] == "hold":
        return Target(row["low_centi_c"] / 100, row["high_centi_c"] / 100)
    return Target(None, row["target_centi_c"] / 100)


def line_of(curve: Curve) -> Line:
    """The line of ``curve``, which has samples."""
    profile = profile_of(curve.profile)
    end_s = curve.times_s[-1] + _step_s(curve.times_s)
    out = out_spans(curve.events, end_s)
    pieces, holes = split_line(curve.times_s, curve.temperatures_c, out)
    gaps = [Gap(start, end, _fault(curve, start, end)) for start, end in holes]
    return Line(profile, pieces, gaps, out, end_s)


def _step_s(times_s: Sequence[float]) -> float:
    steps = [after - before for before, after in itertools.pairwise(times_s)]
    return min((step for step in steps if step > 0), default=STEP_UNKNOWN_S)


def split_line(
    times_s: Sequence[float], values_c: Sequence[float | None], out: Sequence[Span]
) -> tuple[list[Piece], list[Span]]:
    """The line in unbroken pieces, and the gaps between them.

    A piece ends where a value is None, where time jumps (lost blocks) or goes back, and
    where the probe goes out or in; there the next piece begins with the same sample, so
    that the line does not look broken. A gap lasts from the last reading to the next;
    one missed sample breaks the line but makes no gap.
    """
    step_s = _step_s(times_s)
    turns = sorted(out)
    starts = [start for start, _ in turns]
    # The latest end of all spans that begin no later: spans may overlap.
    ends = list(itertools.accumulate((end for _, end in turns), max))
    pieces: list[Piece] = []
    gaps: list[Span] = []
    last: tuple[float, float] | None = None
    for at_s, value in zip(times_s, values_c, strict=True):
        if value is None:
            continue
        begun = bisect.bisect_right(starts, at_s)
        in_air = begun > 0 and at_s < ends[begun - 1]
        after_s = last[0] if last else times_s[0] - step_s
        if at_s - after_s > GAP_STEPS * step_s:
            gaps.append((max(after_s, times_s[0]), at_s))
        if last is None or not 0 < at_s - after_s < 1.5 * step_s:
            pieces.append(Piece([at_s], [value], in_air))
        elif pieces[-1].in_air != in_air:
            pieces.append(Piece([last[0], at_s], [last[1], value], in_air))
        else:
            pieces[-1].times_s.append(at_s)
            pieces[-1].values_c.append(value)
        last = (at_s, value)
    silent_since_s = last[0] if last else times_s[0]
    if last is None or times_s[-1] - silent_since_s > (GAP_STEPS - 1) * step_s:
        gaps.append((silent_since_s, times_s[-1] + step_s))
    return pieces, gaps


def _fault(curve: Curve, start_s: float, end_s: float) -> str:
    for event in curve.events:
        at_s = event.offset_ms / 1000
        if event.kind == "fault" and event.name and start_s - FAULT_BEFORE_GAP_S <= at_s < end_s:
            return event.name
    return ""


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
