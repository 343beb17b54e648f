"""How far a reading of the probe can be trusted: its uncertainty budget.

Every limit is stated once, here, with where it comes from; the arithmetic is
`uncertainty`, after JCGM 100.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cosh, inf

from snapcurve.calibration.boiling import boiling_slope_c_per_pa
from snapcurve.calibration.uncertainty import Budget, Component
from snapcurve.errors import UnusableValueError
from snapcurve.probe.thermometer import its90

# Tolerance at delivery, IEC 60584-1:2013: types, class, °C, share of |t|, valid from, to.
_TOLERANCES = (
    ("KN", 1, 1.5, 0.004, -40, 1000),
    ("E", 1, 1.5, 0.004, -40, 800),
    ("J", 1, 1.5, 0.004, -40, 750),
    ("T", 1, 0.5, 0.004, -40, 350),
    ("KN", 2, 2.5, 0.0075, -40, 1200),
    ("E", 2, 2.5, 0.0075, -40, 900),
    ("J", 2, 2.5, 0.0075, -40, 750),
    ("T", 2, 1.0, 0.0075, -40, 350),
    ("KNE", 3, 2.5, 0.015, -200, 40),
    ("T", 3, 1.0, 0.015, -200, 40),
)

# Limits (half-widths) of the reference temperatures, °C. Common practice, no source, for a
# bath made with care: crushed ice and water stirred, water at a rolling boil, sealed cell.
ICE_LIMIT_C = 0.05
BOILING_LIMIT_C = 0.05
GALLIUM_LIMIT_C = 0.01

# A cold junction far from its temperature at calibration has its whole error back; nearer,
# a share of it (reasoning: its error changes smoothly over the chip's own 105 °C).
_COLD_JUNCTION_WHOLE_C = 50.0

# The stem as a fin: cosh of 0.4 per sheath diameter of depth, a quarter of the difference
# to the room arriving at the surface. Reasoning, thin sheath in a slow liquid; no source
# with chocolate. Seven diameters is the least depth makers of sheathed probes state.
IMMERSION_DIAMETERS = 7.0
_STEM_PER_DIAMETER = 0.4
_STEM_AT_SURFACE = 0.25


@dataclass(frozen=True)
class Converter:
    """Limits (half-widths) of a converter chip.

    measuring_limit_c       error at the tip from the chip's own measuring, uncalibrated
    slope_share             what of it grows with the distance from a calibration point
    cold_junction_limit_c   error of its cold junction sensor
    resolution_c            one step of its reading
    """

    name: str
    measuring_limit_c: float
    slope_share: float
    cold_junction_limit_c: float
    resolution_c: float


# MAX31856 data sheet, p. 3: cold junction 0.7 °C (-20 to 85 °C), full scale and linearity
# 0.15 %, taken of the 150 °C this product works over. MAX31855: steps by the data sheet,
# its limits of 2 °C and 2 °C from memory, the slope share being 2 °C in 700 °C.
CONVERTERS = {
    "MAX31856": Converter("MAX31856", 0.225, 0.0015, 0.7, 1 / 128),
    "MAX31855": Converter("MAX31855", 2.0, 0.003, 2.0, 0.25),
}


@dataclass(frozen=True)
class CalibrationPoint:
    """A comparison made: where (°C), how good the reference, how steady the reading.

    `reference_limit_c` is a half-width; `plateau_std_c` the standard deviation of the
    reading on the plateau, `readings` how many there were.
    """

    at_c: float
    reference_limit_c: float
    plateau_std_c: float = 0.0
    readings: int = 1


@dataclass(frozen=True)
class Bench:
    """The circumstances of the reading that is judged.

    `cold_junction_c` now, `cold_junction_at_calibration_c` then; `noise_c` is the standard
    deviation of the reading in still conditions, `noise_readings` its number of readings;
    `immersion_diameters` the depth in sheath diameters, `room_c` the stem's surroundings.
    """

    cold_junction_c: float = 23.0
    cold_junction_at_calibration_c: float = 23.0
    noise_c: float = 0.02
    noise_readings: int = 40
    immersion_diameters: float = 10.0
    room_c: float = 21.0


def tolerance_c(kind: str, tolerance_class: int, temperature_c: float) -> float:
    """Tolerance (± °C) at delivery of a thermocouple, IEC 60584-1.

    `kind` K, T, J, N or E, `tolerance_class` 1, 2 or 3. UnusableValueError where the
    standard states none.
    """
    for kinds, grade, fixed_c, share, lowest_c, highest_c in _TOLERANCES:
        if kind in kinds and grade == tolerance_class and lowest_c <= temperature_c <= highest_c:
            return max(fixed_c, share * abs(temperature_c))
    raise UnusableValueError(
        f"IEC 60584-1 states no tolerance for type {kind}, class {tolerance_class} at "
        f"{temperature_c:g} °C; classes 1 and 2 start at -40 °C, class 3 ends at 40 °C."
    )


def boiling_limit_c(station_pressure_pa: float, pressure_limit_pa: float) -> float:
    """Half-width (°C) of a boiling point whose pressure (Pa) is known to a half-width (Pa)."""
    return BOILING_LIMIT_C + pressure_limit_pa * boiling_slope_c_per_pa(station_pressure_pa)


def immersion_limit_c(temperature_c: float, room_c: float, diameters: float) -> float:
    """Largest error (°C) by heat conducted along the stem; `diameters` is the depth."""
    if not diameters > 0:
        raise UnusableValueError("The immersion depth is above zero, in sheath diameters.")
    return abs(temperature_c - room_c) * _STEM_AT_SURFACE / cosh(_STEM_PER_DIAMETER * diameters)


def immersion_hint(diameters: float) -> str | None:
    """A sentence if the probe is not deep enough, else None."""
    if diameters >= IMMERSION_DIAMETERS:
        return None
    return (
        f"The probe is in by {diameters:.1f} of its diameters; at less than "
        f"{IMMERSION_DIAMETERS:.0f} the stem carries the room's temperature to the tip: "
        "put it deeper or slant it."
    )


def largest_credible_error_c(
    temperature_c: float,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    cold_junction_c: float,
) -> float:
    """What an uncalibrated, healthy probe may be wrong by (°C), all limits added up."""
    return (
        tolerance_c(kind, tolerance_class, temperature_c)
        + converter.measuring_limit_c
        + converter.cold_junction_limit_c
        * _cold_junction_sensitivity(kind, temperature_c, cold_junction_c)
    )


def probe_budget(
    temperature_c: float,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    bench: Bench,
    *,
    calibration: Sequence[CalibrationPoint] = (),
) -> Budget:
    """The budget of one reading at `temperature_c` (°C), result in °C.

    Without calibration points the class and the chip's limits stand as they are. With
    them, both leave only what grows with the distance from the nearest point, and the
    references come in, weighted as the correction curve weights them.
    UnusableValueError as `tolerance_c`, and for a depth or number that makes no sense.
    """
    cold_junction_limit_c = converter.cold_junction_limit_c
    if calibration:
        parts = _calibrated_parts(temperature_c, converter, kind, tolerance_class, calibration)
        moved_c = abs(bench.cold_junction_c - bench.cold_junction_at_calibration_c)
        cold_junction_limit_c *= min(1.0, moved_c / _COLD_JUNCTION_WHOLE_C)
    else:
        parts = [
            Component(
                f"probe, type {kind} class {tolerance_class} (IEC 60584-1)",
                tolerance_c(kind, tolerance_class, temperature_c),
                "rectangular",
            ),
            Component(
                f"converter {converter.name}, measuring",
                converter.measuring_limit_c,
                "rectangular",
            ),
        ]
    parts += [
        Component(
            "cold junction",
            cold_junction_limit_c,
            "rectangular",
            sensitivity=_cold_junction_sensitivity(kind, temperature_c, bench.cold_junction_c),
        ),
        Component("resolution", converter.resolution_c / 2, "rectangular"),
        Component(
            "steadiness of the reading", bench.noise_c, dof=_dof_of_readings(bench.noise_readings)
        ),
        Component(
            "immersion",
            immersion_limit_c(temperature_c, bench.room_c, bench.immersion_diameters),
            "rectangular",
        ),
    ]
    return Budget(tuple(parts))


def _calibrated_parts(
    temperature_c: float,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    calibration: Sequence[CalibrationPoint],
) -> list[Component]:
    distance_c = min(abs(temperature_c - point.at_c) for point in calibration)
    parts = [
        Component(
            "probe and converter, away from the calibration points",
            distance_c * (_class_share(kind, tolerance_class) + converter.slope_share),
            "rectangular",
        )
    ]
    for point, weight in _weights(temperature_c, calibration):
        parts.append(
            Component(
                f"reference at {point.at_c:.1f} °C",
                point.reference_limit_c,
                "rectangular",
                sensitivity=weight,
            )
        )
        if point.plateau_std_c > 0:
            parts.append(
                Component(
                    f"plateau at {point.at_c:.1f} °C",
                    point.plateau_std_c,
                    divisor=point.readings**0.5,
                    sensitivity=weight,
                    dof=_dof_of_readings(point.readings),
                )
            )
    return parts


def _weights(
    temperature_c: float, calibration: Sequence[CalibrationPoint]
) -> list[tuple[CalibrationPoint, float]]:
    """Points and their weights, as the piecewise straight correction curve uses them."""
    points = sorted(calibration, key=lambda point: point.at_c)
    if temperature_c <= points[0].at_c:
        return [(points[0], 1.0)]
    for lower, upper in pairwise(points):
        if temperature_c < upper.at_c:
            weight = (temperature_c - lower.at_c) / (upper.at_c - lower.at_c)
            return [(lower, 1 - weight), (upper, weight)]
    return [(points[-1], 1.0)]


def _class_share(kind: str, tolerance_class: int) -> float:
    for kinds, grade, _, share, _, _ in _TOLERANCES:
        if kind in kinds and grade == tolerance_class:
            return share
    raise UnusableValueError(
        f"IEC 60584-1 states no class {tolerance_class} for type {kind}; give class 1, 2 or 3."
    )


def _cold_junction_sensitivity(kind: str, temperature_c: float, cold_junction_c: float) -> float:
    """By how much an error of the cold junction moves the tip: the ratio of the slopes."""
    return its90.seebeck_mv_per_c(kind, cold_junction_c) / its90.seebeck_mv_per_c(
        kind, temperature_c
    )


def _dof_of_readings(readings: int) -> float:
    return readings - 1 if readings > 1 else inf
