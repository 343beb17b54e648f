"""The baths a probe is calibrated in: what to do, what to beware of, how warm it is there.

Pure: words and numbers.
"""

from dataclasses import dataclass

from snapcurve.calibration import boiling
from snapcurve.calibration.budget import (
    GALLIUM_LIMIT_C,
    ICE_LIMIT_C,
    boiling_limit_c,
)
from snapcurve.calibration.point import GALLIUM_C, ICE_C
from snapcurve.errors import SnapcurveError
from snapcurve.shown.quantities import PLAIN, Style

# Half-widths of the station's pressure, by where it comes from. Common practice, no source:
# a barometer in the room; a weather report with the altitude; ordinary weather.
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
        "Hold the probe still in the room's air until told, then put it in at once, as deep as "
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


def ice() -> Reference:
    """Melting ice."""
    return Reference(ICE_C, ICE_LIMIT_C, "melting ice,")


def gallium() -> Reference:
    """Melting gallium, a fixed point of the ITS-90."""
    return Reference(GALLIUM_C, GALLIUM_LIMIT_C, "melting gallium,", 4)


def compared(reference_c: float, limit_c: float) -> Reference:
    """Beside a reference thermometer that may be wrong by ``limit_c``."""
    if not -10.0 <= reference_c <= 150.0:
        raise SnapcurveError(
            f"a reference of {reference_c:g} °C is no bath for this: give what the reference "
            "thermometer shows, in °C"
        )
    if not 0 < limit_c <= 2.0:
        raise SnapcurveError("--reference-limit-c is above 0 and at most 2 °C: look at its sheet")
    return Reference(reference_c, limit_c, "the reference shows")


def boiling_water(
    pressure_hpa: float | None, altitude_m: float | None, sea_level_hpa: float | None
) -> Reference:
    """Boiling water where the station's pressure or altitude is given.

    SnapcurveError if neither is, or if the pressure is one of a weather report.
    """
    if pressure_hpa is not None:
        pressure_pa, limit_pa = pressure_hpa * 100, BAROMETER_LIMIT_PA
        source = f"at {pressure_hpa:g} hPa"
        if altitude_m is not None and boiling.sea_level_pressure_suspected(
            pressure_pa, altitude_m
        ):
            raise SnapcurveError(
                f"{pressure_hpa:g} hPa is too much for {altitude_m:g} m: weather reports give the "
                "pressure reduced to sea level. Give that with --sea-level-hpa, or what a "
                "barometer in the room shows"
            )
    elif altitude_m is None:
        raise SnapcurveError(
            "how hot water boils depends on the air pressure: give --pressure-hpa (a barometer "
            "in the room) or --altitude-m"
        )
    elif sea_level_hpa is not None:
        pressure_pa = boiling.station_pressure_pa(sea_level_hpa * 100, altitude_m)
        limit_pa = REPORT_LIMIT_PA
        source = f"at {pressure_pa / 100:.1f} hPa ({sea_level_hpa:g} hPa at sea level)"
    else:
        pressure_pa, limit_pa = boiling.standard_pressure_pa(altitude_m), WEATHER_LIMIT_PA
        source = f"at {altitude_m:g} m in ordinary weather"
    true_c = boiling.boiling_point_c(pressure_pa)
    return Reference(
        true_c,
        boiling_limit_c(pressure_pa, limit_pa),
        "water boils at",
        where=f" {source}",
    )
