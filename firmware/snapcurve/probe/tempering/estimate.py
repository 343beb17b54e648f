"""What the chocolate is, from what the probe says.

Where the probe is shows in the slope of its reading. Out of the bowl it runs towards the
room with the time constant of a probe in air, tens of seconds, which chocolate in a bowl
never does; put back in, it runs towards the chocolate within seconds, or simply stops
falling.

What the chocolate is at comes from a bank of lag filters (lag_filter.py), since the probe's
lag is unknown. At each immersion the lag that explains the readings best gains weight, and
the weights stay from one immersion to the next. The estimate is the mean over the bank, its
spread comes from the filters' variances and their disagreement (multiple-model estimation,
Magill 1965). The engine asks for patience by that spread.

The bank learns in earnest only once everything has melted: while pieces melt the chocolate
itself moves, and a filter that is too slow would explain that best. One odd reading counts
little, and learning ends before the probe may be taken out again.

Slow probes (5 to 8 s) can have a share of their lag between sheath and junction. Foreseen
with one time constant they read up to a degree too high for ten seconds, and the melt was
announced up to 0.7 °C too soon. Four filters have that share and start with the sheath's
temperature open; they weigh less at first, filters with hardly any weight rest, and no
crossing counts in the first seconds (engine.py). On 600 batches held back (`alarms`, seeds
8, 9 and 10) the melt was announced at most 12 s late in 97.3, 96.1 and 97.8 %, and too soon
by at most 0.23, 0.17 and 0.43 °C; the aim of 0.4 °C is missed in one (a probe of 7.3 s, 9 s
after immersion). Of the 1,200 on which the constants were chosen, one was 0.40 °C too soon
and 96.6 % were in time.
"""

import math
from array import array

from snapcurve.wire.const import const

from .lag_filter import LagFilter

_PERIOD_S = const(0.25)  # between readings; the thermometer keeps to it
_GAP_MS = const(1200)  # after a longer pause the past says nothing about the slope

# Slope: the line through the last _WINDOW readings (3 s).
_WINDOW = const(12)
_CENTRE = const(5.5)  # mean of the places in it
_SUM_SQUARES = const(143)  # of their distances from it: n (n² - 1) / 12

# The bank: lags in seconds, and the share of a lag between sheath and junction. A quick probe
# needs no filter with a share.
LAGS_S = (1.9, 2.4, 3.0, 3.8, 4.8, 6.1, 7.6)
_SHARE = const(0.22)
BANK = tuple([(one, 0.0) for one in LAGS_S] + [(one, _SHARE) for one in LAGS_S[3:]])
_SHARE_PRIOR = const(0.4)  # weight of a filter with a share: most probes show little of it
_SHARE_DOUBT = const(3)  # taken off its log-weight when the lag has been measured

# How the bank learns the lag.
_LAG_LEARN = const(0.2)  # of a log-likelihood: neighbouring readings say nearly the same
_LAG_LEARN_MELTING = const(0.02)  # the same before everything has melted
_MELTED_C = const(35)  # above this everything has melted
_SOLID_C = const(27)  # below this it is solid again
_LAG_LEARN_S = const(14)  # after immersion learning ends
_LAG_DOUBT = const(-6)  # lowest log-weight: no lag is ever given up
_LAG_IDLE = const(-5)  # a filter below this rests until the next immersion
_PATCH_AFTER_LAGS = const(2.5)  # after immersion: then innovations show the bowl, not the lag

# Into the air: the reading z falls towards the room.
_AIR_FAST_S = const(110)  # faster than (z - room) / _AIR_FAST_S: in the air
_AIR_SLOW_S = const(260)  # slower than (z - room) / _AIR_SLOW_S: not in the air
_AIR_MIN_SLOPE = const(0.04)  # °C/s; a smaller slope means nothing
_AIR_FALL_C = const(1)  # least fall: more than a cold patch explains
_AIR_FALL_PART = const(0.12)  # least fall as a part of the way to the room
_AIR_LONG = const(20)  # falling readings after which a smaller fall is enough
_AIR_DOUBT = const(3)  # falling readings after which nothing is judged
_AIR_FORGET = const(2)  # falling readings taken back by one that does not fall
_BACK_S = const(8)  # how far back the highest reading may lie from which it fell

# Near the room noise hides how a probe in the air falls.
_FALL_ROOM_C = const(2)  # closer to the room nothing falls like that any more
_NEAR_ROOM_C = const(1)  # closer to the room a still reading tells nothing
_BELOW_ROOM_C = const(3)  # up to so far below it, too: the converter is warmer than the room
_STILL_ROOM_C = const(8)  # closer than this _STILL_READINGS in a row must not fall
_STILL_READINGS = const(8)
_REST_ROOM_C = const(3)  # closer than this the reading must rest for _REST_S
_REST_S = const(15)  # air covers an eighth of the way to the room in it
_REST_PART = const(0.08)  # of the way to the room: a smaller fall in _REST_S is rest
_REST_MEAN_S = const(3)  # means over so long are compared
_REST_PLACES = const(18)  # _REST_S + _REST_MEAN_S

# A wild value that falls between two conversions shows in both, and a median of three lets
# the second pass. No probe in a bowl jumps so far: the reading before holds, unless the new
# value lasts. Here and not in reading.py, because measuring a probe's response, from ice into
# boiling water, needs its jumps as they are.
_WILD_C = const(6)  # the jump
_WILD_READINGS = const(3)  # a longer jump is real

# Perhaps just being taken out.
_DROP_C = const(0.3)  # fallen so far within three readings: hardly in the bowl
_SLIP_C = const(0.02)  # the mean innovation lies so far below zero
_SLIP_SHARE = const(0.4)  # of an innovation that goes into that mean

# Immersion: from the air, or moved into something warmer.
_ENTER_RISE = const(0.25)  # °C/s, from the air
_ENTER_C = const(0.5)  # above the lowest of the last seconds, from the air
_JUMP_RISE = const(0.6)  # °C/s; no bowl warms so fast
_JUMP_C = const(1)  # a reading that rises so and is so far above the estimate has moved
_JUMP_LAGS = const(4)  # a reading that rises so this long after immersion has moved

# When a value after immersion counts.
_SETTLED_SD_C = const(1.20)  # largest spread
_SETTLED_LAGS = const(0.5)  # least time, in lags
_SETTLED_LATE_S = const(15)  # then it counts with any spread


class Estimate:
    """Feed readings with ``update``; read the attributes.

    ``place``         "unknown", "chocolate", "air" or "entering"
    ``chocolate_c``   temperature of the chocolate, °C; meaningful in "chocolate"
    ``rate_c_per_s``  its rate
    ``spread_c``      standard deviation of ``chocolate_c`` as the bank sees it
    ``patch_c``       how uneven the bowl seems, °C
    ``lag_s``         the probe's lag as far as it is known
    ``immersed_s``    how long ago the probe went in
    """

    def __init__(self, bank=BANK):
        self._filters = [LagFilter(_PERIOD_S, lag_s, share) for lag_s, share in bank]
        # Arrays, since the numbers of a list scatter over the heap.
        self._log_weights = array("d", [0.0] * len(bank))
        self._priors = array("d", [_SHARE_PRIOR if share else 1.0 for _, share in bank])
        self._parts = array("d", [0.0] * len(bank))  # of each filter in the mean
        self._z = array("d", [0.0] * _WINDOW)
        self._peaks = array("d", [0.0] * int(_BACK_S))  # highest of each of the last seconds
        self._means = array("d", [0.0] * _REST_PLACES)  # of each second, a ring
        self._melted = False
        self.place = "unknown"
        self.chocolate_c = self.rate_c_per_s = 0.0
        self.spread_c = self.patch_c = self.lag_s = 0.0
        self._forget()
        self._start_filters(0.0)
        self._mix(_LAG_DOUBT)

    def set_lag(self, lag_s: float) -> None:
        """The probe's lag has been measured: the nearest filters start far ahead."""
        weights = self._log_weights
        for index in range(len(weights)):
            ratio = math.log(self._filters[index].lag_s / lag_s)
            weights[index] = -40 * ratio * ratio
            if self._priors[index] < 1.0:
                weights[index] -= _SHARE_DOUBT
        self._normalise()
        self.lost()  # filters may have rested

    @property
    def trusted(self) -> bool:
        """Whether ``chocolate_c`` may be judged: settled, and not just being taken out."""
        return self.place == "chocolate" and self._air_votes < _AIR_DOUBT and not self._drop

    @property
    def slipping(self) -> bool:
        """Whether the last readings lie below their predictions: the probe may just be leaving.

        Alarms that fall due meanwhile wait. That does not keep all silent: in its first half
        second in the air a probe falls by less than its noise, and in one or two of 200
        rehearsed batches an alarm sounds within a second of the way out.
        """
        return self._slip_c < -_SLIP_C

    def _forget(self) -> None:
        self._seen = self._count = self._at = 0
        self._air_votes = self._wild = self._still = 0
        self._drop = False
        self._second = 0.0  # sum of the readings of the second that is filling
        self._means_at = self._means_count = 0
        self._slip_c = self.immersed_s = 0.0
        self._last_ms = -1
        self._fresh = True

    def lost(self) -> None:
        """No reading: what was known about the place is void."""
        self._forget()
        self.place = "unknown"

    def update(self, now_ms: int, z: float, room_c) -> None:
        """Take one reading ``z`` in °C, free of single wild ones (thermometer/reading.py).

        ``room_c`` may be None if the room is not known.
        """
        if self._last_ms >= 0 and now_ms - self._last_ms > _GAP_MS:
            self.lost()
        self._last_ms = now_ms
        z = self._tamed(z)
        self._seen += 1
        self._drop = z < self._z[(self._at - 3) % _WINDOW] - _DROP_C
        self._push(z)
        if self._fresh:
            self._start_filters(z)
            self._fresh = False
        self.immersed_s += _PERIOD_S
        if self.place != "air":
            self._step_filters(z)
        if self._count == _WINDOW:
            self._judge_place(z, self._slope(), room_c)

    def _tamed(self, z: float) -> float:
        before = self._z[self._at - 1]
        if self._fresh or abs(z - before) <= _WILD_C or self._wild == _WILD_READINGS:
            self._wild = 0
            return z
        self._wild += 1
        return before

    def _push(self, z: float) -> None:
        # Peaks move on by one each second; the first of them is still filling.
        if self._seen % 4 == 3 or self._fresh:
            for index in range(len(self._peaks) - 1, 0, -1):
                self._peaks[index] = z if self._fresh else self._peaks[index - 1]
            self._peaks[0] = z
        elif z > self._peaks[0]:
            self._peaks[0] = z
        self._second += z
        if self._seen % 4 == 0:
            self._means[self._means_at] = self._second / 4
            self._means_at = (self._means_at + 1) % _REST_PLACES
            self._means_count = min(_REST_PLACES, self._means_count + 1)
            self._second = 0.0
        self._z[self._at] = z
        self._at = (self._at + 1) % _WINDOW
        if self._count < _WINDOW:
            self._count += 1

    def _slope(self) -> float:
        """Slope of the line through the window, °C/s."""
        slope = 0.0
        at = self._at
        for index in range(_WINDOW):
            slope += (index - _CENTRE) * self._z[at]
            at += 1
            if at == _WINDOW:
                at = 0
        return slope / (_SUM_SQUARES * _PERIOD_S)

    def _rests(self, above_room: float) -> bool:
        """Whether the reading fell by less than in air so close to the room."""
        if self._means_count < _REST_PLACES:
            return False
        fallen_c = 0.0
        for place in range(_REST_MEAN_S):
            first = (self._means_at + place) % _REST_PLACES  # the oldest is overwritten next
            fallen_c += self._means[first] - self._means[(first + _REST_S) % _REST_PLACES]
        return fallen_c / _REST_MEAN_S < _REST_PART * above_room

    # --- the bank -------------------------------------------------------------------

    def _start_filters(self, z: float) -> None:
        for one in self._filters:
            one.start(z)

    def _step_filters(self, z: float) -> None:
        """Step the bank. Immersion tells lags apart, an even course tells patches."""
        weights = self._log_weights
        sure = self._air_votes == 0
        early = self.immersed_s < _LAG_LEARN_S
        entering = sure and early
        calm = self.immersed_s > _PATCH_AFTER_LAGS * self.lag_s
        if self.chocolate_c > _MELTED_C:
            self._melted = True
        elif self.place == "chocolate" and self.chocolate_c < _SOLID_C:
            self._melted = False
        learn = _LAG_LEARN if self._melted else _LAG_LEARN_MELTING
        for index in range(len(self._filters)):
            if not early and weights[index] < _LAG_IDLE:
                continue
            likely = self._filters[index].step(z, calm and sure, calm)
            if entering:
                weights[index] += learn * likely
        if entering:
            self._normalise()
        self._mix(_LAG_DOUBT if early else _LAG_IDLE)

    def _normalise(self) -> None:
        weights = self._log_weights
        top = max(weights)
        for index in range(len(weights)):
            weights[index] = max(weights[index] - top, _LAG_DOUBT)

    def _mix(self, least: float) -> None:
        """Value, rate and spread over all lags that do not rest, each by its weight."""
        total = value = rate = lag = patch = innovation = 0.0
        parts = self._parts
        for index in range(len(parts)):
            parts[index] = 0.0
            if self._log_weights[index] < least:
                continue
            one = self._filters[index]
            weight = parts[index] = math.exp(self._log_weights[index]) * self._priors[index]
            total += weight
            value += weight * one.value_c
            rate += weight * one.rate_c_per_s
            lag += weight * one.lag_s
            patch += weight * one.patch_c
            innovation += weight * one.innovation_c
        value /= total
        variance = 0.0
        for index in range(len(parts)):
            if parts[index] > 0.0:
                one = self._filters[index]
                off = one.value_c - value
                variance += parts[index] * (one.variance + off * off)
        self.rate_c_per_s = rate / total
        # The thermometer's reading is one period old.
        self.chocolate_c = value + self.rate_c_per_s * _PERIOD_S
        self.spread_c = math.sqrt(max(0.0, variance / total))
        self.lag_s = lag / total
        self.patch_c = patch / total
        self._slip_c += _SLIP_SHARE * (innovation / total - self._slip_c)

    # --- the place ------------------------------------------------------------------

    def _judge_place(self, z: float, slope: float, room_c) -> None:
        place = self.place
        # With an unknown room nothing falls like air, and nothing is near it.
        above_room = 0.0 if room_c is None else z - room_c
        if place == "air":
            rising = slope > _ENTER_RISE or z > min(self._z) + _ENTER_C
            still = above_room > _NEAR_ROOM_C and slope > -above_room / _AIR_SLOW_S
            if still and above_room < _REST_ROOM_C:
                still = self._rests(above_room)
            self._still = self._still + 1 if still else 0
            if rising or self._still >= (_STILL_READINGS if above_room < _STILL_ROOM_C else 1):
                self._enter(z)
            return
        if self._falls_like_air(slope, above_room):
            self._air_votes = min(_AIR_LONG, self._air_votes + 1)
            fallen_c = max(self._peaks) - z
            if self._air_votes >= _AIR_LONG or fallen_c > max(
                _AIR_FALL_C, _AIR_FALL_PART * above_room
            ):
                self.place = "air"
            return
        self._air_votes = max(0, self._air_votes - _AIR_FORGET)
        if (
            place == "chocolate"
            and slope > _JUMP_RISE
            and (z > self.chocolate_c + _JUMP_C or self.immersed_s > _JUMP_LAGS * self.lag_s)
        ):
            self._enter(z)
        if place == "unknown":
            if room_c is not None and -_BELOW_ROOM_C < above_room < _NEAR_ROOM_C:
                self.place = "air"
                return
            self._enter(z)
        if self.place == "entering":
            settled = self.immersed_s >= _SETTLED_LAGS * self.lag_s
            late = self.immersed_s >= _SETTLED_LATE_S
            if late or (settled and self.spread_c < _SETTLED_SD_C):
                self.place = "chocolate"

    def _enter(self, z: float) -> None:
        self.place = "entering"
        self._air_votes = 0
        self._still = 0
        self.immersed_s = 0.0
        for index in range(len(self._peaks)):
            self._peaks[index] = z
        self._start_filters(z)

    @staticmethod
    def _falls_like_air(slope: float, above_room: float) -> bool:
        if above_room < _FALL_ROOM_C:
            return False
        return slope < -max(_AIR_MIN_SLOPE, above_room / _AIR_FAST_S)
