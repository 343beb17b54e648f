"""Plays one sound at a time; the more important one wins.

Hardware makes the tone (``beeper.tone(hz)``, 0 for silence; the light follows the same
rhythm), so a sound keeps its pitch whatever else the board is doing. One sound can wait for
a more important one: the most important, and of equals the newest.

Urgent sounds repeat while they have a cause, until a press silences them, or nobody has for an
hour: then nobody is there. What costs the batch comes again after seconds, the others once hands
had time to act. Several take turns, with a growing pause after all of them, in which any other
sound is heard at once. A silenced one sounds again when its cause has gone and come back.

A volume is a place in catalogue.VOLUMES. What costs the batch is never below _LOUD_AT_LEAST;
only "light" silences everything.
"""

from snapcurve.wire.const import const

from . import sounds

# Pauses: before an urgent sound comes again, growing by half each time; between two sounds.
_REPEAT_FIRST_MS = const(4000)
_REPEAT_CALM_MS = const(15000)  # where none of them costs the batch
_REPEAT_LONGEST_MS = const(30000)
_GAP_MS = const(400)
_NOBODY_MS = const(3600000)  # common practice, no source
# Volumes: sounds of at least this priority are at least so loud.
_LOUD_PRIORITY = const(7)
_LIGHT_PRIORITY = const(1)  # up to this the light alone tells, unless the sound is asked for
_LOUD_AT_LEAST = const(2)
_FULL = const(3)
_NEVER = const(1 << 62)  # beyond any uptime
# Of the urgent sounds, in the order of sounds.URGENT, those that cost the batch.
_LOUD = const(7)
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
        self._waiting = None  # row of the sound that waits, if it does not repeat
        # Of the urgent sounds: those with a cause, the silenced ones of them, and those that
        # have sounded since the last pause.
        self._lasting = self._silenced = self._sounded = 0
        self._tones = []  # type: list[tuple[bool, int]]
        self._shown = ""  # the name of the sound that was asked for
        self._index = 0
        self._next_ms = 0
        self._pause_ms = _REPEAT_FIRST_MS
        self._called_ms = 0  # when an urgent one was last called for
        self.volume = _FULL
        self._temporary = _FULL  # the volume until _until_ms
        self._until_ms = 0

    def set_volume(self, volume: int, until_ms: int) -> None:
        """Use ``volume`` from the next sound on, until ``until_ms`` if not 0."""
        self._until_ms = until_ms
        if until_ms:
            self._temporary = volume
        else:
            self.volume = volume

    def play(self, now_ms: int, name: str, shown: bool = False) -> None:
        """Start the sound ``name`` now, or after a more important one. An urgent one has a
        cause from now on, unless it is only ``shown``."""
        row = sounds.find(name)
        self._shown = name if shown else ""
        lasts = row[_URGENT] and not shown
        if lasts:
            bit = _bit(row)
            self._called_ms = now_ms
            self._lasting |= bit
            self._pause_ms = _REPEAT_FIRST_MS if self._lasting & _LOUD else _REPEAT_CALM_MS
            self._silenced &= ~bit
            self._sounded &= ~bit
        current = self._row
        more = current is not None and current[_PRIORITY] > row[_PRIORITY]
        if more and not self._pauses(now_ms):
            if not lasts and (self._waiting is None or row[_PRIORITY] >= self._waiting[_PRIORITY]):
                self._waiting = row
            return
        if self._waiting == row:
            self._waiting = None
        if current is not None and current[_URGENT] and current != row:
            # The urgent one is less important than the new: it comes back afterwards.
            self._sounded &= ~_bit(current)
        self._begin(now_ms, row)

    def _pauses(self, now_ms: int) -> bool:
        """Whether an urgent sound is silent before it comes again."""
        return self._row[_URGENT] and self._index == 0 and now_ms < self._next_ms

    def keep(self, now_ms: int, lasting: int) -> None:
        """Only the urgent sounds in ``lasting`` (batch.lasting) have a cause now."""
        changed = lasting ^ self._lasting
        if not changed:
            return
        for place in range(len(sounds.URGENT)):
            if changed >> place & 1:
                name = sounds.URGENT[place]
                if lasting >> place & 1:
                    self.play(now_ms, name)
                else:
                    self.clear(name, now_ms)

    def _begin(self, at_ms: int, row) -> None:
        self._beeper.tone(0)
        volume = self._temporary if at_ms < self._until_ms else self.volume
        if row[_PRIORITY] <= _LIGHT_PRIORITY and row[_NAME] != self._shown:
            volume = 0
        elif volume and row[_PRIORITY] >= _LOUD_PRIORITY:
            volume = max(volume, _LOUD_AT_LEAST)
        self._beeper.volume = volume
        self._row = row
        if row[_URGENT]:
            self._sounded |= _bit(row)
        self.playing = row[_NAME]
        self._tones = sounds.tones(row[_RHYTHM])
        self._index = 0
        self._next_ms = at_ms

    def silence(self) -> bool:
        """Stop everything; True if something was sounding or due to sound again."""
        was = self._row is not None
        self._silenced = self._lasting
        self._waiting = None
        self._rest()
        return was

    def _rest(self) -> None:
        self._beeper.tone(0)
        self._row = None
        self.playing = "none"

    def clear(self, name: str, now_ms: int) -> None:
        """The cause of the urgent sound ``name`` has gone."""
        bit = _bit(sounds.find(name))
        self._lasting &= ~bit
        self._silenced &= ~bit
        if self._row is not None and self._row[_NAME] == name:
            self._next(now_ms)

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
        self._next(now_ms)

    def _next(self, now_ms: int) -> None:
        """Go over to what waits, or has its turn: the most important first."""
        waiting = self._waiting
        if now_ms - self._called_ms >= _NOBODY_MS:
            self._silenced = self._lasting
        due = self._lasting & ~self._silenced
        pause_ms = _GAP_MS
        row = None
        if due & ~self._sounded:
            row = _first(due & ~self._sounded)
        elif due and waiting is None:
            row = _first(due)
            self._sounded = 0
            pause_ms = self._pause_ms
            self._pause_ms = min(pause_ms * 3 // 2, _REPEAT_LONGEST_MS)
        if waiting is not None and (row is None or waiting[_PRIORITY] > row[_PRIORITY]):
            row = waiting
            self._waiting = None
        if row is None:
            self._rest()
        else:
            self._begin(now_ms + pause_ms, row)

    def due_ms(self) -> int:
        """When ``step`` wants to be called again; _NEVER if nothing sounds."""
        return _NEVER if self._row is None else self._next_ms


def _bit(row) -> int:
    """The bit of an urgent sound."""
    return 1 << sounds.URGENT.index(row[_NAME])


def _first(bits: int):
    """The row of the most important one."""
    place = 0
    while not bits >> place & 1:
        place += 1
    return sounds.find(sounds.URGENT[place])
