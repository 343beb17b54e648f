"""Decides when a curve begins and ends, and fills it.

A curve begins by itself when the probe has been well away from the room's temperature
for a moment, or in something a little warmer than the room for longer, or with the button; it
ends when the probe has been in the air and at the room's temperature for long, when nothing
could be read for long, at the longest length, or with a long press. It ends in the air only:
in summer the bowl may be at the room's temperature.

Samples are means over an even grid of one second; where there was no fresh reading the curve
has a gap. A cup in ice water is recorded reading by reading: one reading a second would double
the uncertainty of its slope.
"""

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.curve import GAP, BlockWriter

from .store import ROOM_FOR_BATCH, ROOM_TO_CLOSE

# Between samples.
_PERIOD_MS = const(1000)
_CUP_PERIOD_MS = const(250)  # each reading
_METHOD_AT = codec.fixed_size(catalogue.PROFILE_HEAD[:1])
# A batch begins this far from the room for this long; the second pair holds in chocolate that
# is little warmer than a warm room.
_AWAY_C = const(4)
_AWAY_MS = const(3000)
_WARMER_C = const(2)
_WARMER_MS = const(10000)
# It ends within _BACK_C of the room for one of these times.
_BACK_C = const(1.5)
_BACK_MS = const(10 * 60000)
_AFTER_BUTTON_MS = const(20 * 60000)  # if begun by hand
# It also ends without any reading for so long, and at its longest.
_NOTHING_MS = const(15 * 60000)
_LONGEST_MS = const(12 * 3600000)
_NEVER = const(1 << 62)  # beyond any uptime
_LOW_FITS = const(2)  # this batch and one more: time to say that the flash fills up


def is_away(value_c, room_c, place: str) -> bool:
    """Whether a probe in ``place`` at ``value_c`` is at work in a room of ``room_c``; either may
    be None."""
    if value_c is None or room_c is None:
        return False
    return abs(value_c - room_c) >= _AWAY_C or (
        place == "chocolate" and value_c - room_c >= _WARMER_C
    )


class Recorder:
    """``running``: a batch is under way. ``curve`` is the number of the open curve, 0 if
    none; a batch whose curve the store would not take runs without one. ``by_hand``: the batch
    was begun with the button. ``ended``: why the last curve ended. ``warning`` is an alarm
    about the store's room; the caller takes it and clears it. ``settings.probe``, if there are
    any, goes behind the curve's head.
    """

    def __init__(self, store, version, board_id: int, settings=None):
        self._store = store
        self._version = version
        self._board_id = board_id
        self._settings = settings
        self._writer = BlockWriter()
        self.running = False
        self.curve = 0
        self.ended = ""
        self.warning = ""
        self._warned = False  # of little room, in this batch
        self._started_ms = self._next_ms = self._last_reading_ms = 0
        self._period_ms = _PERIOD_MS
        self._block = 0
        self._provisional = False  # the last block on flash is the beginning of what waits
        self._away_since_ms = self._back_since_ms = -1
        self.by_hand = False
        # After a curve or a bath the probe must first come back to the room.
        self._armed = True
        self._sum = 0  # of the readings since the last sample, and how many
        self._count = 0
        self._room_centi_c = catalogue.CENTI_NONE

    def wants_to_start(self, now_ms: int, value_c, room_c, place: str) -> bool:
        """Whether the probe, which is in ``place``, has left the room's temperature."""
        if not is_away(value_c, room_c, place):
            if value_c is not None and (
                room_c is None or place == "air" or abs(value_c - room_c) < _WARMER_C
            ):
                self._armed = True
            self._away_since_ms = -1
            return False
        if not self._armed:
            return False
        if self._away_since_ms < 0:
            self._away_since_ms = now_ms
        surely = abs(value_c - room_c) >= _AWAY_C
        return now_ms - self._away_since_ms >= (_AWAY_MS if surely else _WARMER_MS)

    def disarm(self) -> None:
        """Want no start before the probe was back in the room."""
        self._armed = False
        self._away_since_ms = -1

    def start(self, now_ms: int, clock, calibrated_unix_s: int, profile: bytes, by_hand: bool):
        """Begin a batch and its curve; whether there was room for the curve.

        ``clock`` is (unix_s, unix_ms) now, (0, 0) if not set. OSError if the store fails;
        the batch runs all the same.
        """
        self.running = True
        self._started_ms = self._next_ms = self._last_reading_ms = now_ms
        self._period_ms = _PERIOD_MS
        if len(profile) > _METHOD_AT and profile[_METHOD_AT] == catalogue.METHODS.index("cup"):
            self._period_ms = _CUP_PERIOD_MS
        self._block = 0
        self._provisional = False
        self.by_hand = by_hand
        self._back_since_ms = self._away_since_ms = -1
        self._sum = self._count = 0
        self.ended = self.warning = ""
        self._warned = False
        if not self._store.has_room():
            return False
        self.curve = self._store.begin()
        when = (now_ms // 1000, now_ms % 1000, clock[0], clock[1])
        where = (self._board_id, self._store.boot)
        head = where + when + tuple(self._version) + (calibrated_unix_s, profile)
        self._append_other("head", catalogue.CURVE_HEAD, head)
        if self._settings is not None:
            self._append_other("probe", catalogue.PROBE, self._settings.probe)
        if self._store.fits <= _LOW_FITS:
            self._warn_low()
        return True

    def _warn_low(self) -> None:
        if not self._warned:
            self._warned = True
            self.warning = "store_low"

    def _check_room(self, now_ms: int) -> None:
        """After a block: warn in time, and close the curve while there is room to."""
        free = self._store.free_at_least()
        if free < ROOM_TO_CLOSE:
            self.warning = "store_full"
            self._close(now_ms, "store_full")
        elif free < _LOW_FITS * ROOM_FOR_BATCH:
            self._warn_low()

    def _append_other(self, kind: str, fields, values) -> None:
        length = self._writer.finish_other(kind, fields, values, self.curve, self._block)
        self._store.append(self._writer.buffer, length)
        self._block += 1

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._next_ms if self.running else _NEVER

    def reading(self, value_128ths: int) -> None:
        """Take a good reading: a sample is the mean of those since the one before."""
        self._sum += value_128ths
        self._count += 1

    def step(self, now_ms: int, room_centi_c: int) -> None:
        """Take the samples that are due. OSError if the store fails."""
        self._room_centi_c = room_centi_c
        while self.running and now_ms >= self._next_ms:
            value = GAP
            # After a long stop only the newest point of the grid has readings.
            if self._count and now_ms - self._next_ms < self._period_ms:
                value = (self._sum + self._count // 2) // self._count
                self._sum = self._count = 0
                self._last_reading_ms = now_ms
            offset_ms = self._next_ms - self._started_ms
            self._next_ms += self._period_ms
            if not self.curve:
                continue
            self._writer.sample(offset_ms, value)
            if self._writer.full():
                self._flush()
                self._check_room(now_ms)
            elif self._writer.samples == catalogue.BLOCK_FIRST_SAMPLES:
                self._flush(True)

    def event(self, now_ms: int, kind: str, code: int, phase: str, estimate: int, number: int):
        """Note an event; ``estimate`` in centi-degrees. OSError if the store fails."""
        if not self.curve:
            return
        self._writer.event((now_ms - self._started_ms, kind, code, phase, estimate, number))
        if self._writer.full():
            self._flush()
            self._check_room(now_ms)

    def clock_set(self, now_ms: int, unix_s: int, unix_ms: int) -> None:
        """Note what time it is now, so that the curve can be placed."""
        if self.curve:
            self._flush()
            values = (now_ms - self._started_ms, unix_s, unix_ms)
            self._append_other("clock", catalogue.CLOCK_BLOCK, values)

    def _flush(self, keep: bool = False) -> None:
        """Write what waits as a block; with ``keep`` one that the next flush replaces."""
        writer = self._writer
        if writer.empty():
            return
        length = writer.finish_data(
            self.curve, self._block, self._period_ms, self._room_centi_c, keep
        )
        self._store.append(writer.buffer, length, self._provisional)
        self._provisional = keep
        if not keep:
            self._block += 1

    def rescue(self) -> None:
        """Write what waits, before a restart: the batch will go on in another curve."""
        if self.curve:
            self._flush()

    def wants_to_end(self, now_ms: int, value_c, room_c, place: str) -> str:
        """The reason to end the batch now, or an empty string."""
        if now_ms - self._started_ms >= _LONGEST_MS:
            return "longest"
        if now_ms - self._last_reading_ms >= _NOTHING_MS:
            return "fault"
        back = value_c is not None and room_c is not None and abs(value_c - room_c) <= _BACK_C
        if not back or place in ("chocolate", "entering"):
            self._back_since_ms = -1
            return ""
        if self._back_since_ms < 0:
            self._back_since_ms = now_ms
        patience_ms = _AFTER_BUTTON_MS if self.by_hand else _BACK_MS
        return "room" if now_ms - self._back_since_ms >= patience_ms else ""

    def end(self, now_ms: int, reason: str) -> None:
        """End the batch and close its curve: what waits is written, then why it ended."""
        self.running = False
        self._armed = False
        if self.curve:
            self._close(now_ms, reason)
        self.ended = reason

    def _close(self, now_ms: int, reason: str) -> None:
        try:
            self._flush()
            values = (now_ms - self._started_ms, reason)
            self._append_other("end", catalogue.END_BLOCK, values)
        finally:
            self.abandon(reason)

    def abandon(self, reason: str) -> None:
        """Close the curve without writing any more; a running batch goes on without it."""
        self._writer.samples = 0
        self._writer.events = 0
        self.curve = 0
        self.ended = reason
        self._store.end()
