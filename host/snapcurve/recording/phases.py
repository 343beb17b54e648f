"""When each phase of the profile ran, read from the events of the curve."""

from dataclasses import dataclass
from typing import Any

from snapcurve.recording.curve import Event


@dataclass(frozen=True)
class PhaseSpan:
    """A phase from ``start_s`` to ``end_s``; ``phase`` is its catalogue.PHASE row or None."""

    kind: str
    start_s: float
    end_s: float
    phase: dict[str, Any] | None


def phase_spans(
    events: list[Event], phases: list[dict[str, Any]], end_s: float
) -> list[PhaseSpan]:
    """The phases that ran, in order, the last one up to ``end_s``.

    The board starts with the first phase of ``phases`` and notes the phase with every
    event. A rising or falling phase is over when it was reached, or with its dwell; where
    that event is missing, the first event of the next phase begins it. Without a profile
    the events alone say what ran.
    """
    marks = _beginnings(events, phases)
    spans = []
    for at, (start_s, kind, phase) in enumerate(marks):
        until_s = marks[at + 1][0] if at + 1 < len(marks) else end_s
        if kind != "none" and until_s > start_s:
            spans.append(PhaseSpan(kind, start_s, until_s, phase))
    return spans


def with_way_in(
    spans: list[PhaseSpan],
    events: list[Event],
    phases: list[dict[str, Any]],
    entered_s: float | None,
) -> list[PhaseSpan]:
    """By seeding the board works from "melted through" on, with crystal seed from these on: here
    the way down into the window is a phase of its own, "cool", up to ``entered_s`` (None: it was
    not seen in the window).

    It comes again when the temper was lost. Its ``phase`` is that of the window.
    """
    if [row["kind"] for row in phases] not in (["melt", "work"], ["melt", "cool", "work"]):
        return spans
    turns = [
        (event.offset_ms / 1000, "cool" if event.name == "temper_lost" else "work")
        for event in events
        if event.kind == "alarm" and event.phase == "work"
        if event.name in ("reached", "temper_lost")
    ]
    if entered_s is not None:
        turns = sorted({*turns, (entered_s, "work")})
    found = []
    for span in spans:
        if span.kind != "work":
            found.append(span)
            continue
        # After a restart in mid-work nothing says again that it is in the window.
        start_s, kind = span.start_s, "cool" if entered_s is None or turns else "work"
        for at_s, now in turns:
            if span.start_s <= at_s < span.end_s and now != kind:
                if at_s > start_s:
                    found.append(PhaseSpan(kind, start_s, at_s, span.phase))
                start_s, kind = at_s, now
        found.append(PhaseSpan(kind, start_s, span.end_s, span.phase))
    return found


def _beginnings(
    events: list[Event], phases: list[dict[str, Any]]
) -> list[tuple[float, str, dict[str, Any] | None]]:
    index = 0
    # Without a profile the first event tells what was running.
    kind = phases[0]["kind"] if phases else next((event.phase for event in events), "none")
    marks = [(0.0, kind, _at(phases, index, kind))]
    for event in events:
        at_s = event.offset_ms / 1000
        if event.phase != kind:
            kind = event.phase
            index = _find(phases, kind, index)
            marks.append((at_s, kind, _at(phases, index, kind)))
        following = _following(event, phases, index, kind)
        if following != index:
            index = following
            kind = phases[index]["kind"] if index < len(phases) else "none"
            marks.append((at_s, kind, _at(phases, index, kind)))
    return marks


def _following(event: Event, phases: list[dict[str, Any]], index: int, kind: str) -> int:
    """The index of the phase that runs after ``event``."""
    if _ends(event, _at(phases, index, kind)):
        return index + 1
    if event.kind == "alarm" and event.name == "temper_lost" and phases:
        # The batch begins anew behind its melt.
        return min(index, 1 if phases[0]["kind"] == "melt" else 0)
    return index


def _at(phases: list[dict[str, Any]], index: int, kind: str) -> dict[str, Any] | None:
    if index < len(phases) and phases[index]["kind"] == kind:
        return phases[index]
    return None


def _find(phases: list[dict[str, Any]], kind: str, after: int) -> int:
    # Onwards first; but a batch that is seeded again goes back.
    order: list[int] = [*range(after, len(phases)), *range(min(after, len(phases)))]
    for index in order:
        if phases[index]["kind"] == kind:
            return index
    return len(phases)


def _ends(event: Event, phase: dict[str, Any] | None) -> bool:
    if event.kind != "alarm" or phase is None or phase["direction"] == "hold":
        return False
    return event.name == ("dwell_done" if phase["dwell_s"] else "reached")
