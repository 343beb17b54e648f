"""One button: short presses, counted, and a long press; debounced."""

from snapcurve.wire.const import const

_POLL_MS = const(50)
_SETTLE_MS = const(50)  # debounce: the level must last so long
_LONG_MS = const(2000)
_STUCK_MS = const(10000)
_PATTERN_MS = const(700)  # presses closer together than this belong together
_SWALLOWED = const(-1000)


class Button:
    """``pressed()`` is asked each _POLL_MS; ``step`` returns "press", "end", "held", "long",
    "stuck" or None.

    A press is reported on release. One that is long enough is "held", so that the person can
    let go on hearing the answer, and "long" on release: a button that is stuck ends nothing.
    "end" comes when no further press has followed for _PATTERN_MS; ``count`` says how many
    there were. ``stuck``: it was down at the start, or is down for _STUCK_MS; until it comes up
    it counts for nothing.
    """

    def __init__(self, pressed):
        self._pressed = pressed
        self._level = self._down = self._was_up = self._held_reported = False
        self._changed_ms = self._down_ms = self._released_ms = self._due_ms = 0
        self._open = False  # presses may follow
        self.stuck = False
        self.count = 0

    def swallow(self) -> None:
        """The last press has had its effect: those that follow it have none."""
        self.count = _SWALLOWED

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._due_ms

    def step(self, now_ms: int):
        """Look at the button; what happened, or None."""
        if now_ms < self._due_ms:
            return None
        self._due_ms = now_ms + _POLL_MS
        level = self._pressed()
        if level != self._level:
            self._level = level
            self._changed_ms = now_ms
        if now_ms - self._changed_ms < _SETTLE_MS:
            return None
        if not level:
            self._was_up = True
            return self._up(now_ms)
        if not self._down:
            self._down = True
            self._down_ms = self._changed_ms
            self._held_reported = False
        held_ms = now_ms - self._down_ms
        if not self.stuck and (held_ms >= _STUCK_MS or not self._was_up):
            self.stuck = True
            self._open = False
            return "stuck"
        if not self.stuck and not self._held_reported and held_ms >= _LONG_MS:
            self._held_reported = True
            self._open = False
            return "held"
        return None

    def _up(self, now_ms: int):
        if self._down:
            self._down = False
            if self.stuck:
                self.stuck = False
            elif self._held_reported:
                return "long"
            else:
                self.count = self.count + 1 if self._open else 1
                self._open = True
                self._released_ms = now_ms
                return "press"
        if self._open and now_ms - self._released_ms >= _PATTERN_MS:
            self._open = False
            if self.count > 0:
                return "end"
        return None
