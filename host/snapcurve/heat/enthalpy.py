"""Specific enthalpy of a couverture over temperature, solid, molten and in between.

Two branches joined by the latent heat L at a reference temperature T_L:

    h_solid(T)  = c_s T
    h_liquid(T) = c_s T_L + L + c_l (T - T_L)
    h(T, x)     = (1 - x) h_solid(T) + x h_liquid(T)

with x the melted share of the latent heat. It is a state function, so heat is conserved
along every path; the zero is solid chocolate at 0 °C. For a given x it is linear in T,
so its inverse is exact. The specific heats are the handbook's for 15 to 40 and 40 to
60 °C; the solid one spans the melting range and may hold a little latent heat already.

The inner functions do not check their numbers: a simulator calls them several times a
second of its clock. `CouvertureThermal` is checked when it is made.
"""

from dataclasses import dataclass, field

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    FAT_FRACTION_WHITE,
    LATENT_HEAT_COCOA_BUTTER,
    LATENT_HEAT_DARK,
    LATENT_HEAT_MILK,
    LATENT_HEAT_TEMPERATURE,
    MILK_FAT_SHIFT,
    SPECIFIC_HEAT_LIQUID,
    SPECIFIC_HEAT_SOLID,
)
from snapcurve.heat.guards import require_between
from snapcurve.heat.melting import MeltingCurve
from snapcurve.heat.root_finding import newton_rising


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
    specific_heat_solid_j_per_g_k: float = SPECIFIC_HEAT_SOLID.value
    specific_heat_liquid_j_per_g_k: float = SPECIFIC_HEAT_LIQUID.value
    latent_at_c: float = LATENT_HEAT_TEMPERATURE.value
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


def couverture_thermal(kind: str, fat_fraction: float | None = None) -> CouvertureThermal:
    """Thermal constants of a couverture of `kind` "dark", "milk", "white" or "caramelised white".

    With `fat_fraction` (total fat as a share of the mass, 0.1 to 0.6, from the bag) the
    latent heat is 157 J per gram of fat; without it the handbook's 46 (dark) and 44 J/g
    (milk), and for white a usual fat fraction. Milk and white melt earlier by a shift
    from memory; caramelised white is reckoned as white. Raises SnapcurveError for another
    kind or fat fraction.
    """
    if kind == "caramelised white":
        kind = "white"
    if kind not in ("dark", "milk", "white"):
        raise SnapcurveError(f'"{kind}" is no kind of couverture; use dark, milk or white.')
    if fat_fraction is not None:
        require_between("The fat fraction", fat_fraction, 0.1, 0.6, "of the mass")
        latent_heat = LATENT_HEAT_COCOA_BUTTER.value * fat_fraction
    elif kind == "white":
        latent_heat = LATENT_HEAT_COCOA_BUTTER.value * FAT_FRACTION_WHITE.value
    else:
        latent_heat = (LATENT_HEAT_DARK if kind == "dark" else LATENT_HEAT_MILK).value
    melting = MeltingCurve()
    if kind != "dark":
        melting = melting.shifted(MILK_FAT_SHIFT.value)
    return CouvertureThermal(latent_heat, melting=melting)


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


def temperature_from_enthalpy_c(
    thermal: CouvertureThermal, h_j_per_g: float, melted_share: float
) -> float:
    """Temperature of chocolate with this enthalpy at a fixed melted share, °C (exact)."""
    at_zero = melted_share * latent_heat_at_j_per_g(thermal, 0.0)
    return (h_j_per_g - at_zero) / specific_heat_j_per_g_k(thermal, melted_share)


def heated_enthalpy_j_per_g(thermal: CouvertureThermal, temperature_c: float) -> float:
    """Enthalpy of solid chocolate warmed slowly to `temperature_c`, J/g.

    The melted share follows the melting curve.
    """
    return enthalpy_j_per_g(thermal, temperature_c, thermal.melting.melted_share(temperature_c))


def heated_temperature_c(thermal: CouvertureThermal, h_j_per_g: float) -> float:
    """Inverse of `heated_enthalpy_j_per_g`, °C, to about 1e-12 K."""
    melting = thermal.melting
    if h_j_per_g <= heated_enthalpy_j_per_g(thermal, melting.start_c):
        return temperature_from_enthalpy_c(thermal, h_j_per_g, 0.0)
    if h_j_per_g >= heated_enthalpy_j_per_g(thermal, melting.end_c):
        return temperature_from_enthalpy_c(thermal, h_j_per_g, 1.0)

    def excess_and_slope(at_c: float) -> tuple[float, float]:
        share = melting.melted_share(at_c)
        latent = latent_heat_at_j_per_g(thermal, at_c)
        return (
            enthalpy_j_per_g(thermal, at_c, share) - h_j_per_g,
            specific_heat_j_per_g_k(thermal, share) + melting.slope_per_k(at_c) * latent,
        )

    middle_c = 0.5 * (melting.start_c + melting.end_c)
    return newton_rising(excess_and_slope, melting.start_c, melting.end_c, middle_c)


def heat_to_warm_j(thermal: CouvertureThermal, mass_g: float, from_c: float, to_c: float) -> float:
    """Heat that warms `mass_g` of solid chocolate `from_c` to `to_c` along its curve, J."""
    return mass_g * (
        heated_enthalpy_j_per_g(thermal, to_c) - heated_enthalpy_j_per_g(thermal, from_c)
    )
