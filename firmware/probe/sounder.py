"""Plays one sound at a time; the more important one wins.

The tone itself is made by hardware (``beeper.tone(hz)``, 0 for silence; the light follows
the same rhythm), so a sound keeps its pitch whatever else the board is doing. A pattern
that was due while a more important one sounded waits for it: one place, the newest.
"""

from . import sounds

REPEAT_FIRST_MS = 4000  # pause before an urgent sound comes again; grows by half each time
REPEAT_LONGEST_MS = 30000
GAP_MS = 400  # between two different sounds
NEVER = 0x3FFFFFFF


class Sounder:
    """Sounds by name; ``playing`` is the name of what sounds or repeats now, or "none"."""

    def __init__(self, beeper):
        self._beeper = beeper
        self.playing = "none"
        self._waiting = ""
        self._tones = []  # type: list[tuple[bool, int]]
        self._index = 0
        self._next_ms = 0
        self._pause_ms = REPEAT_FIRST_MS
        self._row = None

    def play(self, now_ms: int, name: str) -> None:
        """Start the sound ``name`` now, or after a more important one."""
        row = sounds.find(name)
        if self._row is not None and self._row[3] > row[3]:
            # Between two repeats of an urgent sound there is room for the other.
            self._waiting = name
            return
        if self._row is not None and self._row[4] and self._row[0] != name:
            # The urgent one is less important than the new: it comes back afterwards.
            self._waiting = self._row[0]
        self._begin(now_ms, row)

    def _begin(self, now_ms: int, row) -> None:
        self._beeper.tone(0)
        self._row = row
        self.playing = row[0]
        self._tones = sounds.tones(row[1])
        self._index = 0
        self._pause_ms = REPEAT_FIRST_MS
        self._next_ms = now_ms

    def silence(self) -> bool:
        """Stop everything; True if something was sounding or due to sound again."""
        was = self._row is not None
        self._beeper.tone(0)
        self._row = None
        self._waiting = ""
        self.playing = "none"
        return was

    def clear(self, name: str, now_ms: int) -> None:
        """The cause of the urgent sound ``name`` has gone."""
        if self._waiting == name:
            self._waiting = ""
        if self._row is not None and self._row[0] == name:
            self._finish(now_ms)

    def _finish(self, now_ms: int) -> None:
        self._beeper.tone(0)
        self._row = None
        self.playing = "none"
        if self._waiting:
            name = self._waiting
            self._waiting = ""
            self._begin(now_ms + GAP_MS, sounds.find(name))

    def step(self, now_ms: int) -> None:
        """Switch the tone if it is time."""
        row = self._row
        if row is None or now_ms < self._next_ms:
            return
        if self._index < len(self._tones):
            sounding, length_ms = self._tones[self._index]
            self._beeper.tone(row[2] if sounding else 0)
            self._index += 1
            self._next_ms = now_ms + length_ms
            return
        self._beeper.tone(0)
        if not row[4]:
            self._finish(now_ms)
            return
        if self._waiting:
            # Let the waiting sound use the pause, then come back to this one.
            waiting = sounds.find(self._waiting)
            self._begin(now_ms + GAP_MS, waiting)
            self._waiting = row[0]
            return
        self._index = 0
        self._next_ms = now_ms + self._pause_ms
        self._pause_ms = min(self._pause_ms * 3 // 2, REPEAT_LONGEST_MS)

    def due_ms(self) -> int:
        """When ``step`` wants to be called again; NEVER if nothing sounds."""
        return NEVER if self._row is None else self._next_ms
