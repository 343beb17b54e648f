"""What the chocolate is, from what the probe says.

Two questions: where is the probe, and what is the chocolate at.

Where the probe is shows in the slope of its reading. Out of the bowl it runs towards the
room with the time constant of a probe in air, tens of seconds, which chocolate in a bowl
never does; put back in, it runs towards the chocolate within seconds, or simply stops
falling.

What the chocolate is at comes from a bank of lag filters (lag_filter.py), one for each of
BANK: nobody tells the board how slow its probe is. Each time the probe goes in, the lag
that explains the way best gains weight, and the weights are kept from one time to the
next. The estimate is the mean over the bank, its spread what the filters say of
themselves and how far they disagree (multiple-model estimation, Magill 1965).
"""

import math
from array import array

from snapcurve.wire.const import const

from .lag_filter import LagFilter

_PERIOD_S = const(0.25)  # between readings; the thermometer keeps to it
_WINDOW = const(12)  # readings in the line from which the slope comes: 3 s
_CENTRE = const(5.5)  # of the places in it
_SUM_SQUARES = const(143)  # of their distances from it: n (n² - 1) / 12
_BACK_S = const(8)  # how far back the highest reading may lie from which it fell
_GAP_MS = const(1200)  # after a pause this long the past says nothing about the slope

# Lag in seconds, and the share of it between sheath and junction. Taken for a probe without
# such a share, a slow one that has it is foreseen half a degree too high for ten seconds; in
# a quick one it does not matter.
_SHARE = const(0.22)
_SHARE_PRIOR = const(0.4)  # of the weight: most probes show little of it
_SHARE_DOUBT = const(3)  # a lag that was measured is first taken for one without a share
LAGS_S = (1.9, 2.4, 3.0, 3.8, 4.8, 6.1, 7.6)
BANK = tuple([(one, 0.0) for one in LAGS_S] + [(one, _SHARE) for one in LAGS_S[3:]])
_LAG_LEARN = const(0.2)  # neighbouring readings say nearly the same: each counts so much
_LAG_LEARN_MELTING = const(0.02)  # while pieces melt the chocolate itself moves: it tells little
_MELTED_C = const(35)  # beyond this they have melted, until it is solid again
_SOLID_C = const(27)
_LAG_LEARN_S = const(14)  # then the way in has told all it can, and the probe may be taken out
_LAG_DOUBT = const(-6)  # no lag is ever given up,
_LAG_IDLE = const(-5)  # but one with so little weight rests until the probe goes in again
_PATCH_AFTER_LAGS = const(2.5)  # before that a surprise says more of the lag than of the bowl

_AIR_FAST_S = const(110)  # falling faster than (z - room) / _AIR_FAST_S: in the air
_AIR_SLOW_S = const(260)  # falling slower than (z - room) / _AIR_SLOW_S: not in the air
_AIR_MIN_SLOPE = const(0.04)  # °C/s; below this a slope means nothing
_AIR_DOUBT = const(3)  # readings in a row that fall like that: judge nothing meanwhile
_AIR_FALL_C = const(1)  # more than a cold patch; and at least this part of the way to the room
_AIR_FALL_PART = const(0.12)
_AIR_LONG = const(20)  # so many readings are in the air however little it fell
_AIR_FORGET = const(2)  # readings that each reading which does not fall like that takes back
_FALL_ROOM_C = const(2)  # this close to the room nothing falls like that any more,
_NEAR_ROOM_C = const(1)  # and this close a reading that stands still tells nothing,
_BELOW_ROOM_C = const(3)  # nor so far below: the converter is warmer than the room it stands in
_STILL_ROOM_C = const(8)  # closer than this to the room noise alone stops a fall for a moment:
_STILL_READINGS = const(8)  # so many readings in a row must have stopped,
_REST_ROOM_C = const(3)  # and closer than this the reading must have rested for longer:
_REST_S = const(15)  # in so long air takes an eighth of the way to the room and more,
_REST_PART = const(0.08)  # a bowl less than this part
_REST_MEAN_S = const(3)  # means over so long are compared
_REST_PLACES = const(18)  # _REST_S + _REST_MEAN_S
# A wild value that falls between two conversions shows in both, and a median of three lets
# the second pass. No probe in a bowl jumps so far: the reading before holds, unless the new
# place lasts. Here and not in reading.py, because measuring a probe's response, from ice into
# boiling water, needs its jumps as they are.
_WILD_C = const(6)
_WILD_READINGS = const(3)
_DROP_C = const(0.3)  # fallen so far within three readings: hardly in the bowl
_SLIP_C = const(0.02)  # below what was foreseen by so much on average: perhaps just taken out
_SLIP_SHARE = const(0.4)  # of a surprise that goes into that average
_ENTER_RISE = const(0.25)  # °C/s; rising faster than this from the air: going in
_ENTER_C = const(0.5)  # or by so much above the lowest of the last seconds
_JUMP_RISE = const(0.6)  # °C/s; no bowl warms so fast: the probe was moved into something warmer
_JUMP_C = const(1)  # and then the reading runs past the estimate, which a way in never does,
_JUMP_LAGS = const(4)  # or it rises like that long after the way in
_SETTLED_SD_C = const(1.20)  # the spread at which a value after insertion counts, with its spread,
_SETTLED_LAGS = const(0.5)  # and so many time constants must have passed
_SETTLED_LATE_S = const(15)  # by then it counts in any case


class Estimate:
    """Feed readings with ``update``; read the attributes.

    ``place``         "unknown", "chocolate", "air" or "entering"
    ``chocolate_c``   temperature of the chocolate, °C; meaningful in "chocolate"
    ``rate_c_per_s``  its rate
    ``spread_c``      standard deviation of ``chocolate_c`` as the bank sees it
    ``patch_c``       how uneven the bowl seems, °C
    ``lag_s``         the probe's lag as far as it is known
    ``immersed_s``      how long ago the probe went in
    """

    def __init__(self, bank=BANK):
        self._filters = [LagFilter(_PERIOD_S, lag_s, share) for lag_s, share in bank]
        # Arrays: a list's numbers, if new with each reading, lie scattered over what is free.
        self._log_weights = array("d", [0.0] * len(bank))
        self._priors = array("d", [_SHARE_PRIOR if share else 1.0 for _, share in bank])
        self._parts = array("d", [0.0] * len(bank))  # of each filter in the mean
        self._z = array("d", [0.0] * _WINDOW)
        self._peaks = array("d", [0.0] * int(_BACK_S))  # highest of each of the last seconds
        self._means = array("d", [0.0] * _REST_PLACES)  # of each second, a ring
        self._melted = False
        self.place = "unknown"
        self.chocolate_c = 0.0
        self.rate_c_per_s = 0.0
        self.spread_c = 0.0
        self.patch_c = 0.0
        self.lag_s = 0.0
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
        top = max(weights)
        for index in range(len(weights)):
            weights[index] = max(weights[index] - top, _LAG_DOUBT)
        self.lost()  # some may have rested

    @property
    def trusted(self) -> bool:
        """Whether ``chocolate_c`` may be judged: settled, and not just being taken out."""
        return self.place == "chocolate" and self._air_votes < _AIR_DOUBT and not self._drop

    @property
    def slipping(self) -> bool:
        """Whether the last readings lie below what was foreseen: judge, but sound nothing yet."""
        return self._slip_c < -_SLIP_C

    def _forget(self) -> None:
        self._seen = 0
        self._count = 0
        self._at = 0
        self._air_votes = 0
        self._drop = False
        self._wild = 0
        self._still = 0
        self._second = 0.0  # sum of the readings of the second that is filling
        self._means_at = 0
        self._means_count = 0
        self._slip_c = 0.0
        self.immersed_s = 0.0
        self._last_ms = -1
        self._fresh = True

    def lost(self) -> None:
        """No reading: whatever was known about the place is void."""
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
        """Whether the last seconds fell by less than air would have them fall, that close to
        the room."""
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
        """Step the bank; only the way in tells lags apart, only an even course patches."""
        weights = self._log_weights
        sure = self._air_votes == 0
        way_in = self.immersed_s < _LAG_LEARN_S
        entering = sure and way_in
        calm = self.immersed_s > _PATCH_AFTER_LAGS * self.lag_s
        if self.chocolate_c > _MELTED_C:
            self._melted = True
        elif self.place == "chocolate" and self.chocolate_c < _SOLID_C:
            self._melted = False
        learn = _LAG_LEARN if self._melted else _LAG_LEARN_MELTING
        for index in range(len(self._filters)):
            if not way_in and weights[index] < _LAG_IDLE:
                continue
            likely = self._filters[index].step(z, calm and sure, calm)
            if entering:
                weights[index] += learn * likely
        if entering:
            top = max(weights)
            for index in range(len(weights)):
                weights[index] = max(weights[index] - top, _LAG_DOUBT)
        self._mix(_LAG_IDLE if not way_in else _LAG_DOUBT)

    def _mix(self, least: float) -> None:
        """Value, rate and spread over all lags that do not rest, each by its weight."""
        total = value = rate = lag = patch = surprise = 0.0
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
            surprise += weight * one.surprise_c
        value /= total
        variance = 0.0
        for index in range(len(parts)):
            if parts[index] > 0.0:
                one = self._filters[index]
                off = one.value_c - value
                variance += parts[index] * (one.variance + off * off)
        self.rate_c_per_s = rate / total
        # The newest reading waits for its successor: the estimate is one period ahead of it.
        self.chocolate_c = value + self.rate_c_per_s * _PERIOD_S
        self.spread_c = math.sqrt(max(0.0, variance / total))
        self.lag_s = lag / total
        self.patch_c = patch / total
        self._slip_c += _SLIP_SHARE * (surprise / total - self._slip_c)

    # --- the place ------------------------------------------------------------------

    def _judge_place(self, z: float, slope: float, room_c) -> None:
        place = self.place
        # Without a room to run towards nothing falls like air, and nothing is near it.
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
