"""What the chocolate is, from what the probe says.

Where the probe is says one belief (immersion.py), what the chocolate is at a bank of filters for
probes of several lags (lag_filter.py). At each way in the lag that explains the readings best
gains weight, once everything has melted: while pieces melt the chocolate itself moves, and a
filter that is too slow would explain that best.

The spread is what the bank is unsure of, how far its value has lately scattered about a slow line
through it, and a floor. The engine asks for patience by it.

What no bowl can do is not judged (``withheld`` says why): a rise faster than heat can warm it is
a wall or hot air at the tip; what is above _NOT_CHOCOLATE_C is no chocolate.
"""

import math

from snapcurve.wire.const import const

from .immersion import HOLD, Immersion
from .lag_filter import PERIOD_S, LagBank

_GAP_MS = const(1200)  # after a longer pause the past says nothing about the slope

# How the bank learns the lag.
_LAG_LEARN = const(0.1)  # of a log-likelihood: neighbouring readings say nearly the same
_LAG_LEARN_MELTING = const(0.02)  # the same before everything has melted
_MELTED_C = const(35)  # above this everything has melted
_SOLID_C = const(27)  # below this it is solid again
_LAG_LEARN_S = const(14)  # after immersion learning ends

# A wild value that falls between two conversions shows in both, and a median of three lets
# the second pass. No probe in a bowl jumps so far: the reading before holds, unless the new
# value lasts. Here and not in reading.py, because measuring a probe's response, from ice into
# boiling water, needs its jumps as they are.
_WILD = const(768)  # 1/128 °C: the jump
_WILD_READINGS = const(3)  # a longer jump is real
_DROP = const(40)  # fallen so far within two readings: hardly in the bowl
_NOT_CHOCOLATE = const(14080)  # 110 °C

# When a value after immersion counts.
_SETTLED_SD_C = const(1.20)  # largest spread
_SETTLED_LAGS = const(0.5)  # least time, in lags
_SETTLED_LATE_S = const(15)  # then it counts with any spread
_JUMP_WITHHELD_S = const(14)  # after a rise that is no bowl's
_MOVED_C = const(8)  # no wall and no hot air, but another bowl

# The spread.
_FLOOR_C = const(0.07)
_LATE_PARTS = (0.14, 0.6, 0.24)  # of the bank's, by phase: so that it is honest
_SCATTER_PARTS = (4.14, 0.6, 0.24)  # of the scatter: in the window nothing but patches makes it
_SCATTER_MOST = const(0.014)  # more, in the window, is one cold lump or a real fall
_FLOOR_EARLY_C = const(0.15)
_EARLY_LAGS = const(2.5)  # on the way in the scatter says nothing
_LEFT_PART = const(0.14)  # of the way that is left
_SCATTER_S = const(40)  # running mean of the squared scatter
_LINE_KEEP = const(0.9592)  # exp(-PERIOD_S / 6 s): the slow line, critically damped alpha-beta
_LINE_VALUE = const(0.0799)  # 1 - _LINE_KEEP²
_LINE_RATE = const(0.00166)  # (1 - _LINE_KEEP)²

_AWAY_READINGS = const(160)  # so long the filters run on after the way out


class Estimate:
    """Feed readings with ``update``; read the attributes.

    ``place``         "unknown", "chocolate", "air" or "entering"
    ``chocolate_c``   temperature of the chocolate, °C; meaningful in "chocolate"
    ``rate_c_per_s``  its rate
    ``spread_c``      standard deviation of ``chocolate_c``
    ``patch_c``       how uneven the bowl seems, °C
    ``lag_s``         the probe's lag as far as it is known
    ``immersed_s``    how long ago the probe went in
    """

    def __init__(self):
        self._bank = LagBank()
        self._immersion = Immersion()
        self._melted = False
        self.chocolate_c = self.rate_c_per_s = 0.0
        self.spread_c = self.patch_c = 0.0
        self.lag_s = self._bank.lag_s
        self._start(0)
        self.lost()

    def set_lag(self, lag_s: float) -> None:
        """The probe's lag has been measured."""
        self._bank.set_lag(lag_s)
        self.lag_s = self._bank.lag_s
        self._immersion.set_lag(self.lag_s)

    @property
    def place(self) -> str:
        """Where the probe is."""
        return self._immersion.place

    def room_c(self):
        """What the room is at, °C, None if that is not known."""
        room = self._immersion.room()
        return None if room is None else room / 128

    @property
    def trusted(self) -> bool:
        """Whether ``chocolate_c`` may be judged: settled, and nothing that no bowl can do."""
        return self.place == "chocolate" and not self._withheld_s

    @property
    def doubtful(self) -> bool:
        """Whether the probe may just be leaving: alarms that fall due meanwhile wait."""
        return self._drop or self._immersion.doubtful

    def lost(self) -> None:
        """No reading: what was known about the place is void."""
        self._immersion.lost()
        self._wild = 0
        self._drop = False
        self.immersed_s = 0.0
        self._withheld_s = self._jump_from_c = 0.0
        self._last_ms = -1
        self._before = self._third = 0
        self._fresh = True

    def update(self, now_ms: int, z: int, junction, phase: int = HOLD) -> None:
        """Take one reading ``z`` in 1/128 °C, free of single wild ones (thermometer/reading.py).

        ``junction`` is the cold junction, None if it is not known; ``phase`` what the bowl does
        (immersion.py).
        """
        if z > _NOT_CHOCOLATE:
            return
        if self._last_ms >= 0 and now_ms - self._last_ms > _GAP_MS:
            self.lost()
        self._last_ms = now_ms
        z = self._tamed(z)
        immersion = self._immersion
        immersion.update(z, junction, phase)
        if self._fresh or immersion.entered:
            self._fresh = False
            self._start(z)
        if immersion.jumped:
            self._withheld_s = float(_JUMP_WITHHELD_S)
            self._jump_from_c = z / 128
        if immersion.place == "air" and immersion.away > _AWAY_READINGS:
            return
        self.immersed_s += PERIOD_S
        if self._withheld_s:
            self._withheld_s = max(0.0, self._withheld_s - PERIOD_S)
            if self.chocolate_c > self._jump_from_c + _MOVED_C:
                self._withheld_s = 0.0
        self._step(z, phase)
        if immersion.place == "entering":
            settled = self.immersed_s >= _SETTLED_LAGS * self.lag_s
            if self.immersed_s >= _SETTLED_LATE_S or (settled and self.spread_c < _SETTLED_SD_C):
                immersion.settled()

    def _tamed(self, z: int) -> int:
        before = self._before
        if self._fresh or abs(z - before) <= _WILD or self._wild == _WILD_READINGS:
            self._wild = 0
        else:
            self._wild += 1
            z = before
        self._drop = not self._fresh and z < self._third - _DROP
        self._third, self._before = before, z
        return z

    def _start(self, z: int) -> None:
        self._bank.start(z / 128)
        self.immersed_s = 0.0
        self._scatter = 0.0
        self._line_c = z / 128
        self._line_rate = 0.0

    def _step(self, z: int, phase: int) -> None:
        bank = self._bank
        indicated_c = z / 128
        learn = 0.0
        early = self.immersed_s < _LAG_LEARN_S
        if early and self.place in ("entering", "chocolate") and not self.doubtful:
            if self.chocolate_c > _MELTED_C:
                self._melted = True
            elif self.place == "chocolate" and self.chocolate_c < _SOLID_C:
                self._melted = False
            learn = _LAG_LEARN if self._melted else _LAG_LEARN_MELTING
        bank.step(indicated_c, phase, learn)
        if learn:
            self.lag_s = bank.lag_s
            self._immersion.set_lag(self.lag_s)
        rate = bank.rate_c_per_s
        # The thermometer's reading is one period old.
        value_c = bank.value_c + rate * PERIOD_S
        self.chocolate_c = value_c
        self.rate_c_per_s = rate
        variance = bank.variance
        left_c = _LEFT_PART * (value_c - indicated_c)
        if self.immersed_s < _EARLY_LAGS * self.lag_s:
            variance += left_c * left_c + _FLOOR_EARLY_C * _FLOOR_EARLY_C
            self._line_c = value_c
            self._line_rate = 0.0
            self.patch_c = 0.2
        else:
            self._line_c += self._line_rate
            off_c = value_c - self._line_c
            self._line_c += _LINE_VALUE * off_c
            self._line_rate += _LINE_RATE * off_c
            self._scatter += (off_c * off_c - self._scatter) * (PERIOD_S / _SCATTER_S)
            scattered = _SCATTER_PARTS[phase] * self._scatter
            if phase == HOLD:
                scattered = min(scattered, _SCATTER_MOST)
            variance = _LATE_PARTS[phase] * variance + scattered
            variance += left_c * left_c + _FLOOR_C * _FLOOR_C
            self.patch_c = math.sqrt(self._scatter)
        self.spread_c = math.sqrt(variance)
