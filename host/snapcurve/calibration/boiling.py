"""Boiling point of water from station pressure or altitude.

Saturation temperature: IAPWS-IF97, the backward equation of region 4. Pressure over
altitude: the standard atmosphere of ISO 2533, its lowest layer.

Water boils at the pressure at the pot. Weather reports give another one, reduced to sea
level: at 1500 m that is 17 kPa and 5 °C too much.
"""

from math import sqrt

from snapcurve.errors import UnusableValueError
from snapcurve.shown.units import PLAIN, Style

STANDARD_PRESSURE_PA = 101325.0

# Stations people live at, from the shore of the Dead Sea to the highest towns.
LOWEST_STATION_PA, HIGHEST_STATION_PA = 50_000.0, 108_500.0
LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M = -430.0, 5500.0
# Highest and lowest pressures at sea level ever reported are about 108.4 and 87 kPa; in
# ordinary weather it stays within this of the standard atmosphere.
WEATHER_PA = 4500.0

_EARTH_RADIUS_M = 6_356_766.0  # ISO 2533, nominal
_SEA_LEVEL_K = 288.15
_LAPSE_K_PER_M = 0.0065
_EXPONENT = 5.25588  # g M / (R lapse)
# Outdoor air at a bench's height is up to this much warmer or colder than the standard's.
# Reasoning: -20 to 35 °C from the shore up to where people live.
_WEATHER_K = 35.0

# IAPWS R7-97, region 4, n1 to n10.
_N1 = 0.11670521452767e4
_N2 = -0.72421316703206e6
_N3 = -0.17073846940092e2
_N4 = 0.12020824702470e5
_N5 = -0.32325550322333e7
_N6 = 0.14915108613530e2
_N7 = -0.48232657361591e4
_N8 = 0.40511340542057e6
_N9 = -0.23855557567849
_N10 = 0.65017534844798e3


def saturation_temperature_c(pressure_pa: float) -> float:
    """Temperature (°C) at which water boils under a pressure (Pa, absolute).

    Holds from the triple point, 611.213 Pa, to the critical point, 22.064 MPa. Source:
    IAPWS-IF97, region 4 backward equation.
    """
    beta = (pressure_pa / 1e6) ** 0.25
    e = beta * beta + _N3 * beta + _N6
    f = _N1 * beta * beta + _N4 * beta + _N7
    g = _N2 * beta * beta + _N5 * beta + _N8
    d = 2 * g / (-f - sqrt(f * f - 4 * e * g))
    kelvin = (_N10 + d - sqrt((_N10 + d) ** 2 - 4 * (_N9 + _N10 * d))) / 2
    return float(kelvin - 273.15)


def boiling_point_c(station_pressure_pa: float, style: Style = PLAIN) -> float:
    """Boiling point (°C) of water at a kitchen's own air pressure (Pa), not sea level's.

    UnusableValueError outside LOWEST_STATION_PA to HIGHEST_STATION_PA, with the likely mistake.
    """
    if not LOWEST_STATION_PA <= station_pressure_pa <= HIGHEST_STATION_PA:
        raise UnusableValueError(
            f"An air pressure of {style.quantity(station_pressure_pa / 100, 'hPa')} is met at no "
            f"bench: give {LOWEST_STATION_PA / 100:.0f} to {HIGHEST_STATION_PA / 100:.0f} hPa "
            "(one hPa is one mbar, 100 Pa)."
        )
    return saturation_temperature_c(station_pressure_pa)


def standard_pressure_pa(altitude_m: float, style: Style = PLAIN) -> float:
    """Air pressure (Pa) of the ISO 2533 standard atmosphere at a map's height above sea level.

    UnusableValueError outside LOWEST_ALTITUDE_M to HIGHEST_ALTITUDE_M.
    """
    if not LOWEST_ALTITUDE_M <= altitude_m <= HIGHEST_ALTITUDE_M:
        raise UnusableValueError(
            f"An altitude of {style.quantity(altitude_m, 'm')} is met at no bench: give metres "
            f"above sea level, {LOWEST_ALTITUDE_M:.0f} to {HIGHEST_ALTITUDE_M:.0f}."
        )
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    share = (1 - _LAPSE_K_PER_M * geopotential_m / _SEA_LEVEL_K) ** _EXPONENT
    return float(STANDARD_PRESSURE_PA * share)


def station_pressure_pa(
    sea_level_pressure_pa: float, altitude_m: float, style: Style = PLAIN
) -> float:
    """Station pressure (Pa) from a weather report's sea-level pressure (Pa) and altitude (m).

    Scaled by the standard atmosphere; see `column_limit_pa`. UnusableValueError as
    `standard_pressure_pa`, and for a sea-level pressure no weather brings.
    """
    if not 87_000 <= sea_level_pressure_pa <= HIGHEST_STATION_PA:
        raise UnusableValueError(
            f"No weather brings {style.quantity(sea_level_pressure_pa / 100, 'hPa')} at sea "
            "level: weather reports give 950 to 1050 hPa."
        )
    standard_pa = standard_pressure_pa(altitude_m, style)
    return sea_level_pressure_pa * standard_pa / STANDARD_PRESSURE_PA


def column_limit_pa(station_pressure_pa: float, altitude_m: float) -> float:
    """By how much (half-width, Pa) a station pressure worked out from sea level may be off.

    The column of air between weighs less when it is warm: the hypsometric equation
    p = p0 exp(-g h / (R T)), by its derivative in T. What the weather service takes for the
    air's temperature is as unknown as the air's own.
    """
    mean_k = _SEA_LEVEL_K - _LAPSE_K_PER_M * altitude_m / 2
    fall = _EXPONENT * _LAPSE_K_PER_M * abs(altitude_m) / mean_k  # ln (p0 / p)
    return station_pressure_pa * fall * _WEATHER_K / mean_k


def sea_level_pressure_suspected(
    pressure_pa: float, altitude_m: float, style: Style = PLAIN
) -> bool:
    """True if a pressure (Pa) given for a station at `altitude_m` fits sea level instead.

    Then it was probably read from a weather report; below about 380 m the two cannot be
    told apart and the answer is False. UnusableValueError as `standard_pressure_pa`.
    """
    too_high_pa = pressure_pa - standard_pressure_pa(altitude_m, style)
    return too_high_pa > WEATHER_PA and abs(pressure_pa - STANDARD_PRESSURE_PA) <= WEATHER_PA


def boiling_slope_c_per_pa(station_pressure_pa: float) -> float:
    """How the boiling point moves with pressure (°C/Pa); for the uncertainty of a reading."""
    step_pa = 50.0
    return (
        saturation_temperature_c(station_pressure_pa + step_pa)
        - saturation_temperature_c(station_pressure_pa - step_pa)
    ) / (2 * step_pa)
