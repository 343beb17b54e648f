"""Kalman filter for a probe that lags: the chocolate behind the reading.

State: chocolate temperature T, its rate r, the patch p that passes the tip (uneven
temperature, gone after some seconds), the probe's sheath y, and its junction z. T' = r with
r wandering at random, p decays towards nothing, y' = (T + p - y) / (its part of the lag),
z' = (y - z) / (the junction's part), measured is z with noise. Kalman's equations (Kalman
1960; any textbook) with the 5 x 5 covariance written out, since there is one measurement
and the matrices are mostly zeros. Without a part for the junction z is y.

How uneven the bowl is the filter learns from its own surprises: pieces that melt make
large patches, an even bowl none.
"""

import math

from snapcurve.wire.const import const

_NOISE_C = const(0.06)  # of one reading: converter, wiring, small eddies
_WANDER_RATE = const(0.003)  # °C/s per root second: how fast the rate itself may change
_PATCH_S = const(3)  # how long a patch stays at the tip
_PATCH_MIN_C = const(0.02)
_PATCH_MAX_C = const(0.5)
_PATCH_FIRST_C = const(0.2)  # supposed whenever the probe goes in: what was known before is stale
_PATCH_LEARN = const(0.04)  # share by which a surprise moves the idea of the patches
_LIKELY_LIMIT = const(3)  # variances; a single odd reading must not decide which lag it is
_LEAN_SHARE = const(0.1)  # of a surprise that goes into their running mean
_LEAN_LIMIT = const(1.5)  # standard deviations
_LOOSEN_C = const(0.5)  # soon after the probe went in the value may be wrong by this,
_LOOSEN_CALM_C = const(0.1)  # later hardly: a kilogram does not jump,
_LOOSEN_PATCH_C = const(0.15)  # but a warm or cold patch may have come to the tip
_LOOSEN_RATE = const(0.02)
_UNKNOWN_C = const(15)  # spread of T when the probe has just gone in
_UNKNOWN_RATE = const(0.03)  # °C/s, of the rate then
_UNKNOWN_SHEATH_C = const(2)  # the sheath has warmed before the junction shows it


def _part(period_s: float, lag_s: float) -> float:
    """Of the way that is left, what ``period_s`` covers; all of it without a lag."""
    return 1.0 if lag_s == 0.0 else 1.0 - math.exp(-period_s / lag_s)


class LagFilter:
    """A filter for readings ``period_s`` apart of a probe that lags by ``lag_s``; the share
    ``junction_share`` of the lag (0 to 0.5) lies between sheath and junction.

    ``value_c``       temperature of the chocolate, °C
    ``rate_c_per_s``  its rate
    ``variance``      of ``value_c``, °C²
    ``patch_c``       the usual size of a patch, °C
    ``surprise_c``    by how much the last reading was not foreseen, °C
    ``lag_s``         the lag

    Of the covariances each is named by two letters: t the chocolate's temperature, r its rate,
    p the patch, y the sheath, z the junction.
    """

    def __init__(self, period_s: float, lag_s: float, junction_share: float = 0.0):
        self.lag_s = lag_s
        self._period_s = period_s
        self._patch_kept = math.exp(-period_s / _PATCH_S)  # from one reading to the next
        # Of the way to the chocolate, what the sheath covers; of that to the sheath, the junction.
        self._sheath_part = _part(period_s, lag_s * (1.0 - junction_share))
        self._junction_part = _part(period_s, lag_s * junction_share)
        self.start(0.0)

    def start(self, indicated_c: float) -> None:
        """Forget everything but that the probe is at ``indicated_c``."""
        self.value_c = self._sheath_c = self._junction_c = indicated_c
        self.rate_c_per_s = 0.0
        self._patch_now_c = 0.0  # the one at the tip
        self.patch_c = _PATCH_FIRST_C
        self.surprise_c = 0.0
        self._lean = 0.0  # running mean of the surprises, in standard deviations
        self.variance = _UNKNOWN_C * _UNKNOWN_C
        self._rr = _UNKNOWN_RATE * _UNKNOWN_RATE
        self._pp = _PATCH_FIRST_C * _PATCH_FIRST_C
        self._yy = self._zz = self._yz = _NOISE_C * _NOISE_C
        if self._junction_part < 1.0:
            self._yy += _UNKNOWN_SHEATH_C * _UNKNOWN_SHEATH_C
        self._tr = self._tp = self._ty = self._tz = 0.0
        self._rp = self._ry = self._rz = self._py = self._pz = 0.0

    def step(self, indicated_c: float, learn: bool, settled: bool = False) -> float:
        """Take a reading; the logarithm of how likely it was (up to a constant).

        ``learn``: the surprise says something of the patches; ``settled``: the way in is over.
        """
        dt = self._period_s
        keep = self._patch_kept
        a = self._sheath_part
        b = 1.0 - a
        c = self._junction_part
        d = 1.0 - c
        t = self.value_c
        r = self.rate_c_per_s
        p = self._patch_now_c
        y = self._sheath_c
        z = self._junction_c
        tt = self.variance
        tr = self._tr
        tp = self._tp
        ty = self._ty
        tz = self._tz
        rr = self._rr
        rp = self._rp
        ry = self._ry
        rz = self._rz
        pp = self._pp
        py = self._py
        pz = self._pz
        yy = self._yy
        yz = self._yz
        zz = self._zz
        patch = self.patch_c
        # Predict the state, then its covariance: the sheath from the chocolate, the
        # junction from the sheath.
        y += a * (t + p - y)
        z += c * (y - z)
        t += r * dt
        p *= keep
        yt = a * (tt + tp) + b * ty
        yr = a * (tr + rp) + b * ry
        yp = a * (tp + pp) + b * py
        old_yz = a * (tz + pz) + b * yz
        yy = a * (yt + yp) + b * (a * (ty + py) + b * yy)
        ty = yt + dt * yr
        ry = yr
        py = keep * yp
        tz = c * ty + d * (tz + dt * rz)
        rz = c * ry + d * rz
        pz = c * py + d * keep * pz
        yz = c * yy + d * old_yz
        zz = c * (yz + d * old_yz) + d * d * zz
        tp = keep * (tp + dt * rp)
        rp = keep * rp
        tt += dt * (2 * tr + dt * rr)
        tr += dt * rr
        rr += _WANDER_RATE * _WANDER_RATE * dt
        patch_variance = patch * patch
        pp = keep * keep * (pp - patch_variance) + patch_variance
        # Correct with the one measurement.
        spread = zz + _NOISE_C * _NOISE_C
        surprise = indicated_c - z
        gain_t, gain_r, gain_p = tz / spread, rz / spread, pz / spread
        gain_y, gain_z = yz / spread, zz / spread
        self.value_c = t + gain_t * surprise
        self.rate_c_per_s = r + gain_r * surprise
        self._patch_now_c = p + gain_p * surprise
        self._sheath_c = y + gain_y * surprise
        self._junction_c = z + gain_z * surprise
        self.variance = tt - gain_t * tz
        self._tr = tr - gain_t * rz
        self._tp = tp - gain_t * pz
        self._ty = ty - gain_t * yz
        self._tz = tz - gain_t * zz
        self._rr = rr - gain_r * rz
        self._rp = rp - gain_r * pz
        self._ry = ry - gain_r * yz
        self._rz = rz - gain_r * zz
        self._pp = pp - gain_p * pz
        self._py = py - gain_p * yz
        self._pz = pz - gain_p * zz
        self._yy = yy - gain_y * yz
        self._yz = yz - gain_y * zz
        self._zz = zz - gain_z * zz
        ratio = surprise * surprise / spread
        lean = self._lean
        lean += _LEAN_SHARE * (surprise / math.sqrt(spread) - lean)
        if abs(lean) > _LEAN_LIMIT:
            # Always wrong to the same side: something new has begun.
            lean = 0.0
            self._rr += _LOOSEN_RATE * _LOOSEN_RATE
            if settled:
                self.variance += _LOOSEN_CALM_C * _LOOSEN_CALM_C
                patch = min(_PATCH_MAX_C, patch + _LOOSEN_PATCH_C)
                self._pp += _LOOSEN_PATCH_C * _LOOSEN_PATCH_C
            else:
                self.variance += _LOOSEN_C * _LOOSEN_C
        self.surprise_c = surprise
        self._lean = lean
        if learn:
            # Surprises above their due make larger patches likely, small ones smaller.
            change = _PATCH_LEARN * (min(ratio, 6) - 1.0)
            patch = min(_PATCH_MAX_C, max(_PATCH_MIN_C, patch * (1.0 + change)))
        self.patch_c = patch
        return -0.5 * (min(ratio, _LIKELY_LIMIT) + math.log(spread))
