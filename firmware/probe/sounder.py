"""Plays one sound at a time; the more important one wins.

The tone itself is made by hardware (``beeper.tone(hz)``, 0 for silence; the light follows
the same rhythm), so a sound keeps its pitch whatever else the board is doing. A pattern
that was due while a more important one sounded waits for it. There is one such place: the
more important has it, and of two that are equally important the newer.

Two urgent sounds take turns, and the pause that grows comes after both.

A volume is a place in catalogue.VOLUMES. However quiet it is set, what costs the batch is
never below _LOUD_AT_LEAST; only "light" silences everything, and that somebody chose.
"""

from wire.const import const

from . import sounds

_REPEAT_FIRST_MS = const(4000)  # pause before an urgent sound comes again; grows by half each time
_REPEAT_LONGEST_MS = const(30000)
_GAP_MS = const(400)  # between two different sounds
_LOUD_PRIORITY = const(7)
_LOUD_AT_LEAST = const(2)
_FULL = const(3)
_NEVER = const(1 << 62)  # beyond any uptime
# Places in a row of sounds.find.
_NAME = const(0)
_RHYTHM = const(1)
_HZ = const(2)
_PRIORITY = const(3)
_URGENT = const(4)


class Sounder:
    """Sounds by name; ``playing`` is the name of what sounds or repeats now, or "none"."""

    def __init__(self, beeper):
        self._beeper = beeper
        self.playing = "none"
        self._row = None
        self._waiting = None  # row of the sound that waits
        self._waiting_sounded = False  # since the last pause: then the pause comes first
        self._tones = []  # type: list[tuple[bool, int]]
        self._index = 0
        self._next_ms = 0
        self._pause_ms = _REPEAT_FIRST_MS
        self.volume = _FULL
        self._for_now = _FULL
        self._until_ms = 0  # from then on ``volume`` holds again

    def set_volume(self, volume: int, until_ms: int) -> None:
        """From the next sound on: ``volume`` for good, or up to ``until_ms`` if not 0."""
        self._until_ms = until_ms
        if until_ms:
            self._for_now = volume
        else:
            self.volume = volume

    def play(self, now_ms: int, name: str) -> None:
        """Start the sound ``name`` now, or after a more important one."""
        row = sounds.find(name)
        if row[_URGENT]:
            self._pause_ms = _REPEAT_FIRST_MS
        current = self._row
        if current is not None and current[_PRIORITY] > row[_PRIORITY]:
            self._wait(row)
            return
        if self._waiting == row:
            self._waiting = None
        if current is not None and current[_URGENT] and current != row:
            # The urgent one is less important than the new: it comes back afterwards.
            self._wait(current)
        self._begin(now_ms, row)

    def _wait(self, row) -> None:
        if self._waiting is None or row[_PRIORITY] >= self._waiting[_PRIORITY]:
            self._waiting = row
            self._waiting_sounded = False

    def _begin(self, at_ms: int, row) -> None:
        self._beeper.tone(0)
        volume = self._for_now if at_ms < self._until_ms else self.volume
        if volume and row[_PRIORITY] >= _LOUD_PRIORITY:
            volume = max(volume, _LOUD_AT_LEAST)
        self._beeper.volume = volume
        self._row = row
        self.playing = row[_NAME]
        self._tones = sounds.tones(row[_RHYTHM])
        self._index = 0
        self._next_ms = at_ms

    def silence(self) -> bool:
        """Stop everything; True if something was sounding or due to sound again."""
        was = self._row is not None
        self._beeper.tone(0)
        self._row = self._waiting = None
        self.playing = "none"
        return was

    def clear(self, name: str, now_ms: int) -> None:
        """The cause of the urgent sound ``name`` has gone."""
        if self._waiting is not None and self._waiting[_NAME] == name:
            self._waiting = None
        if self._row is not None and self._row[_NAME] == name:
            self._next(now_ms, None)

    def step(self, now_ms: int) -> None:
        """Switch the tone if it is time."""
        row = self._row
        if row is None or now_ms < self._next_ms:
            return
        if self._index < len(self._tones):
            sounding, length_ms = self._tones[self._index]
            self._beeper.tone(row[_HZ] if sounding else 0)
            self._index += 1
            self._next_ms = now_ms + length_ms
            return
        self._next(now_ms, row if row[_URGENT] else None)

    def _next(self, now_ms: int, again) -> None:
        """Go over to the sound that waits; ``again`` is the row that has to come back."""
        row, sounded = self._waiting, self._waiting_sounded
        self._waiting = None
        if row is None:
            row, again, sounded = again, None, True
        if row is None:
            self._beeper.tone(0)
            self._row = None
            self.playing = "none"
            return
        pause_ms = _GAP_MS
        if sounded:
            pause_ms = self._pause_ms
            self._pause_ms = min(pause_ms * 3 // 2, _REPEAT_LONGEST_MS)
        self._begin(now_ms + pause_ms, row)
        if again is not None:
            self._waiting = again
            self._waiting_sounded = not sounded

    def due_ms(self) -> int:
        """When ``step`` wants to be called again; _NEVER if nothing sounds."""
        return _NEVER if self._row is None else self._next_ms
