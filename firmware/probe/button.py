"""One button: short presses, counted, and a long press; debounced."""

from wire.const import const

_POLL_MS = const(50)
_SETTLE_MS = const(50)  # the level must be the same at two looks
_LONG_MS = const(2000)
_PATTERN_MS = const(700)  # presses closer together than this belong together
_SWALLOWED = const(-1000)


class Button:
    """``pressed()`` is asked each _POLL_MS; ``step`` returns "press", "end", "long" or None.

    A press is reported on release, a long one as soon as it is long enough, so that the
    person can let go on hearing the answer. "end" comes when no further press has followed
    for _PATTERN_MS; ``count`` then says how many there were.
    """

    def __init__(self, pressed):
        self._pressed = pressed
        self._level = False
        self._changed_ms = 0
        self._down = False
        self._down_ms = 0
        self._long_told = False
        self._due_ms = 0
        self._open = False  # presses may follow
        self._released_ms = 0
        self.count = 0

    def swallow(self) -> None:
        """The press just told has had its effect: those that follow it have none."""
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
        if level and not self._down:
            self._down = True
            self._down_ms = self._changed_ms
            self._long_told = False
        if self._down and level and not self._long_told and now_ms - self._down_ms >= _LONG_MS:
            self._long_told = True
            self._open = False
            return "long"
        if not level and self._down:
            self._down = False
            if not self._long_told:
                self.count = self.count + 1 if self._open else 1
                self._open = True
                self._released_ms = now_ms
                return "press"
        if self._open and not self._down and now_ms - self._released_ms >= _PATTERN_MS:
            self._open = False
            if self.count > 0:
                return "end"
        return None
