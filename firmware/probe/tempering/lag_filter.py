"""Kalman filter for a probe that lags: the chocolate behind the reading.

State: chocolate temperature T, its rate r, the patch p that passes the tip (uneven
temperature, gone after some seconds), and what the probe itself is at, z. T' = r with r
wandering at random, p decays towards nothing, z' = (T + p - z) / lag, measured is z with
noise. Kalman's equations (Kalman 1960; any textbook) with the 4 x 4 covariance written out,
since there is one measurement and the matrices are mostly zeros.

How uneven the bowl is the filter learns from its own surprises: pieces that melt make
large patches, an even bowl none.
"""

import math
from array import array

from wire.const import const

_NOISE_C = const(0.06)  # of one reading: converter, wiring, small eddies
_WANDER_RATE = const(0.003)  # °C/s per root second: how fast the rate itself may change
_PATCH_S = const(3.0)  # how long a patch stays at the tip
_PATCH_MIN_C = const(0.02)
_PATCH_MAX_C = const(0.5)
_PATCH_FIRST_C = const(0.2)  # supposed whenever the probe goes in: what was known before is stale
_PATCH_LEARN = const(0.04)  # share by which a surprise moves the idea of the patches
_LIKELY_LIMIT = const(3.0)  # variances; a single odd reading must not decide which lag it is
_LEAN_SHARE = const(0.1)  # of a surprise that goes into their running mean
_LEAN_LIMIT = const(1.5)  # standard deviations
_LOOSEN_C = const(0.5)  # soon after the probe went in the value may be wrong by this,
_LOOSEN_CALM_C = const(0.1)  # later hardly: a kilogram does not jump,
_LOOSEN_PATCH_C = const(0.15)  # but a warm or cold patch may have come to the tip
_LOOSEN_RATE = const(0.02)
_UNKNOWN_C = const(15.0)  # spread of T when the probe has just gone in
_UNKNOWN_RATE = const(0.03)  # °C/s, of the rate then

# Places in the state. An array, because numbers kept as attributes are objects: they take
# more memory and, new with each reading, lie scattered over all that is free.
_T = const(0)  # chocolate, °C
_R = const(1)  # its rate, °C/s
_P = const(2)  # patch and indication, °C
_Z = const(3)
_TT = const(4)  # covariances
_RR = const(5)
_PP = const(6)
_ZZ = const(7)
_TR = const(8)
_TP = const(9)
_TZ = const(10)
_RP = const(11)
_RZ = const(12)
_PZ = const(13)
_PATCH = const(14)  # the usual size of a patch, °C
_SURPRISE = const(15)  # °C
_LEAN = const(16)  # running mean of the surprises, in standard deviations


class LagFilter:
    """One step for each reading, ``period_s`` apart.

    ``value_c`` and ``rate_c_per_s`` are T and r, ``variance`` that of T in °C²; ``patch_c`` is
    the usual size of a patch, ``surprise_c`` by how much the last reading was not foreseen.
    """

    def __init__(self, period_s: float, lag_s: float):
        self._dt = period_s
        self._keep = math.exp(-period_s / _PATCH_S)
        self.lag_s = lag_s
        self._follow = 1.0 - math.exp(-period_s / lag_s)
        self._state = array("d", [0.0] * (_LEAN + 1))
        self.start(0.0)

    @property
    def value_c(self) -> float:
        return self._state[_T]

    @property
    def rate_c_per_s(self) -> float:
        return self._state[_R]

    @property
    def variance(self) -> float:
        return self._state[_TT]

    @property
    def patch_c(self) -> float:
        return self._state[_PATCH]

    @property
    def surprise_c(self) -> float:
        return self._state[_SURPRISE]

    def start(self, indicated_c: float) -> None:
        """Forget everything but that the probe is at ``indicated_c``."""
        state = self._state
        for place in range(len(state)):
            state[place] = 0.0
        state[_T] = state[_Z] = indicated_c
        state[_TT] = _UNKNOWN_C * _UNKNOWN_C
        state[_RR] = _UNKNOWN_RATE * _UNKNOWN_RATE
        state[_PATCH] = _PATCH_FIRST_C
        state[_PP] = _PATCH_FIRST_C * _PATCH_FIRST_C
        state[_ZZ] = _NOISE_C * _NOISE_C

    def step(self, indicated_c: float, learn: bool, settled: bool = False) -> float:
        """Take a reading; the logarithm of how likely it was (up to a constant).

        ``learn``: the surprise says something of the patches; ``settled``: the way in is over.
        """
        dt = self._dt
        keep = self._keep
        a = self._follow
        b = 1.0 - a
        state = self._state
        t, r, p, z, tt, rr, pp, zz, tr, tp, tz, rp, rz, pz, patch, _, lean = state
        # Predict the state, then its covariance.
        z += a * (t + p - z)
        t += r * dt
        p *= keep
        zt = a * (tt + tp) + b * tz
        zr = a * (tr + rp) + b * rz
        zp = a * (tp + pp) + b * pz
        zz = a * (zt + zp) + b * (a * (tz + pz) + b * zz)
        tz = zt + dt * zr
        rz = zr
        pz = keep * zp
        tp = keep * (tp + dt * rp)
        rp = keep * rp
        tt += dt * (2.0 * tr + dt * rr)
        tr += dt * rr
        rr += _WANDER_RATE * _WANDER_RATE * dt
        patch_variance = patch * patch
        pp = keep * keep * (pp - patch_variance) + patch_variance
        # Correct with the one measurement.
        spread = zz + _NOISE_C * _NOISE_C
        surprise = indicated_c - z
        gain_t, gain_r, gain_p, gain_z = tz / spread, rz / spread, pz / spread, zz / spread
        state[_T] = t + gain_t * surprise
        state[_R] = r + gain_r * surprise
        state[_P] = p + gain_p * surprise
        state[_Z] = z + gain_z * surprise
        state[_TT] = tt - gain_t * tz
        state[_TR] = tr - gain_t * rz
        state[_TP] = tp - gain_t * pz
        state[_TZ] = tz - gain_t * zz
        state[_RR] = rr - gain_r * rz
        state[_RP] = rp - gain_r * pz
        state[_RZ] = rz - gain_r * zz
        state[_PP] = pp - gain_p * pz
        state[_PZ] = pz - gain_p * zz
        state[_ZZ] = zz - gain_z * zz
        ratio = surprise * surprise / spread
        lean += _LEAN_SHARE * (surprise / math.sqrt(spread) - lean)
        if abs(lean) > _LEAN_LIMIT:
            # Always wrong to the same side: something new has begun.
            lean = 0.0
            state[_RR] += _LOOSEN_RATE * _LOOSEN_RATE
            if settled:
                state[_TT] += _LOOSEN_CALM_C * _LOOSEN_CALM_C
                patch = min(_PATCH_MAX_C, patch + _LOOSEN_PATCH_C)
                state[_PP] += _LOOSEN_PATCH_C * _LOOSEN_PATCH_C
            else:
                state[_TT] += _LOOSEN_C * _LOOSEN_C
        state[_SURPRISE] = surprise
        state[_LEAN] = lean
        if learn:
            # Surprises above their due make larger patches likely, small ones smaller.
            change = _PATCH_LEARN * (min(ratio, 6.0) - 1.0)
            patch = min(_PATCH_MAX_C, max(_PATCH_MIN_C, patch * (1.0 + change)))
        state[_PATCH] = patch
        return -0.5 * (min(ratio, _LIKELY_LIMIT) + math.log(spread))
