"""How much of a couverture has melted at a temperature, as a smooth editable curve."""

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import MELTING_POINTS_DARK

_Segment = tuple[float, float, float, float, float]


def _knot_slopes(points: tuple[tuple[float, float], ...]) -> list[float]:
    """Slopes at the knots that keep the cubic monotone (Fritsch and Butland 1984).

    The curve lies flat beyond both ends, so the end slopes are zero.
    """
    slopes = [0.0]
    for (t0, y0), (t1, y1), (t2, y2) in zip(points, points[1:], points[2:], strict=False):
        width_left, width_right = t1 - t0, t2 - t1
        rise_left, rise_right = (y1 - y0) / width_left, (y2 - y1) / width_right
        if rise_left * rise_right <= 0:
            slopes.append(0.0)
            continue
        weight_left, weight_right = 2 * width_right + width_left, width_right + 2 * width_left
        slopes.append(
            (weight_left + weight_right) / (weight_left / rise_left + weight_right / rise_right)
        )
    return [*slopes, 0.0]


@dataclass(frozen=True)
class MeltingCurve:
    """Share of the latent heat that fully solid chocolate has taken up at °C.

    `points` are (temperature °C, melted share) with rising temperatures, first share 0,
    last share 1, none falling. Between them runs a monotone cubic with continuous slope
    (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300); outside it is flat.
    It is a curve for melting: a melt cooled below it stays liquid until crystals grow,
    which this arithmetic leaves to the caller.

    Raises SnapcurveError if the points are not such a curve.
    """

    points: tuple[tuple[float, float], ...] = MELTING_POINTS_DARK
    _starts_c: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _segments: tuple[_Segment, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        points = tuple((float(t), float(y)) for t, y in self.points)
        if len(points) < 2 or not all(isfinite(t) and isfinite(y) for t, y in points):
            raise SnapcurveError("A melting curve needs at least two points of plain numbers.")
        if any(b[0] <= a[0] or b[1] < a[1] for a, b in pairwise(points)):
            raise SnapcurveError(
                "The points of a melting curve must rise in temperature and never fall in "
                "melted share; put them in order."
            )
        if points[0][1] != 0.0 or points[-1][1] != 1.0:
            raise SnapcurveError(
                "A melting curve starts at a melted share of 0 and ends at 1; add the missing end."
            )
        slopes = _knot_slopes(points)
        segments = []
        for i, ((t0, y0), (t1, y1)) in enumerate(pairwise(points)):
            width = t1 - t0
            rise = (y1 - y0) / width
            square = (3 * rise - 2 * slopes[i] - slopes[i + 1]) / width
            cube = (slopes[i] + slopes[i + 1] - 2 * rise) / (width * width)
            segments.append((t0, y0, slopes[i], square, cube))
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "_starts_c", tuple(t for t, _ in points[:-1]))
        object.__setattr__(self, "_segments", tuple(segments))

    @property
    def start_c(self) -> float:
        """Temperature below which nothing has melted, °C."""
        return self.points[0][0]

    @property
    def end_c(self) -> float:
        """Temperature above which all has melted, °C."""
        return self.points[-1][0]

    def melted_share(self, temperature_c: float) -> float:
        """Melted share 0 to 1 of fully solid chocolate warmed to `temperature_c`."""
        if temperature_c <= self.points[0][0]:
            return 0.0
        if temperature_c >= self.points[-1][0]:
            return 1.0
        t0, y0, slope, square, cube = self._segments[
            bisect_right(self._starts_c, temperature_c) - 1
        ]
        x = temperature_c - t0
        return min(1.0, y0 + x * (slope + x * (square + x * cube)))

    def slope_per_k(self, temperature_c: float) -> float:
        """Derivative of `melted_share`, 1/K, zero or more."""
        if not self.points[0][0] < temperature_c < self.points[-1][0]:
            return 0.0
        t0, _, slope, square, cube = self._segments[
            bisect_right(self._starts_c, temperature_c) - 1
        ]
        x = temperature_c - t0
        return max(0.0, slope + x * (2 * square + 3 * x * cube))

    def shifted(self, by_k: float) -> "MeltingCurve":
        """The same curve moved by `by_k` kelvin (negative: melts earlier)."""
        return MeltingCurve(tuple((t + by_k, y) for t, y in self.points))
