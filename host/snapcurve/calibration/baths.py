"""The baths a probe is calibrated in: what to do, how warm it is there, and what it usually
means when a probe reads too far from that.

Pure: words and numbers.
"""

from dataclasses import dataclass
from math import hypot

from snapcurve.calibration import boiling
from snapcurve.calibration.limits import Converter, largest_credible_error_c
from snapcurve.errors import SnapcurveError
from snapcurve.probe.thermometer import its90
from snapcurve.shown.units import PLAIN, Style

STEPS = ("ice", "boil", "point", "gallium")
ICE_C = 0.0  # air-saturated water and ice
GALLIUM_C = 29.7646  # melting point, a fixed point of the ITS-90

# Limits (half-widths) of the reference temperatures, °C. Common practice, no source, for a
# bath made with care: crushed ice and water stirred, water at a rolling boil, sealed cell.
ICE_LIMIT_C = 0.05
BOILING_LIMIT_C = 0.05
GALLIUM_LIMIT_C = 0.01
# Half-widths of a pressure, by where it comes from. Common practice, no source: a barometer in
# the room; a weather report, of its own place and hour; ordinary weather.
BAROMETER_LIMIT_PA = 200.0
REPORT_LIMIT_PA = 500.0
WEATHER_LIMIT_PA = 3000.0

_DRY = "Dry the probe before it goes near chocolate: water makes it seize."

_INSTRUCTIONS = {
    "ice": (
        "Fill an insulated cup with crushed ice and just enough cold water to fill the gaps.",
        "Put the probe into the middle, deep, not touching the cup, and stir now and then.",
        _DRY,
    ),
    "boil": (
        "Bring a pan of water to a rolling boil and keep it there.",
        "Hold the tip in the middle of the water, deep, not touching the pan.",
        "Steam and boiling water scald: use a holder or tongs, and keep sleeves and the cable "
        "away from the flame or plate.",
        _DRY,
    ),
    "point": (
        "Stir a large bowl of water at working temperature, near {working}.",
        "Hold the probe and the reference thermometer side by side in it, tips at one height.",
        _DRY,
    ),
    "gallium": (
        "Put the probe into the well of a sealed gallium cell that is melting.",
        "Keep the cell sealed, away from food and off aluminium: gallium eats aluminium, and "
        "it is no food.",
        "Wipe the probe well before it goes near chocolate.",
    ),
    "response": (
        "Fill a large jug with water of {warm} (hotter water scalds) and stir it all the time.",
        "Hold the probe still in the room's air until asked, then put it in at once, as deep as "
        "in a bowl of chocolate.",
        _DRY,
    ),
}


WITH_INSTRUCTIONS = tuple(_INSTRUCTIONS)


def instructions(action: str, style: Style = PLAIN) -> list[str]:
    """What to do, step by step; ``action`` is one of WITH_INSTRUCTIONS."""
    working, warm = style.temperature(31, 0), style.window(40, 55)
    return [line.format(working=working, warm=warm) for line in _INSTRUCTIONS[action]]


@dataclass(frozen=True)
class Reference:
    """A known temperature: ``limit_c`` is its half-width.

    How it is known: ``what``, then the temperature with ``decimals``, then ``where``.
    """

    true_c: float
    limit_c: float
    what: str
    decimals: int = 2
    where: str = ""

    def words(self, style: Style = PLAIN) -> str:
        """How it is known, in a person's units."""
        return f"{self.what} {style.temperature(self.true_c, self.decimals)}{self.where}"


# Baths whose temperature is known beforehand.
FIXED_POINTS = {
    "ice": Reference(ICE_C, ICE_LIMIT_C, "melting ice,"),
    "gallium": Reference(GALLIUM_C, GALLIUM_LIMIT_C, "melting gallium,", 4),
}


def compared(reference_c: float, limit_c: float, style: Style = PLAIN) -> Reference:
    """Beside a reference thermometer that may be wrong by ``limit_c``."""
    if not -10.0 <= reference_c <= 150.0:
        raise SnapcurveError(
            f"A bath at {style.degrees_words(reference_c)} is too far from working temperature: "
            f"give what the reference thermometer shows, {style.window(-10, 150)}."
        )
    if not 0 < limit_c <= 2.0:
        raise SnapcurveError(
            "--reference-limit-c is out of range: give the limit from the thermometer's sheet, "
            f"above 0 and at most {style.difference(2, 1, sign=False, trim=True)}."
        )
    return Reference(reference_c, limit_c, "the reference shows")


def boiling_limit_c(station_pressure_pa: float, pressure_limit_pa: float) -> float:
    """Half-width (°C) of a boiling point whose pressure (Pa) is known to a half-width (Pa)."""
    slope = boiling.boiling_slope_c_per_pa(station_pressure_pa)
    return hypot(BOILING_LIMIT_C, pressure_limit_pa * slope)


def boiling_water(
    pressure_hpa: float | None,
    altitude_m: float | None,
    sea_level_hpa: float | None,
    style: Style = PLAIN,
) -> Reference:
    """Boiling water where the station's pressure or altitude is given.

    SnapcurveError if neither is, or if the pressure is one of a weather report.
    """
    if pressure_hpa is not None:
        pressure_pa, limit_pa = pressure_hpa * 100, BAROMETER_LIMIT_PA
        source = f"at {style.quantity(pressure_hpa, 'hPa')}"
        if altitude_m is not None and boiling.sea_level_pressure_suspected(
            pressure_pa, altitude_m, style
        ):
            raise SnapcurveError(
                f"{style.quantity(pressure_hpa, 'hPa')} is too much for "
                f"{style.quantity(altitude_m, 'm')}: weather reports give the pressure reduced "
                "to sea level. Give that with --sea-level-hpa, or what a barometer in the room "
                "shows."
            )
    elif altitude_m is None:
        raise SnapcurveError(
            "How hot water boils depends on the air pressure: give --pressure-hpa (a barometer "
            "in the room) or --altitude-m."
        )
    elif sea_level_hpa is not None:
        pressure_pa = boiling.station_pressure_pa(sea_level_hpa * 100, altitude_m, style)
        limit_pa = hypot(REPORT_LIMIT_PA, boiling.column_limit_pa(pressure_pa, altitude_m))
        source = (
            f"at {style.number(pressure_pa / 100, 1)} hPa "
            f"({style.quantity(sea_level_hpa, 'hPa')} at sea level)"
        )
    else:
        pressure_pa = boiling.standard_pressure_pa(altitude_m, style)
        limit_pa = WEATHER_LIMIT_PA
        source = f"at {style.quantity(altitude_m, 'm')} in ordinary weather"
    return Reference(
        boiling.boiling_point_c(pressure_pa, style),
        boiling_limit_c(pressure_pa, limit_pa),
        "water boils at",
        where=f" {source}",
    )


_USUAL_CAUSES = {
    ("ice", "above"): "too little ice, no stirring, or the tip touching the vessel: fill it with "
    "crushed ice, add just enough water to fill the gaps and stir",
    ("ice", "below"): "salt in the ice, or ice straight from the freezer with too little water",
    ("boil", "above"): "the probe touching the pan: hold it in the middle of the water",
    ("boil", "below"): "no rolling boil, the probe not deep enough, or a pressure or altitude "
    "that is not this place's (weather reports give the pressure at sea level)",
    ("point", "above"): "the two thermometers not side by side, or the bath not stirred",
    ("point", "below"): "the two thermometers not side by side, or the bath not stirred",
    ("gallium", "above"): "the cell already melted through: freeze it and begin again",
    ("gallium", "below"): "the cell not melting yet, or the probe not at the bottom of its well",
}


def why_not_credible(
    step: str,
    true_c: float,
    indicated_c: float,
    *,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    cold_junction_c: float,
    reference_limit_c: float = 0.0,
    style: Style = PLAIN,
) -> str | None:
    """None if a healthy probe can be wrong by this much, else what it usually means.

    `step` is one of STEPS, `indicated_c` the plateau's uncorrected mean, `kind` the
    thermocouple type that is set, `reference_limit_c` the half-width of the true value.
    UnusableValueError where IEC 60584-1 states no tolerance.
    """
    off_c = indicated_c - true_c
    limit_c = reference_limit_c + largest_credible_error_c(
        true_c, converter, kind, tolerance_class, cold_junction_c, style
    )
    if abs(off_c) <= limit_c:
        return None
    side = "above" if off_c > 0 else "below"
    causes = _wiring_causes(true_c, indicated_c, kind, cold_junction_c)
    causes.append(_USUAL_CAUSES[step, side])
    return (
        f"The probe reads {style.difference(abs(off_c), sign=False)} {side} "
        f"{style.temperature(true_c)}; a healthy type {kind} probe of class {tolerance_class} "
        f"with this converter is off by {style.difference(limit_c, sign=False)} at most, so this "
        f"is not corrected away. Usually it means: {'; or '.join(causes)}."
    )


def _wiring_causes(
    true_c: float, indicated_c: float, kind: str, cold_junction_c: float
) -> list[str]:
    """Faults of wiring or setting that would give just this reading."""
    cold_mv = its90.emf_mv(kind, cold_junction_c)
    # A healthy probe's own error comes on top, so near is near enough.
    near_c = max(1.0, 0.15 * abs(indicated_c - true_c))

    def explains(voltage_mv: float) -> bool:
        try:
            shown_c = its90.temperature_c(kind, cold_mv + voltage_mv)
        except ValueError:
            return False
        return abs(shown_c - indicated_c) <= near_c

    causes = []
    if explains(cold_mv - its90.emf_mv(kind, true_c)):
        causes.append("the two leads swapped at the converter, so that it moves the wrong way")
    if explains(0.0):
        causes.append(
            "the leads touching before the tip, so that it shows the board's temperature"
        )
    others = [
        other
        for other in its90.TYPES
        if other != kind
        and explains(its90.emf_mv(other, true_c) - its90.emf_mv(other, cold_junction_c))
    ]
    if others:
        causes.append(
            f"type {kind} set for a type {' or '.join(others)} probe (look at its plug and label)"
        )
    return causes
