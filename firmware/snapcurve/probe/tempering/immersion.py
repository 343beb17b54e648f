"""Where the probe is: in the chocolate or in the air, as one belief.

The belief is a log-odds of air against chocolate. Out of the bowl a reading runs towards the
room with the time constant of a probe in air, half a minute (a bare wire) to four minutes (a
sheath of 3 mm under chocolate); chocolate in a bowl does not. So what counts is the slope of a
line through the last 3 s (which sees a quick fall soon) and 6 s (which tells a slow one from
noise), held against the slopes that either place explains. A slope that both explain says
nothing: near the room the belief is carried. Evidence alone is not enough to go out: the
reading must also have fallen by more than a patch in the bowl explains.

What a bowl does depends on the phase: on the way down to the window a fall is mostly seed, in the
window it is not.

The converter, and its cold junction with it, is warmer than the room by up to 8 °C. By how
much, and the probe's time constant in air, is learnt from the absences: in the air the slope is
a straight line over the reading, which crosses zero at the room. An absence counts when it has
ended with a way in.

In integers, which leave no garbage: 1/128 °C, readings (4 a second), 1/128 °C a minute. Only that
fit, a point every 6 s in the air, is in floats. The limits were chosen on the rough bench
(tests/kitchen).
"""

from array import array

from snapcurve.wire.const import const

HOLD, MELT, SEED = const(0), const(1), const(2)  # what the phase has the bowl do

_SLOW = const(24)  # readings of the slow line, and of the fast one
_FAST = const(12)
_SLOW_SQUARES = const(4600)  # n (n² - 1) / 3
_FAST_SQUARES = const(572)
_PER_MIN = const(480)  # twice the readings in a minute

# Air: the time constants in s that are looked for, and those around one that was learnt.
_TAU_SHORT_S = const(25)
_TAU_LONG_S = const(260)
_TAU_SEED_S = const(150)  # the longest on the way down, where the bowl falls as well
# The fall that a bowl explains, in 1/128 °C a minute, by phase.
_BOWL_FALLS = (-80, -240, -160)
_BOWL_FALLS_UNSURE = const(-140)  # in the window, while the probe is not known in air
_BOWL_RISES = const(400)
# Standard deviation of a slope in the bowl, noise and patches, and what noise alone does.
_SLOW_SD = const(95)
_SLOW_DEAD = const(60)
_FAST_SD = const(300)
_FAST_DEAD = const(200)
# Log-odds are in 1/384: what a line says counts for a reading as one part in its length.
NAT = const(384)
_OUT = const(2 * NAT)
_IN = const(-2 * NAT)
_MOST = const(4 * NAT)
_LEAST = const(-3 * NAT)
_DOUBT = const(-1 * NAT)
_DOUBT_QUICK = const(-2 * NAT)  # where it falls by more than _QUICK, 0.032 °C/s
_QUICK = const(-245)
_CAP = const(384)  # most that one reading adds
# Least fall before "air", by phase: HOLD, MELT.
_FALLS = (102, 102)
_SEED_FALL = const(384)
_SEED_PART = const(3)  # or a third of the way to the room
_SEED_READINGS = const(66)
_SEED_LAG_S = const(5)  # a slower probe shows the fall of a handful for longer: readings a second
_SEED_LAG_READINGS = const(14)
_SEED_DOUBTS = const(4)  # a fall on the way down that is doubted
_SEED_LONGEST = const(140)  # or for so long by a degree, as this probe is known to in the air
_SEED_LEAST = const(128)
_PEAKS = const(10)  # of 16 readings each: how far back the reading may have fallen from
_PEAK_READINGS = const(16)
_DOUBT_MOST = const(140)  # readings; longer than that doubt holds nothing back
_DOUBT_LIKELY = const(260)  # where the probe falls as it is known to in the air

# Into the bowl.
_RISE = const(1920)  # 0.25 °C/s
_ROSE = const(64)  # above the lowest of the last 3 s
_JUMP = const(4608)  # 0.6 °C/s; no bowl warms so fast
_JUMPED = const(128)
_BLOWN_READINGS = const(160)
_BLOWN = const(3840)  # 0.5 °C/s: in its window no bowl of a profile warms so fast
_WAY_IN = const(80)  # readings; before, a quick rise is still the way in
_LONG_AWAY = const(960)  # readings; after so long it is in the air
_SHORT_AWAY = const(16)  # readings: away for less was hardly away

# The room.
_OVER = const(192)  # cold junction above the room, while that is not known
_OVER_MOST = const(1088)
_NEAR = const(128)
_REST_FAST = const(150)  # slope of a probe at rest
# Below the coolest working window of any couverture nothing is worked: what rests there as warm as
# the junction, give or take the probe's own error, lies in the room. 23.5 °C, 3 °C, 2 minutes.
_SOLID = const(3008)
_SOLID_NEAR = const(384)
_SOLID_REST = const(480)
# The line that a probe follows in the air, fitted to points 6 s apart.
_FORGET = const(0.97)
_POINTS = const(4)
_WIDE = const(2.0)  # variance of their distances from the room that fixes both, K²
_TAU_LEARN_S = const(350)


class Immersion:
    """Feed with ``update``; read the attributes.

    ``place``     "unknown", "chocolate", "air" or "entering" (it may settle: ``settled``)
    ``odds``      log-odds of air, in 1/NAT
    ``entered``   the probe has gone in with this reading: what was known of the bowl is void
    ``jumped``    it rose by more than any bowl does, without having been away
    ``doubtful``  it may just be leaving
    ``away``      readings since it went out
    ``slope``     of the slow line, 1/128 °C a minute
    ``tau_s``     the probe's time constant in air, 0 if it is not known
    """

    def __init__(self):
        self._z = array("h", [0] * _SLOW)
        self._peaks = array("h", [0] * _PEAKS)
        self.odds = 0
        self._phase = HOLD
        self._over = _OVER
        self._over_known = False
        self.tau_s = 0
        self._seed_readings = _SEED_READINGS
        # Of the points of that line: how many, x, y, x² and xy; and those of this absence.
        self._sums = array("d", [0.0] * 5)
        self._pending = array("d", [0.0] * 5)
        self._junction = self._at = 0
        self.lost()

    def lost(self) -> None:
        """No reading for a while: the lines begin anew, the belief stays to fall back upon."""
        self.place = "unknown"
        self._last = self._z[self._at - 1]
        self.entered = self.jumped = self.doubtful = False
        self._count = self._at = 0
        self._slow = self._slow_sum = self._fast = self._fast_sum = 0
        self.away = self._seen = self._doubts = self._falling = self._since = 0
        self._blown = self._level = self._resting = 0
        self._usual = 0  # 256 times the slope of the last minute in the bowl
        self.slope = 0
        self._fastest = -100000  # fall that the air explains
        self._has_junction = False

    def room(self):
        """What the room is at, 1/128 °C, None if that is not known; the cold junction, while it
        is not known to be warmer."""
        if not self._has_junction:
            return None
        return self._junction - (self._over if self._over_known else 0)

    def set_lag(self, lag_s) -> None:
        """How far the probe lags in the chocolate, as far as it is known."""
        more = max(0.0, lag_s - _SEED_LAG_S) * _SEED_LAG_READINGS
        self._seed_readings = _SEED_READINGS + int(more)

    def settled(self) -> None:
        """What is known of the bowl counts."""
        self.place = "chocolate"

    def update(self, z: int, junction, phase: int) -> None:
        """Take a reading ``z``, the cold junction (None: not known) and what the bowl does."""
        self.entered = self.jumped = False
        self._push(z)
        if junction is not None:
            self._follow_junction(junction)
        self.away = self.away + 1 if self.place == "air" else 0
        if self._count < _FAST:
            return
        fast = self._fast * _PER_MIN // _FAST_SQUARES
        slow = fast if self._count < _SLOW else self._slow * _PER_MIN // _SLOW_SQUARES
        self.slope = slow
        if self.place == "unknown":
            self._find(z, junction, fast)
            return
        above = 0
        if self._has_junction:
            above = z - self._junction + self._over
        point = self.away >= 2 * _SLOW and self.away % _SLOW == 0
        if point and self._has_junction:
            self._learn(z, slow)
            if self.away == _LONG_AWAY:
                self._learnt()
            if above < 0 and slow < 0:
                self._over = min(_OVER_MOST, self._over - above)
        if self._has_junction:
            self._weigh(above, fast, slow, phase)
        if self.place == "air":
            self._judge_air(z, fast)
        else:
            self._judge_bowl(z, above, fast, slow, phase)

    def _push(self, z: int) -> None:
        ring, at = self._z, self._at
        if self._count == 0:  # a line through one reading, as if it had been there for long
            for index in range(_SLOW):
                ring[index] = z
            self._slow = self._fast = 0
            self._slow_sum = z * _SLOW
            self._fast_sum = z * _FAST
            for index in range(_PEAKS):
                self._peaks[index] = z
        oldest, middle = ring[at], ring[(at + _SLOW - _FAST) % _SLOW]
        self._slow += (_SLOW + 1) * oldest - 2 * self._slow_sum + (_SLOW - 1) * z
        self._slow_sum += z - oldest
        self._fast += (_FAST + 1) * middle - 2 * self._fast_sum + (_FAST - 1) * z
        self._fast_sum += z - middle
        ring[at] = z
        self._at = (at + 1) % _SLOW
        if self._count < _SLOW:
            self._count += 1
        self._seen += 1
        if self._seen % _PEAK_READINGS == 0:
            for index in range(_PEAKS - 1, 0, -1):
                self._peaks[index] = self._peaks[index - 1]
            self._peaks[0] = z
        elif z > self._peaks[0]:
            self._peaks[0] = z

    def _follow_junction(self, junction: int) -> None:
        """The room behind the junction: what warms the board in a minute is not the room."""
        if not self._has_junction:
            self._junction = junction
            self._has_junction = True
        elif junction > self._junction:
            self._junction += self._seen & 1
        else:
            self._junction = junction

    def _find(self, z: int, junction, fast: int) -> None:
        """The first lines: near the room it lies there, or is where it was before."""
        near = junction is not None and -_OVER_MOST < z - junction < _NEAR
        where_it_was = fast < _RISE and abs(z - self._last) < 2 * _NEAR
        if self.odds >= _OUT and where_it_was:
            self.place = "air"
        elif near and self.odds >= 0:
            self.place = "air"
            self.odds = _MOST
            if abs(fast) < _REST_FAST:
                # Solid pieces around it may be cooler than the room.
                self._over = max(0, min(_OVER_MOST, (junction - z + _OVER) // 2))
        else:
            self._enter(z)
        self.away = _SHORT_AWAY  # nothing is known of a bowl

    def _learn(self, z: int, slow: int) -> None:
        """A point of the line that the probe follows in the air: slope over distance. Its slope
        is one over the time constant, and it crosses zero at the room."""
        above = z - self._junction + self._over
        if above > 3 * _NEAR and not above * 60 // _TAU_LEARN_S < -slow < above * 60 // 20:
            return  # in a hand, or just put into something
        x = (z - self._junction) / 128
        y = slow / 7680
        pending = self._pending
        for index, value in enumerate((1.0, x, y, x * x, x * y)):
            pending[index] += value

    def _learnt(self) -> None:
        """It was put back in, so it was in the air: what was seen there counts."""
        sums, pending = self._sums, self._pending
        keep = _FORGET ** pending[0]
        for index in range(len(sums)):
            sums[index] = keep * sums[index] + pending[index]
        count, sum_x, sum_y, sum_xx, sum_xy = sums
        if pending[0] == 0.0 or count < _POINTS:
            return
        mean_x, mean_y = sum_x / count, sum_y / count
        wide = sum_xx / count - mean_x * mean_x
        per_s = 0.0
        if wide > _WIDE:
            per_s = (mean_x * mean_y - sum_xy / count) / wide
            if 1 / 300 < per_s < 1 / 20:
                over = -mean_x - mean_y / per_s
                self._over = max(0, min(_OVER_MOST, int(over * 128)))
                self._over_known = True
        elif mean_y < -0.02 and mean_x + self._over / 128 > 3.0:
            per_s = -mean_y / (mean_x + self._over / 128)
        if 1 / 300 < per_s < 1 / 20:
            self.tau_s = int(1.0 / per_s)
        for index in range(len(pending)):
            pending[index] = 0.0

    def _weigh(self, above: int, fast: int, slow: int, phase: int) -> None:
        """Add to the belief what the lines say, the clearer of the two."""
        short_s, long_s = _TAU_SHORT_S, _TAU_LONG_S
        if self.tau_s:
            short_s = max(short_s, self.tau_s * 2 // 3)
            long_s = min(long_s, self.tau_s * 3 // 2)
        elif phase == SEED:
            long_s = _TAU_SEED_S
        most = least = above
        if not self._over_known:
            most = above - self._over + _OVER_MOST * 3 // 4
            least = above - self._over
        air_from, air_to = -most * 60 // short_s, -least * 60 // long_s
        if air_from > air_to:
            air_from, air_to = air_to, air_from
        lowest = _BOWL_FALLS[phase]
        if phase == HOLD and not self.tau_s:
            lowest = _BOWL_FALLS_UNSURE
        # A fall that has been there for a minute is the bowl's, and no new evidence.
        lowest = min(lowest, self._usual * 5 // 1024)
        dead = _SLOW_DEAD if abs(above) < 3 * _NEAR else _SLOW_DEAD // 3
        highest = _BOWL_RISES if phase == HOLD and above < -_NEAR else 100000
        said = _said(slow, air_from, air_to, lowest, highest, dead, _SLOW_SD, _SLOW)
        lowest -= _FAST_DEAD // 2
        sooner = _said(fast, air_from, air_to, lowest, highest, _FAST_DEAD, _FAST_SD, _FAST)
        if abs(sooner) > abs(said):
            said = sooner
        self.odds = max(_LEAST, min(_MOST, self.odds + said))
        self._fastest = min(0, air_from) - 6 * _FAST_DEAD
        if said > 0:
            self._falling += 1
        elif said < 0:
            self._falling = max(0, self._falling - 2)

    def _judge_air(self, z: int, fast: int) -> None:
        lowest = min(self._z)
        if fast < self._fastest and self.away > _FAST:
            self._enter(z)  # into something cooler: no air takes heat so fast
        elif fast > _RISE or z > lowest + _ROSE:
            if self.away < _SHORT_AWAY and z < lowest + 3 * _ROSE:
                self.place = "chocolate"
                self.odds = _IN
            else:
                self._learnt()
                self._enter(z)
        elif self.odds <= _IN and z >= _SOLID:
            self.place = "chocolate"
            if self.away > 160:
                self._enter(z)

    def _judge_bowl(self, z: int, above: int, fast: int, slow: int, phase: int) -> None:
        if phase != self._phase:  # how it came there is no fall out of this phase
            self._phase = phase
            self._falling = 0
            self._level_peaks(z)
        fallen = max(self._peaks) - z
        if self._blown:
            # What blew at the tip stops: that is no way out.
            self._blown -= 1
            fallen = min(fallen, self._level - z)
        if self.odds >= _OUT:
            if phase == SEED:
                far = fallen >= min(_SEED_FALL, (above + fallen) // _SEED_PART)
                out = far and self._falling >= self._seed_readings and 5 * fast < 4 * slow
                long = self.tau_s and self._falling >= _SEED_LONGEST
                out = out or (long and fallen >= _SEED_LEAST)
            else:
                out = fallen >= _FALLS[phase]
            if out:
                self._go_out()
                return
        rests = z < _SOLID and abs(slow) < _REST_FAST and self._has_junction
        rests = rests and abs(z - self._junction) < _SOLID_NEAR
        self._resting = self._resting + 1 if rests else max(0, self._resting - 4)
        if self._resting >= _SOLID_REST:
            self.odds = _MOST
            self._go_out()
            return
        doubtful = self.odds > (_DOUBT_QUICK if slow < _QUICK else _DOUBT) and fallen > 32
        if phase == SEED:
            doubtful = doubtful and self._falling >= _SEED_DOUBTS
        self._doubts = self._doubts + 1 if doubtful else 0
        likely = self.tau_s and self.odds > 0
        self.doubtful = 0 < self._doubts <= (_DOUBT_LIKELY if likely else _DOUBT_MOST)
        self._judge_rise(z, fast, slow, phase)

    def _go_out(self) -> None:
        self.place = "air"
        self.doubtful = False
        self._resting = 0
        for index in range(len(self._pending)):
            self._pending[index] = 0.0

    def _judge_rise(self, z: int, fast: int, slow: int, phase: int) -> None:
        """What rises faster than a bowl: another way in, or what no bowl can do."""
        self._since += 1
        if self.odds <= _DOUBT:
            self._usual += min(0, slow) - self._usual // 256
        if self._since <= _WAY_IN:
            # Going in, the rise slows down: one that gets quicker is another way in.
            if self._since > _SLOW and fast > _JUMP and fast > 2 * slow:
                self._enter(z)
            return
        if fast > _JUMP and z > min(self._z) + _JUMPED:
            jumped = z > self._peaks[2] + _JUMPED
            self._enter(z)
            self.jumped = jumped
        elif phase == HOLD and fast > _BLOWN and z > min(self._z) + _ROSE:
            if not self._blown:
                self._level = min(self._z)
            self._blown = _BLOWN_READINGS
            self.jumped = True

    def _enter(self, z: int) -> None:
        self.place = "entering"
        self.entered = True
        self.odds = -3 * NAT
        self.doubtful = False
        self._doubts = self._falling = self._since = self._blown = self._usual = 0
        self._level_peaks(z)

    def _level_peaks(self, z: int) -> None:
        for index in range(_PEAKS):
            self._peaks[index] = z


def _said(
    slope: int,
    air_from: int,
    air_to: int,
    lowest: int,
    highest: int,
    dead: int,
    sd: int,
    length: int,
) -> int:
    """The log-odds that a slope adds: how far it is beyond what the bowl explains and what the
    air explains, as squares of standard deviations; ``dead`` is what noise does anyway."""
    bowl = max(0, lowest - slope, slope - highest)
    air = max(0, air_from - slope - dead, slope - air_to - dead)
    unit = 2 * sd * sd // NAT * length
    for_air = bowl * bowl // unit
    # No patches in the air: noise alone moves the slope there.
    for_bowl = 3 * air * air // unit
    if slope < air_from:
        for_bowl = min(for_bowl, for_air)  # the room may be cooler than it is thought to be
    return min(_CAP, for_air) - min(_CAP, for_bowl)
