"""A batch that was recorded in pieces, put together again. Pure.

A restart of the board ends a curve, and so does a probe that is forgotten outside; the batch
goes on in another curve, which says with which one. In between nothing was recorded: that hole
stays one, and nothing here fills it in. Pieces are joined when the batch is judged, not when
they are filed: they come in any order, from any computer, and filed rows stay.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from snapcurve.recording.curve import Curve, Event

# A hole of unknown length is taken as so long, and that is said.
UNKNOWN_S = 120.0
LONGEST_HOLE_S = 12 * 3600.0  # between longer ones a clock was set wrong


@dataclass(frozen=True)
class Part:
    """One piece: its curve, the code of its record, and when it began (None: unknown)."""

    curve: Curve
    code: str
    started_unix_ms: int | None


@dataclass(frozen=True)
class Hole:
    """From ``at_s`` on nothing was recorded for ``length_s``; ``known``: that is how long.
    ``restart``: the board was off, else the probe lay outside."""

    at_s: float
    length_s: float
    known: bool
    restart: bool


@dataclass(frozen=True)
class Joined:
    """The whole of it: one curve on the clock of the first piece, and ``offsets_s``, where each
    piece begins on it. ``codes`` are those of the records, in order. ``continues`` is the curve
    of the same board with which it goes on, and which is not there (None: it is whole)."""

    curve: Curve
    continues: int | None
    offsets_s: tuple[float, ...]
    holes: tuple[Hole, ...]
    codes: tuple[str, ...]


def join(parts: Sequence[Part]) -> Joined:
    """Put pieces together, in the order in which they were recorded."""
    whole = parts[0].curve
    offsets, holes = [0.0], []
    for before, after in itertools.pairwise(parts):
        hole = _hole(before, after, offsets[-1])
        holes.append(hole)
        offsets.append(hole.at_s + hole.length_s)
        whole = _appended(whole, after.curve, offsets[-1])
    codes = tuple(part.code for part in parts)
    return Joined(whole, parts[0].curve.continues, tuple(offsets), tuple(holes), codes)


def _hole(before: Part, after: Part, offset_s: float) -> Hole:
    end_s = _end_s(before.curve)
    restart = before.curve.end_reason is None
    if before.started_unix_ms is not None and after.started_unix_ms is not None:
        length_s = (after.started_unix_ms - before.started_unix_ms) / 1000 - end_s
        if 0 <= length_s <= LONGEST_HOLE_S:
            return Hole(offset_s + end_s, length_s, True, restart)
    return Hole(offset_s + end_s, UNKNOWN_S, False, restart)


def _end_s(curve: Curve) -> float:
    """Up to when anything of it is recorded."""
    events = [event.offset_ms / 1000 for event in curve.events]
    return max([0.0, *curve.times_s[-1:], *events])


def _appended(whole: Curve, part: Curve, offset_s: float) -> Curve:
    dips = sum(event.name == "dip_test" for event in whole.events)
    # A board that starts with the probe in the chocolate does not say that it went in.
    started = [
        Event(round(offset_s * 1000), "alarm", "probe_in", event.phase, None, 0)
        for event in whole.events[-1:]
        if whole.ends_out
    ]
    return replace(
        whole,
        times_s=[*whole.times_s, *(at_s + offset_s for at_s in part.times_s)],
        temperatures_c=[*whole.temperatures_c, *part.temperatures_c],
        room_c=whole.room_c + [(at_s + offset_s, value) for at_s, value in part.room_c],
        events=whole.events + started + [_moved(one, offset_s, dips) for one in part.events],
        end_reason=part.end_reason,
        lost_blocks=whole.lost_blocks + part.lost_blocks,
        trailing_bytes=whole.trailing_bytes + part.trailing_bytes,
    )


def _moved(event: Event, offset_s: float, dips: int) -> Event:
    """On the clock of the whole; each piece counts its dips from 1 on."""
    of_a_dip = event.kind == "mark" and event.number and event.name not in ("note", "silence")
    return event._replace(
        offset_ms=event.offset_ms + round(offset_s * 1000),
        number=event.number + dips if of_a_dip else event.number,
    )
