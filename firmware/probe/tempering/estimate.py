"""What the chocolate is, from what the probe says.

Two questions: where is the probe, and what is the chocolate at (lag_filter.py).

Where the probe is shows in the slope of its reading. Out of the bowl it runs towards the
room with the time constant of a probe in air, tens of seconds, which chocolate in a bowl
never does; put back in, it runs towards the chocolate within seconds, or simply stops
falling. A single wild reading enters nothing: each reading waits for its successor, and
the median of three goes on.
"""

import math

from .lag_filter import LagFilter

PERIOD_S = 0.25  # between readings; the thermometer keeps to it
WINDOW = 12  # readings in the line from which the slope comes: 3 s
BACK_S = 8.0  # how far back the highest reading may lie from which it fell
GAP_MS = 1200  # after a pause this long the past says nothing about the slope
LAG_S = 4.0  # of the probe in stirred chocolate, until it has been measured

AIR_FAST_S = 110.0  # falling faster than (z - room) / AIR_FAST_S: in the air
AIR_SLOW_S = 260.0  # falling slower than (z - room) / AIR_SLOW_S: not in the air
AIR_MIN_SLOPE = 0.05  # °C/s; below this a slope means nothing
AIR_DOUBT = 3  # readings in a row that fall like that: judge nothing meanwhile
AIR_FALL_C = 1.0  # more than a cold patch; and at least AIR_FALL_PART of the way to the room
AIR_FALL_PART = 0.12
NEAR_ROOM_C = 3.0  # this close to the room the slope cannot tell
ENTER_RISE = 0.25  # °C/s; rising faster than this from the air: going in
JUMP_RISE = 0.6  # °C/s; no bowl warms so fast: the probe was moved into something warmer
JUMP_LAGS = 4.0  # after an insertion the reading itself still rises like that for so long
SETTLED_SD_C = 0.30  # the filter's own spread when a value after insertion counts
SETTLED_LAGS = 1.0  # and so many time constants must have passed
SURPRISE_LIMIT = 2.0  # mean surprise, in standard deviations, that means a new movement
SURPRISE_KEEP = 0.8
LOOSEN_RATE = 0.02  # °C/s


def _median(a: float, b: float, c: float) -> float:
    return max(min(a, b), min(max(a, b), c))


class Estimate:
    """Feed readings with ``update``; read the attributes.

    ``place``         "unknown", "chocolate", "air" or "entering"
    ``chocolate_c``   temperature of the chocolate, °C; meaningful in "chocolate"
    ``rate_c_per_s``  its rate
    ``spread_c``      standard deviation of ``chocolate_c`` as the filter sees it
    """

    def __init__(self, lag_s: float = LAG_S):
        self._filter = LagFilter(PERIOD_S, lag_s)
        self._z = [0.0] * WINDOW
        self._raw_1 = 0.0
        self._raw_2 = 0.0
        centre = (WINDOW - 1) / 2
        sum_squares = sum([(index - centre) ** 2 for index in range(WINDOW)])
        self._peaks = [0.0] * int(BACK_S)  # the highest reading of each of the last seconds
        self._weights = [(index - centre) / sum_squares / PERIOD_S for index in range(WINDOW)]
        self.place = "unknown"
        self._forget()

    @property
    def chocolate_c(self) -> float:
        """Temperature of the chocolate, one period ahead of the reading that waits."""
        return self._filter.value_c + self._filter.rate_c_per_s * PERIOD_S

    @property
    def rate_c_per_s(self) -> float:
        """Rate of the chocolate's temperature."""
        return self._filter.rate_c_per_s

    @property
    def spread_c(self) -> float:
        """Standard deviation of ``chocolate_c``."""
        return math.sqrt(max(0.0, self._filter.variance))

    @property
    def trusted(self) -> bool:
        """Whether ``chocolate_c`` may be judged: settled, and not just being taken out."""
        return self.place == "chocolate" and self._air_votes < AIR_DOUBT

    def _forget(self) -> None:
        self._seen = 0
        self._count = 0
        self._at = 0
        self._air_votes = 0
        self._since_entry_s = 0.0
        self._surprise = 0.0
        self._last_ms = -1
        self._fresh = True

    def lost(self) -> None:
        """No reading: whatever was known about the place is void."""
        self._forget()
        self.place = "unknown"

    def update(self, now_ms: int, indicated_c: float, room_c) -> None:
        """Take one reading; ``room_c`` may be None if the room is not known."""
        if self._last_ms >= 0 and now_ms - self._last_ms > GAP_MS:
            self.lost()
        self._last_ms = now_ms
        first, second = self._raw_2, self._raw_1
        self._raw_2, self._raw_1 = self._raw_1, indicated_c
        self._seen += 1
        if self._seen < 3:
            return
        z = _median(first, second, indicated_c)
        self._push(z)
        if self._fresh:
            self._filter.start(z)
            self._fresh = False
        self._follow(self._filter.step(z))
        self._since_entry_s += PERIOD_S
        if self._count == WINDOW:
            self._judge_place(z, self._slope(), room_c)

    def _push(self, z: float) -> None:
        # Peaks move on by one each second; the first of them is still filling.
        if self._seen % 4 == 3 or self._fresh:
            for index in range(len(self._peaks) - 1, 0, -1):
                self._peaks[index] = z if self._fresh else self._peaks[index - 1]
            self._peaks[0] = z
        elif z > self._peaks[0]:
            self._peaks[0] = z
        self._z[self._at] = z
        self._at = (self._at + 1) % WINDOW
        if self._count < WINDOW:
            self._count += 1

    def _slope(self) -> float:
        """Slope of the line through the window, °C/s."""
        slope = 0.0
        at = self._at
        for index in range(WINDOW):
            slope += self._weights[index] * self._z[at]
            at += 1
            if at == WINDOW:
                at = 0
        return slope

    def _follow(self, surprise: float) -> None:
        """Loosen the filter when its surprises all point one way."""
        self._surprise += (1.0 - SURPRISE_KEEP) * (surprise - self._surprise)
        if abs(self._surprise) > SURPRISE_LIMIT:
            self._filter.loosen(LOOSEN_RATE * LOOSEN_RATE)
            self._surprise = 0.0

    def _judge_place(self, z: float, slope: float, room_c) -> None:
        place = self.place
        # Without a room to run towards nothing falls like air, and nothing is near it.
        above_room = 0.0 if room_c is None else z - room_c
        if place == "air":
            rising = slope > ENTER_RISE
            if rising or (above_room > NEAR_ROOM_C and slope > -above_room / AIR_SLOW_S):
                self._enter(z)
            return
        if self._falls_like_air(slope, above_room):
            self._air_votes += 1
            fallen_c = max(self._peaks) - z
            if fallen_c > max(AIR_FALL_C, AIR_FALL_PART * above_room):
                self.place = "air"
            return
        self._air_votes = 0
        if (
            place == "chocolate"
            and slope > JUMP_RISE
            and self._since_entry_s > JUMP_LAGS * self._filter.lag_s
        ):
            self._enter(z)
        if place == "unknown":
            if room_c is not None and abs(above_room) < NEAR_ROOM_C:
                self.place = "air"
                return
            self._enter(z)
        if self.place == "entering":
            settled = self._since_entry_s >= SETTLED_LAGS * self._filter.lag_s
            if settled and self.spread_c < SETTLED_SD_C:
                self.place = "chocolate"

    def _enter(self, z: float) -> None:
        self.place = "entering"
        self._air_votes = 0
        self._since_entry_s = 0.0
        self._surprise = 0.0
        for index in range(len(self._peaks)):
            self._peaks[index] = z
        self._filter.start(z)

    @staticmethod
    def _falls_like_air(slope: float, above_room: float) -> bool:
        if above_room < NEAR_ROOM_C:
            return False
        return slope < -max(AIR_MIN_SLOPE, above_room / AIR_FAST_S)
