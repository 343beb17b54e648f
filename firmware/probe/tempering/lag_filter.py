"""Kalman filter for a probe that lags: the chocolate behind the reading.

State: chocolate temperature T and its rate r, and what the probe itself is at, z.
T' = r with r wandering at random, z' = (T - z) / lag, measured is z with noise. Kalman's
equations (Kalman 1960; any textbook) with the 3 x 3 covariance written out, since there is
one measurement and the matrices are mostly zeros. The variance of T is what the filter
itself believes, and so tells when a reading after insertion can be trusted.
"""

import math

NOISE_C = 0.06  # of one reading: converter, wiring, small eddies
WANDER_RATE = 0.004  # °C/s per root second: how fast the rate itself may change
WANDER_C = 0.01  # °C per root second: patches passing the tip
UNKNOWN_C = 15.0  # spread of T when the probe has just gone in
UNKNOWN_RATE = 0.05  # °C/s, of the rate then


class LagFilter:
    """One step for each reading, ``period_s`` apart.

    ``value_c`` and ``rate_c_per_s`` are T and r; ``variance`` is that of T in °C².
    """

    def __init__(self, period_s: float, lag_s: float):
        self._dt = period_s
        self._noise = NOISE_C * NOISE_C
        self.set_lag(lag_s)
        self.start(0.0)

    def set_lag(self, lag_s: float) -> None:
        """The probe's time constant in the chocolate."""
        self.lag_s = lag_s
        self._follow = 1.0 - math.exp(-self._dt / lag_s)

    def start(self, indicated_c: float) -> None:
        """Forget everything but that the probe is at ``indicated_c``."""
        self.value_c = indicated_c
        self.rate_c_per_s = 0.0
        self.probe_c = indicated_c
        self._tt = UNKNOWN_C * UNKNOWN_C
        self._rr = UNKNOWN_RATE * UNKNOWN_RATE
        self._zz = self._noise
        self._tr = self._tz = self._rz = 0.0

    @property
    def variance(self) -> float:
        """Variance of ``value_c``, °C²."""
        return self._tt

    def step(self, indicated_c: float) -> float:
        """Take a reading; what it differed from the expected one, in standard deviations."""
        dt = self._dt
        a = self._follow
        b = 1.0 - a
        # Predict: T += r dt, z += a (T - z), and the covariance with them.
        self.probe_c += a * (self.value_c - self.probe_c)
        self.value_c += self.rate_c_per_s * dt
        tt, rr, zz = self._tt, self._rr, self._zz
        tr, tz, rz = self._tr, self._tz, self._rz
        zz = a * a * tt + 2.0 * a * b * tz + b * b * zz
        tz_old_t = a * tt + b * tz
        rz = a * tr + b * rz
        tz = tz_old_t + dt * rz
        tt = tt + 2.0 * dt * tr + dt * dt * rr + WANDER_C * WANDER_C * dt
        tr = tr + dt * rr
        rr = rr + WANDER_RATE * WANDER_RATE * dt
        # Correct with the one measurement.
        spread = zz + self._noise
        surprise = indicated_c - self.probe_c
        gain_t, gain_r, gain_z = tz / spread, rz / spread, zz / spread
        self.value_c += gain_t * surprise
        self.rate_c_per_s += gain_r * surprise
        self.probe_c += gain_z * surprise
        self._tt = tt - gain_t * tz
        self._tr = tr - gain_t * rz
        self._rr = rr - gain_r * rz
        self._tz = tz - gain_t * zz
        self._rz = rz - gain_r * zz
        self._zz = zz - gain_z * zz
        return surprise / math.sqrt(spread)

    def loosen(self, rate_variance: float) -> None:
        """The chocolate does something new: believe the old rate less."""
        self._rr += rate_variance
