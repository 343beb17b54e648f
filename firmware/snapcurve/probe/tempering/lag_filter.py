"""Kalman filter for a probe that lags: the chocolate behind the reading.

State: chocolate temperature T, its rate r, the patch p that passes the tip (uneven
temperature, gone after some seconds), the probe's sheath y, and its junction z. T' = r with
r wandering at random, p decays towards nothing, y' = (T + p - y) / (its part of the lag),
z' = (y - z) / (the junction's part), measured is z with noise. Kalman's equations (Kalman
1960; any textbook) with the 5 x 5 covariance written out, since there is one measurement
and the matrices are mostly zeros. Without a part for the junction z is y.

The filter learns how uneven the bowl is from its innovations: melting pieces make large
patches, an even bowl none. A settled estimate moves slowly and a patch quickly, since a
kilogram does not jump: innovations that keep one sign are first taken for a patch.
"""

import math

from snapcurve.wire.const import const

# Measurement and process noise.
_NOISE_C = const(0.06)  # of one reading: converter, wiring, small eddies
_RATE_NOISE = const(0.003)  # °C/s per root second: how fast the rate itself changes
# Patches: how long one stays at the tip, and their usual size.
_PATCH_S = const(3)
_PATCH_MIN_C = const(0.02)
_PATCH_MAX_C = const(0.5)
_PATCH_FIRST_C = const(0.2)  # supposed at each immersion
_PATCH_LEARN = const(0.04)  # share by which an innovation changes the size
# Uncertainty at immersion.
_UNKNOWN_C = const(15)  # of T
_UNKNOWN_RATE = const(0.03)  # °C/s, of r
_UNKNOWN_SHEATH_C = const(2)  # of y: the sheath warms before the junction shows it
# Innovations that keep one sign: their running mean, and what is loosened beyond its limit.
_BIAS_SHARE = const(0.1)  # of an innovation that goes into the mean
_BIAS_LIMIT = const(1.5)  # standard deviations
_LOOSEN_C = const(0.5)  # of T soon after immersion
_LOOSEN_CALM_C = const(0.1)  # of T later
_LOOSEN_PATCH_C = const(0.15)  # of the patch later
_LOOSEN_RATE = const(0.02)
# Variances beyond which a reading counts no more against a lag: one odd reading must not decide.
_LIKELY_LIMIT = const(3)


def _part(period_s: float, lag_s: float) -> float:
    """The share of a difference that ``period_s`` covers; all of it without a lag."""
    return 1.0 if lag_s == 0.0 else 1.0 - math.exp(-period_s / lag_s)


class LagFilter:
    """A filter for readings ``period_s`` apart of a probe that lags by ``lag_s``; the share
    ``junction_share`` of the lag (0 to 0.5) lies between sheath and junction.

    ``value_c``       temperature of the chocolate, °C
    ``rate_c_per_s``  its rate
    ``variance``      of ``value_c``, °C²
    ``patch_c``       the usual size of a patch, °C
    ``innovation_c``  the last reading less its prediction, °C
    ``lag_s``         the lag

    Of the covariances each is named by two letters: t the chocolate's temperature, r its rate,
    p the patch, y the sheath, z the junction.
    """

    def __init__(self, period_s: float, lag_s: float, junction_share: float = 0.0):
        self.lag_s = lag_s
        self._period_s = period_s
        self._patch_decay = math.exp(-period_s / _PATCH_S)  # from one reading to the next
        # Shares covered between two readings: by the sheath towards the chocolate, by the
        # junction towards the sheath.
        self._sheath_part = _part(period_s, lag_s * (1.0 - junction_share))
        self._junction_part = _part(period_s, lag_s * junction_share)
        self.start(0.0)

    def start(self, indicated_c: float) -> None:
        """Forget everything but that the probe is at ``indicated_c``."""
        self.value_c = self._sheath_c = self._junction_c = indicated_c
        self.rate_c_per_s = 0.0
        self._patch_now_c = 0.0  # the one at the tip
        self.patch_c = _PATCH_FIRST_C
        self.innovation_c = 0.0
        self._bias = 0.0  # running mean of the innovations in standard deviations
        self.variance = _UNKNOWN_C * _UNKNOWN_C
        self._rr = _UNKNOWN_RATE * _UNKNOWN_RATE
        self._pp = _PATCH_FIRST_C * _PATCH_FIRST_C
        self._yy = self._zz = self._yz = _NOISE_C * _NOISE_C
        if self._junction_part < 1.0:
            self._yy += _UNKNOWN_SHEATH_C * _UNKNOWN_SHEATH_C
        self._tr = self._tp = self._ty = self._tz = 0.0
        self._rp = self._ry = self._rz = self._py = self._pz = 0.0

    def step(self, indicated_c: float, learn: bool, settled: bool = False) -> float:
        """Take a reading; its log-likelihood (up to a constant).

        ``learn``: the innovation says something of the patches; ``settled``: the probe has
        taken up the chocolate's temperature.
        """
        dt = self._period_s
        decay = self._patch_decay
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
        p *= decay
        yt = a * (tt + tp) + b * ty
        yr = a * (tr + rp) + b * ry
        yp = a * (tp + pp) + b * py
        old_yz = a * (tz + pz) + b * yz
        yy = a * (yt + yp) + b * (a * (ty + py) + b * yy)
        ty = yt + dt * yr
        ry = yr
        py = decay * yp
        tz = c * ty + d * (tz + dt * rz)
        rz = c * ry + d * rz
        pz = c * py + d * decay * pz
        yz = c * yy + d * old_yz
        zz = c * (yz + d * old_yz) + d * d * zz
        tp = decay * (tp + dt * rp)
        rp = decay * rp
        tt += dt * (2 * tr + dt * rr)
        tr += dt * rr
        rr += _RATE_NOISE * _RATE_NOISE * dt
        patch_variance = patch * patch
        pp = decay * decay * (pp - patch_variance) + patch_variance
        # Correct with the one measurement.
        variance = zz + _NOISE_C * _NOISE_C  # of the innovation
        innovation = indicated_c - z
        gain_t, gain_r, gain_p = tz / variance, rz / variance, pz / variance
        gain_y, gain_z = yz / variance, zz / variance
        self.value_c = t + gain_t * innovation
        self.rate_c_per_s = r + gain_r * innovation
        self._patch_now_c = p + gain_p * innovation
        self._sheath_c = y + gain_y * innovation
        self._junction_c = z + gain_z * innovation
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
        ratio = innovation * innovation / variance
        bias = self._bias
        bias += _BIAS_SHARE * (innovation / math.sqrt(variance) - bias)
        if abs(bias) > _BIAS_LIMIT:
            bias = 0.0
            self._rr += _LOOSEN_RATE * _LOOSEN_RATE
            if settled:
                self.variance += _LOOSEN_CALM_C * _LOOSEN_CALM_C
                patch = min(_PATCH_MAX_C, patch + _LOOSEN_PATCH_C)
                self._pp += _LOOSEN_PATCH_C * _LOOSEN_PATCH_C
            else:
                self.variance += _LOOSEN_C * _LOOSEN_C
        self.innovation_c = innovation
        self._bias = bias
        if learn:
            # Innovations larger than expected make patches larger, small ones smaller.
            change = _PATCH_LEARN * (min(ratio, 6) - 1.0)
            patch = min(_PATCH_MAX_C, max(_PATCH_MIN_C, patch * (1.0 + change)))
        self.patch_c = patch
        return -0.5 * (min(ratio, _LIKELY_LIMIT) + math.log(variance))
