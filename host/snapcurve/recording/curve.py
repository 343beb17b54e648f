"""A recorded curve, decoded from the bytes the board stored."""

from dataclasses import dataclass, field
from typing import Any

import construct

from snapcurve.board import structs
from snapcurve.board.fitted import Fitted
from snapcurve.errors import RecordError
from snapcurve.recording.samples import decode_samples
from snapcurve.wire import catalogue, curve, curve_data
from snapcurve.wire.errors import WireError

# Bounds of what a curve can be, wider than any board's: a board records for 12 hours at most,
# reads ten times a second at most, and has something to tell every few seconds at worst.
LONGEST_MS = 24 * 3600 * 1000
PERIOD_LEAST_MS = 100
EVENTS_MOST = 10_000


@dataclass(frozen=True)
class Event:
    """Something that happened at ``offset_ms`` of the curve.

    ``kind`` is "alarm", "mark", "fault" or "resumed"; ``name`` the alarm, the mark, or the
    faults joined by a comma (empty: the fault went away). "resumed": this curve continues
    the batch of curve ``number``, after a restart or a long absence. ``estimate_c`` is what the
    board took the chocolate for, None if it did not know.
    """

    offset_ms: int
    kind: str
    name: str
    phase: str
    estimate_c: float | None
    number: int


@dataclass
class Curve:
    """Samples on an even grid, events, and where they come from.

    ``times_s`` and ``temperatures_c`` run in step; a temperature is None where nothing
    was read. ``lost_blocks`` counts blocks missing between good ones, whose time is a gap
    as well. ``started_unix_ms`` is None while nobody can say when it was; ``fitted`` is the probe
    it was measured with, None if the board did not say (before protocol version 6).
    """

    curve: int = 0
    board_id: int = 0
    boot: int = 0
    started_uptime_ms: int = 0
    started_unix_ms: int | None = None
    firmware: str = ""
    calibrated_unix_s: int = 0
    fitted: Fitted | None = None
    profile: bytes = b""
    times_s: list[float] = field(default_factory=list)
    temperatures_c: list[float | None] = field(default_factory=list)
    room_c: list[tuple[float, float]] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    end_reason: str | None = None
    lost_blocks: int = 0
    trailing_bytes: int = 0

    @property
    def alarms(self) -> list[Event]:
        """The alarms among the events."""
        return [event for event in self.events if event.kind == "alarm"]

    @property
    def continues(self) -> int | None:
        """The curve of the same board whose batch this one goes on with; None: a batch of
        its own."""
        if self.turned_out_new:
            return None
        return next((event.number for event in self.events if event.kind == "resumed"), None)

    @property
    def turned_out_new(self) -> bool:
        """Whether the board took this for a batch that goes on, and then saw that it was a new
        one: it ends such a curve with the probe in the chocolate, as of the room, and the batch
        is in the next one."""
        resumed = any(event.kind == "resumed" for event in self.events)
        return resumed and self.end_reason == "room" and not self.ends_out

    @property
    def ends_out(self) -> bool:
        """Whether the probe was out of the chocolate at the end, by the board's own word."""
        ways = [one.name for one in self.alarms if one.name in ("probe_out", "probe_in")]
        return ways[-1:] == ["probe_out"]

    @property
    def recorded(self) -> int:
        """Samples that hold a reading."""
        return sum(value is not None for value in self.temperatures_c)


def decode(data: bytes, samples: bool = True) -> Curve:
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
            if samples or kind != "data":
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


def end_reason_of(data: bytes) -> str | None:
    """How the curve in ``data`` ends, as `decode` has it, without its samples; None: it does
    not. RecordError as there."""
    return decode(data, samples=False).end_reason


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
    head, values, events = curve_data.parse_data(data, start, end, decode_samples)
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
