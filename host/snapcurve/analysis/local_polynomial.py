"""Smoothing and slope of a series on an even grid, some of it missing.

At each point a cubic is fitted by least squares to all values within ``half_width`` points;
its value and slope there are the answer. Where nothing is missing that is the filter of
Savitzky and Golay (Anal. Chem. 36 (1964) 1627). Where values are missing the fit goes on with
those there are: the normal equations are put together from moments, which a convolution
gives for all points at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DEGREE = 3
# So much of a window must be there; with less the fit hangs on its ends.
LEAST_SHARE = 0.7


@dataclass(frozen=True)
class Smoothed:
    """Values and slopes (per grid step) at each point, NaN where no window fits.

    ``gain`` is the standard deviation of a slope if that of each value is 1.
    """

    values: Array
    slopes: Array
    gain: Array


def smooth(values: Array, half_width: int) -> Smoothed:
    """Local cubics over ``2 * half_width + 1`` points of ``values``, NaN for missing ones.

    Windows that would reach beyond an end are left out. ``half_width`` is at least 3.
    """
    count = 2 * half_width + 1
    there = ~np.isnan(values)
    filled = np.where(there, values, 0.0)
    answer = [np.full(len(values), np.nan) for _ in range(3)]
    if len(values) < count:
        return Smoothed(*answer)
    # In units of the half-width, so that the normal equations stay well conditioned.
    u = np.arange(-half_width, half_width + 1) / half_width
    weights = there.astype(float)
    present = _sums(weights, np.ones(count))
    good = present >= LEAST_SHARE * count
    if not good.any():
        return Smoothed(*answer)
    # All whole windows have the same normal equations; only the others need their own.
    inverse = np.broadcast_to(
        np.linalg.inv(_normal([np.asarray(np.sum(u**power)) for power in range(2 * DEGREE + 1)])),
        (int(good.sum()), DEGREE + 1, DEGREE + 1),
    )
    gaps = present[good] < count
    if gaps.any():
        moments = [_sums(weights, u**power)[good][gaps] for power in range(2 * DEGREE + 1)]
        inverse = inverse.copy()
        inverse[gaps] = np.linalg.inv(_normal(moments))
    right = np.stack([_sums(filled, u**power) for power in range(DEGREE + 1)], axis=1)
    solved = np.einsum("nij,nj->ni", inverse, right[good])
    where = np.flatnonzero(good) + half_width
    answer[0][where] = solved[:, 0]
    answer[1][where] = solved[:, 1] / half_width
    answer[2][where] = np.sqrt(inverse[:, 1, 1]) / half_width
    return Smoothed(*answer)


def _normal(moments: list[Array]) -> Array:
    """The normal equations' matrices from the moments of the windows' places."""
    rows = [[moments[row + column] for column in range(DEGREE + 1)] for row in range(DEGREE + 1)]
    matrices: Array = np.moveaxis(np.array(rows), (0, 1), (-2, -1))
    return matrices


def _sums(series: Array, weights: Array) -> Array:
    """Sum of ``series`` times ``weights`` over each whole window."""
    return np.convolve(series, weights[::-1], mode="valid")
