"""A recorded curve, decoded from the bytes the board stored."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from snapcurve.board.fitted import Fitted
from snapcurve.errors import RecordError
from snapcurve.recording.blocks import Block, Coded, Event, block_at, data_of
from snapcurve.recording.series import Series
from snapcurve.wire import catalogue, codec
from snapcurve.wire.errors import WireError

__all__ = ["Curve", "Event", "decode", "decode_each", "end_reason_of"]

# Bounds of what a curve can be, wider than any board's: a board records for 12 hours at most,
# reads ten times a second at most, and has something to tell every few seconds at worst.
LONGEST_MS = 24 * 3600 * 1000
PERIOD_LEAST_MS = 100
EVENTS_MOST = 10_000


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
    times_s: Sequence[float] = field(default_factory=list)
    temperatures_c: Sequence[float | None] = field(default_factory=list)
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
    walk = _Walk(data, samples)
    if walk.refusal is not None:
        raise walk.refusal
    if samples:
        _add_samples([walk])
    return walk.curve


def decode_each(datas: Sequence[bytes]) -> list[Curve | RecordError]:
    """The curves in ``datas``, as `decode` has each, and far sooner than one by one; in its place
    a RecordError for what is none."""
    found: list[Curve | RecordError] = []
    walks = [_Walk(data, samples=True) for data in datas]
    _add_samples([walk for walk in walks if walk.refusal is None])
    for walk in walks:
        found.append(walk.curve if walk.refusal is None else walk.refusal)
    return found


def end_reason_of(data: bytes) -> str | None:
    """How the curve in ``data`` ends, as `decode` has it, without its samples; None: it does
    not. RecordError as there."""
    return decode(data, samples=False).end_reason


class _Walk:
    """From block to block through the bytes of a curve. ``curve`` is all but its samples, which
    ``coded`` holds with the place of their blocks; ``refusal`` why there is none."""

    def __init__(self, data: bytes, samples: bool) -> None:
        self._data = data
        self._samples = samples
        self._bad: set[int] = set()
        self.go()

    def go(self, bad: Iterable[int] = ()) -> None:
        """From the beginning; ``bad`` blocks, by their places, are damaged though their CRC
        fits."""
        self._bad.update(bad)
        self.curve = result = Curve()
        self.coded: list[tuple[int, Coded]] = []
        self.refusal: RecordError | None = None
        self._last_ms = -1
        data = self._data
        at = good_end = expected = 0
        while at < len(data):
            try:
                block = block_at(data, at)
                # Only ever forwards, and only this curve's own blocks.
                if (expected == 0) != (block.kind == "head") or block.number < expected:
                    raise WireError("bad_value")
                if (expected and block.curve != result.curve) or at in self._bad:
                    raise WireError("bad_value")
                self._take(block, at)
            except WireError as error:
                if expected == 0:
                    self.refusal = RecordError(
                        "The curve has no readable beginning; collect it again from the board."
                    )
                    self.refusal.__cause__ = error
                    return
                at = data.find(bytes([catalogue.BLOCK_SYNC]), at + 1)
                if at < 0:
                    break
                continue
            if expected == 0:
                result.curve = block.curve
            result.lost_blocks += block.number - expected
            expected = block.number + 1
            at = good_end = block.end
        result.trailing_bytes = len(data) - good_end
        if expected == 0:
            self.refusal = RecordError(
                "The curve is empty, because the board lost power before its first block; name"
                " another one."
            )

    def _take(self, block: Block, at: int) -> None:
        kind, result = block.kind, self.curve
        if kind == "data":
            if self._samples:
                self._take_data(block, at)
            return
        body = self._data[block.start : block.end]
        if kind == "head":
            _take_head(result, body)
        elif kind == "probe":
            result.fitted = _fitted(body)
        elif kind == "clock":
            offset_ms, unix_s, unix_ms = codec.unpack(catalogue.CLOCK_BLOCK, body)
            if result.started_unix_ms is None:
                now_ms = unix_s * 1000 + unix_ms
                if offset_ms <= min(now_ms, LONGEST_MS):
                    result.started_unix_ms = now_ms - offset_ms
        else:
            result.end_reason = codec.unpack(catalogue.END_BLOCK, body)[1]

    def _take_data(self, block: Block, at: int) -> None:
        result = self.curve
        coded, room_c, events = data_of(self._data, block)
        last_ms = coded.start_ms + coded.period_ms * (coded.samples - 1)
        if coded.samples:
            forwards = coded.start_ms > self._last_ms
            if not (coded.period_ms >= PERIOD_LEAST_MS and forwards and last_ms <= LONGEST_MS):
                raise WireError("bad_value")  # no board's: its time would go back, or nowhere
        if coded.samples > catalogue.BLOCK_SAMPLES or len(events) > catalogue.BLOCK_EVENTS_MAX:
            raise WireError("bad_length")
        if events:
            if len(result.events) + len(events) > EVENTS_MOST:
                raise WireError("bad_length")
            if max(event.offset_ms for event in events) > LONGEST_MS:
                raise WireError("bad_value")
            result.events += events
        if coded.samples:
            self._last_ms = last_ms
        self.coded.append((at, coded))
        if room_c is not None:
            result.room_c.append((coded.start_ms / 1000, room_c))


def _add_samples(walks: Sequence[_Walk]) -> None:
    """The samples of all these curves. A block whose samples cannot be read is damaged: its curve
    is gone through once more, without it."""
    from snapcurve.recording.samples import decoded  # which loads numpy

    while walks:
        found = decoded([coded for walk in walks for _, coded in walk.coded])
        block = sample = 0
        again = []
        for walk in walks:
            good = found.good[block : block + len(walk.coded)]
            block += len(walk.coded)
            first, sample = sample, sample + sum(coded.samples for _, coded in walk.coded)
            if not good.all():
                its = [at for (at, _), one in zip(walk.coded, good, strict=True) if not one]
                walk.go(bad=its)
                again.append(walk)
                continue
            walk.curve.times_s = Series(found.times_s[first:sample])
            walk.curve.temperatures_c = Series(found.values_c[first:sample])
        walks = again


def _take_head(result: Curve, body: bytes) -> None:
    head = _named(catalogue.CURVE_HEAD, body)
    result.board_id = head["board_id"]
    result.boot = head["boot"]
    result.started_uptime_ms = head["uptime_s"] * 1000 + head["uptime_ms"]
    if head["unix_s"]:
        result.started_unix_ms = head["unix_s"] * 1000 + head["unix_ms"]
    result.firmware = f"{head['major']}.{head['minor']}.{head['patch']}"
    result.calibrated_unix_s = head["calibrated_unix_s"]
    result.profile = head["profile"]


@lru_cache(maxsize=64)
def _fitted(body: bytes) -> Fitted:
    return Fitted(**_named(catalogue.PROBE, body))


def _named(record: Any, body: bytes) -> dict[str, Any]:
    """The fields of ``body``: by the board's own codec, as construct takes long to load."""
    names = [str(row[0]) for row in record]
    return dict(zip(names, codec.unpack(record, body), strict=True))
