"""From wrapping ticks to a plain growing time."""


class Uptime:
    """Milliseconds since start-up, from a tick counter that wraps at ``period`` ms.

    Call ``now`` at least once each half period (6.2 days at 2**30 ms). Integers only: a
    32-bit float cannot count a day of milliseconds.
    """

    def __init__(self, ticks_ms, period: int):
        self._ticks_ms = ticks_ms
        self._mask = period - 1
        if period & self._mask:
            raise ValueError("the tick period must be a power of two")
        self._last = ticks_ms()
        self._now_ms = 0

    def now(self) -> int:
        """Milliseconds since this object was made; never goes back."""
        ticks = self._ticks_ms()
        passed = (ticks - self._last) & self._mask
        # More than half a period forward is a small step back.
        if passed <= self._mask >> 1:
            self._now_ms += passed
            self._last = ticks
        return self._now_ms
