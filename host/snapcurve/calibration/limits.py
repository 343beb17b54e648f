"""What a probe and its converter may be wrong by: each limit once, with where it comes from."""

from dataclasses import dataclass
from math import cosh, tanh

from snapcurve.errors import UnusableValueError
from snapcurve.probe.thermometer import its90
from snapcurve.shown.units import PLAIN, Style

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
_CONFORMS_AT_C = 100.0

# By how much of its limit a coefficient's error may change over 100 °C. Our own assumption: the
# tolerance itself says nothing of the shape.
_CURVATURE_PART = 1 / 3

# Cold junction and converter, this far from their temperature at calibration, have their whole
# error back; nearer, a share of it. Reasoning: such an error changes smoothly over the 105 °C for
# which the data sheet gives it, half of which is enough to turn it round.
COLD_JUNCTION_WHOLE_C = 35.0
# The connector, where the cold junction is, against the sensor in the chip beside it. Our own
# assumption for a board in its box: a standing difference, and what a draught adds each time.
CONNECTOR_LIMIT_C, CONNECTOR_MOVES_C = 0.1, 0.05

# The stem as a fin that goes on in the air: sqrt(4 h d / k) per diameter. A sheath of k = 12
# W/(m K) in chocolate of 0.26 W/(m K): stirred Nu = 4 (cylinder in cross flow), at rest 0.44 and
# in air 10 W/(m2 K). Arithmetic, not measured. Makers of sheathed probes ask for 7 diameters.
IMMERSION_DIAMETERS = 7.0
_STEM_PER_DIAMETER = {"stirred": 0.6, "resting": 0.195}
_STEM_IN_AIR = 0.1


@dataclass(frozen=True)
class Converter:
    """Limits (half-widths) of a converter chip.

    offset_mv               error of the voltage it measures, at any of its own temperatures
    gain_share              and what comes on top, as a share of that voltage
    cold_junction_limit_c   error of its cold junction sensor
    resolution_c            one step of its reading
    """

    name: str
    offset_mv: float
    gain_share: float
    cold_junction_limit_c: float
    resolution_c: float

    def offset_c(self, kind: str, temperature_c: float) -> float:
        """The offset as a temperature (°C) of a tip at ``temperature_c`` (°C)."""
        return self.offset_mv / its90.seebeck_mv_per_c(kind, temperature_c)


# MAX31856 data sheet, p. 3, -20 to 85 °C: offset 11.7 µV (gain 8), full scale and linearity
# 0.15 % (taken of the voltage there is: chocolate uses a fiftieth of the range), cold junction
# 0.7 °C. MAX31855: steps and 2 °C (type K, -200 to 700 °C) by the data sheet, its cold junction
# from memory.
CONVERTERS = {
    "MAX31856": Converter("MAX31856", 0.0117, 0.0015, 0.7, 1 / 128),
    "MAX31855": Converter("MAX31855", 0.0826, 0.003, 2.0, 0.25),
}


def tolerance_c(
    kind: str, tolerance_class: int, temperature_c: float, style: Style = PLAIN
) -> float:
    """Tolerance (± °C) at delivery of a thermocouple, IEC 60584-1.

    `kind` K, T, J, N or E, `tolerance_class` 1, 2 or 3. UnusableValueError where the
    standard states none.
    """
    for kinds, grade, fixed_c, share, lowest_c, highest_c in _TOLERANCES:
        if kind in kinds and grade == tolerance_class and lowest_c <= temperature_c <= highest_c:
            return max(fixed_c, share * abs(temperature_c))
    raise UnusableValueError(
        f"IEC 60584-1 states no tolerance for type {kind}, class {tolerance_class} at "
        f"{style.degrees_words(temperature_c)}: classes 1 and 2 start at "
        f"{style.degrees_words(-40)}, class 3 ends at {style.degrees_words(40)}."
    )


def coefficient_share(kind: str, tolerance_class: int) -> float:
    """By what share a conforming probe's Seebeck coefficient may be off where chocolate is worked.

    The tolerance over 100 °C: a probe whose error grows evenly from 0 °C is within it there.
    The share that IEC 60584-1 itself gives holds only above 125 °C (T) or 333 °C (others).
    UnusableValueError as `tolerance_c`.
    """
    for kinds, grade, fixed_c, _, _, _ in _TOLERANCES:
        if kind in kinds and grade == tolerance_class:
            return fixed_c / _CONFORMS_AT_C
    raise UnusableValueError(
        f"IEC 60584-1 states no class {tolerance_class} for type {kind}; give class 1, 2 or 3."
    )


def curvature_limit_c(kind: str, tolerance_class: int, below_c: float, above_c: float) -> float:
    """How far (°C) a probe may stray from the straight line between two temperatures that lie so
    far (°C) below and above. UnusableValueError as `tolerance_c`."""
    bend = _CURVATURE_PART * coefficient_share(kind, tolerance_class) / _CONFORMS_AT_C
    return bend * below_c * above_c / 2


def immersion_limit_c(
    temperature_c: float, room_c: float, diameters: float, stirred: bool = True
) -> float:
    """Largest error (°C) by heat conducted along the stem; `diameters`, the depth, is above 0."""
    per_diameter = _STEM_PER_DIAMETER["stirred" if stirred else "resting"]
    depth = per_diameter * diameters
    at_surface = _STEM_IN_AIR / (_STEM_IN_AIR + per_diameter * tanh(depth))
    return abs(temperature_c - room_c) * at_surface / cosh(min(depth, 700.0))


def immersion_hint(diameters: float, style: Style = PLAIN) -> str | None:
    """A sentence if the probe is not deep enough, else None."""
    if diameters >= IMMERSION_DIAMETERS:
        return None
    return (
        f"The probe is in by {style.number(diameters, 1)} of its diameters; at less than "
        f"{IMMERSION_DIAMETERS:.0f} the stem carries the room's temperature to the tip: "
        "put it deeper or slant it."
    )


def cold_junction_sensitivity(kind: str, temperature_c: float, cold_junction_c: float) -> float:
    """By how much an error of the cold junction moves the tip: the ratio of the slopes."""
    return its90.seebeck_mv_per_c(kind, cold_junction_c) / its90.seebeck_mv_per_c(
        kind, temperature_c
    )


def largest_credible_error_c(
    temperature_c: float,
    converter: Converter,
    kind: str,
    tolerance_class: int,
    cold_junction_c: float,
    style: Style = PLAIN,
) -> float:
    """What an uncalibrated, healthy probe may be wrong by (°C), all limits added up."""
    cold_c = converter.cold_junction_limit_c + CONNECTOR_LIMIT_C + CONNECTOR_MOVES_C
    return (
        tolerance_c(kind, tolerance_class, temperature_c, style)
        + converter.offset_c(kind, temperature_c)
        + converter.gain_share * abs(temperature_c - cold_junction_c)
        + cold_c * cold_junction_sensitivity(kind, temperature_c, cold_junction_c)
    )
