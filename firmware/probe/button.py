"""One button: a short press and a long press, debounced."""

POLL_MS = 50
SETTLE_MS = 50  # the level must be the same at two looks
LONG_MS = 2000


class Button:
    """``pressed()`` is asked each POLL_MS; ``step`` returns "press", "long" or None.

    A press is reported on release, a long one as soon as it is long enough, so that the
    person can let go on hearing the answer.
    """

    def __init__(self, pressed):
        self._pressed = pressed
        self._level = False
        self._changed_ms = 0
        self._down = False
        self._down_ms = 0
        self._long_told = False
        self._due_ms = 0

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._due_ms

    def step(self, now_ms: int):
        """Look at the button; what happened, or None."""
        if now_ms < self._due_ms:
            return None
        self._due_ms = now_ms + POLL_MS
        level = self._pressed()
        if level != self._level:
            self._level = level
            self._changed_ms = now_ms
        if now_ms - self._changed_ms < SETTLE_MS:
            return None
        if level and not self._down:
            self._down = True
            self._down_ms = self._changed_ms
            self._long_told = False
        if self._down and level and not self._long_told and now_ms - self._down_ms >= LONG_MS:
            self._long_told = True
            return "long"
        if not level and self._down:
            self._down = False
            if not self._long_told:
                return "press"
        return None
