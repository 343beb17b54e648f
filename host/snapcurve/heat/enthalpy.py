"""Specific enthalpy of a couverture over temperature, solid, molten and in between.

Two branches joined by the latent heat L at a reference temperature T_L:

    h_solid(T)  = c_s T
    h_liquid(T) = c_s T_L + L + c_l (T - T_L)
    h(T, x)     = (1 - x) h_solid(T) + x h_liquid(T)

with x the melted share of the latent heat. It is a state function, so heat is conserved
along every path; the zero is solid chocolate at 0 °C. The specific heats are the handbook's
for 15 to 40 and 40 to 60 °C; the solid one spans the melting range and may hold a little
latent heat already.

The inner functions do not check their numbers: a simulator calls them several times a
second of its clock. `CouvertureThermal` is checked when it is made.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    LATENT_HEAT_AT_C,
    LATENT_HEAT_COCOA_BUTTER_J_PER_G,
    MELTING_POINTS_DARK,
    SPECIFIC_HEAT_LIQUID_J_PER_G_K,
    SPECIFIC_HEAT_SOLID_J_PER_G_K,
)
from snapcurve.heat.guards import require_between
from snapcurve.heat.kinds import KINDS, softened_k


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
    _slopes: list[float] = field(init=False, repr=False, compare=False)

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
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "_slopes", _knot_slopes(points))

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
        points = self.points
        if temperature_c <= points[0][0]:
            return 0.0
        if temperature_c >= points[-1][0]:
            return 1.0
        i = bisect_right(points, (temperature_c,)) - 1
        (t0, y0), (t1, y1) = points[i], points[i + 1]
        width = t1 - t0
        x = (temperature_c - t0) / width
        bend = (1 - x) * self._slopes[i] - x * self._slopes[i + 1]
        # Hermite's cubic: the straight line, bent to the slopes at both ends.
        rise = x * x * (3 - 2 * x) * (y1 - y0)
        return min(1.0, y0 + rise + x * (1 - x) * width * bend)

    def shifted(self, by_k: float) -> "MeltingCurve":
        """The same curve moved by `by_k` kelvin (negative: melts earlier)."""
        return MeltingCurve(tuple((t + by_k, y) for t, y in self.points))


@dataclass(frozen=True)
class CouvertureThermal:
    """What the arithmetic has to know of a couverture.

    latent_heat_j_per_g: heat to melt one gram of the chocolate, 5 to 120 J/g.
    specific_heat_solid_j_per_g_k, specific_heat_liquid_j_per_g_k: 0.8 to 4 J/(g K).
    latent_at_c: temperature the latent heat is quoted for, 0 to 60 °C.
    melting: how the latent heat spreads over temperature.

    Raises SnapcurveError for a number outside these ranges (a specific heat of 4 to 5
    J/(g K) for chocolate is a known error in circulation).
    """

    latent_heat_j_per_g: float
    specific_heat_solid_j_per_g_k: float = SPECIFIC_HEAT_SOLID_J_PER_G_K
    specific_heat_liquid_j_per_g_k: float = SPECIFIC_HEAT_LIQUID_J_PER_G_K
    latent_at_c: float = LATENT_HEAT_AT_C
    melting: MeltingCurve = field(default_factory=MeltingCurve)

    def __post_init__(self) -> None:
        require_between("The latent heat", self.latent_heat_j_per_g, 5.0, 120.0, "J/g")
        for name, value in (
            ("The specific heat of the solid", self.specific_heat_solid_j_per_g_k),
            ("The specific heat of the liquid", self.specific_heat_liquid_j_per_g_k),
        ):
            require_between(name, value, 0.8, 4.0, "J/(g K)")
        require_between("The temperature of the latent heat", self.latent_at_c, 0.0, 60.0, "°C")
        # The melting curve may reach below the point where both branches would cross,
        # for absurd specific heats only; then warming would give heat back.
        for t in (self.melting.start_c, self.melting.end_c):
            if latent_heat_at_j_per_g(self, t) <= 0:
                raise SnapcurveError(
                    f"With these specific heats melting at {t:g} °C would give off heat; "
                    "check the latent heat and both specific heats."
                )


def couverture_thermal(
    kind: str,
    fat_fraction: float | None = None,
    milk_fat_share: float | None = None,
    nut_fat_share: float | None = None,
) -> CouvertureThermal:
    """Thermal constants of a couverture of `kind`, one that is not in KINDS taken for dark.

    With `fat_fraction` (total fat as a share of the mass, 0.1 to 0.6, from the bag) the latent
    heat is 157 J per gram of fat, without it the kind's. `milk_fat_share` and `nut_fat_share`
    (of all fat, 0 to 1, None for the kind's usual ones) move the melting range. Raises
    SnapcurveError for another fat fraction.
    """
    usual = KINDS.get(kind, KINDS["dark"])
    latent_heat = usual.latent_heat_j_per_g
    if fat_fraction is not None:
        require_between("The fat fraction", fat_fraction, 0.1, 0.6, "of the mass")
        latent_heat = LATENT_HEAT_COCOA_BUTTER_J_PER_G * fat_fraction
    shift_k = softened_k(
        usual.milk_fat_share if milk_fat_share is None else milk_fat_share,
        usual.nut_fat_share if nut_fat_share is None else nut_fat_share,
    )
    return CouvertureThermal(latent_heat, melting=MeltingCurve().shifted(shift_k))


def latent_heat_at_j_per_g(thermal: CouvertureThermal, temperature_c: float) -> float:
    """Latent heat at `temperature_c`: L + (c_l - c_s)(T - T_L), J/g (Kirchhoff)."""
    return thermal.latent_heat_j_per_g + (
        thermal.specific_heat_liquid_j_per_g_k - thermal.specific_heat_solid_j_per_g_k
    ) * (temperature_c - thermal.latent_at_c)


def specific_heat_j_per_g_k(thermal: CouvertureThermal, melted_share: float) -> float:
    """Specific heat at a fixed melted share 0 to 1, without any melting, J/(g K)."""
    solid = thermal.specific_heat_solid_j_per_g_k
    return solid + melted_share * (thermal.specific_heat_liquid_j_per_g_k - solid)


def enthalpy_j_per_g(
    thermal: CouvertureThermal, temperature_c: float, melted_share: float
) -> float:
    """Enthalpy of chocolate of which `melted_share` (0 to 1) is molten, J/g."""
    return (
        thermal.specific_heat_solid_j_per_g_k * temperature_c
        + melted_share * latent_heat_at_j_per_g(thermal, temperature_c)
    )


def heated_enthalpy_j_per_g(thermal: CouvertureThermal, temperature_c: float) -> float:
    """Enthalpy of solid chocolate warmed slowly to `temperature_c`, J/g.

    The melted share follows the melting curve.
    """
    return enthalpy_j_per_g(thermal, temperature_c, thermal.melting.melted_share(temperature_c))


def heat_to_warm_j(thermal: CouvertureThermal, mass_g: float, from_c: float, to_c: float) -> float:
    """Heat that warms `mass_g` of solid chocolate `from_c` to `to_c` along its curve, J."""
    return mass_g * (
        heated_enthalpy_j_per_g(thermal, to_c) - heated_enthalpy_j_per_g(thermal, from_c)
    )
