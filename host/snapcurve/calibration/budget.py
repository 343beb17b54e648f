"""How far a reading of the probe can be trusted: its uncertainty budget after JCGM 100:2008.

Every limit is stated once, here, with where it comes from. Components of independent origin,
each a half-width, a standard or an expanded uncertainty with its divisor and sensitivity
coefficient, are combined to first order (GUM 5.1).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cosh, hypot, sqrt

from snapcurve.calibration.stored import Calibration, Point
from snapcurve.errors import UnusableValueError
from snapcurve.probe.thermometer import its90
from snapcurve.shown.units import PLAIN, Style

# What turns the stated value into a standard uncertainty (GUM 4.3).
DIVISORS = {"normal": 1.0, "rectangular": sqrt(3)}

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

# A cold junction far from its temperature at calibration has its whole error back; nearer,
# a share of it (reasoning: its error changes smoothly over the chip's own 105 °C).
_COLD_JUNCTION_WHOLE_C = 50.0

# The stem as a fin: cosh of 0.4 per sheath diameter of depth, a quarter of the difference
# to the room arriving at the surface. Reasoning, thin sheath in a slow liquid; no source
# with chocolate. Seven diameters is the least depth makers of sheathed probes state.
IMMERSION_DIAMETERS = 7.0
_STEM_PER_DIAMETER = 0.4
_STEM_AT_SURFACE = 0.25
_NOISE_C = 0.02  # standard deviation of the reading in still conditions


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
class Component:
    """One line of a budget.

    `value` is in the unit of the input quantity and not negative: the half-width of a
    rectangular distribution, or the standard deviation of a normal one, to be divided by
    `divisor`. `sensitivity` turns that unit into the result's.
    """

    name: str
    value: float
    distribution: str = "normal"
    divisor: float | None = None
    sensitivity: float = 1.0

    @property
    def standard_uncertainty(self) -> float:
        """u(x), in the input quantity's unit."""
        divisor = DIVISORS[self.distribution] if self.divisor is None else self.divisor
        return self.value / divisor

    @property
    def contribution(self) -> float:
        """|c| u(x), in the result's unit."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True)
class Budget:
    """Components of one result; all independent of each other."""

    components: tuple[Component, ...]

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, the root of the summed squares."""
        return hypot(*(component.contribution for component in self.components))

    def expanded(self, k: float = 2.0) -> float:
        """Expanded uncertainty U = k u_c."""
        return k * self.combined

    def share(self, component: Component) -> float:
        """A component's part of the combined variance, 0 to 1."""
        return (component.contribution / self.combined) ** 2 if self.combined else 0.0


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


def immersion_limit_c(temperature_c: float, room_c: float, diameters: float) -> float:
    """Largest error (°C) by heat conducted along the stem; `diameters`, the depth, is above 0."""
    return abs(temperature_c - room_c) * _STEM_AT_SURFACE / cosh(_STEM_PER_DIAMETER * diameters)


def immersion_hint(diameters: float, style: Style = PLAIN) -> str | None:
    """A sentence if the probe is not deep enough, else None."""
    if diameters >= IMMERSION_DIAMETERS:
        return None
    return (
        f"The probe is in by {style.number(diameters, 1)} of its diameters; at less than "
        f"{IMMERSION_DIAMETERS:.0f} the stem carries the room's temperature to the tip: "
        "put it deeper or slant it."
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
    return (
        tolerance_c(kind, tolerance_class, temperature_c, style)
        + converter.measuring_limit_c
        + converter.cold_junction_limit_c
        * _cold_junction_sensitivity(kind, temperature_c, cold_junction_c)
    )


def probe_budget(
    temperature_c: float,
    converter: Converter,
    kind: str,
    calibration: Calibration,
    *,
    room_c: float,
    diameters: float = 10.0,
    style: Style = PLAIN,
) -> Budget:
    """The budget of one reading at `temperature_c` (°C), result in °C.

    `room_c` is the board's own temperature and that around the stem, `diameters` the depth in
    sheath diameters. Without calibration points class and chip stand as they are. With them,
    both leave only what grows with the distance from the nearest point, and the references
    come in, weighted as the correction curve weights them. UnusableValueError as `tolerance_c`.
    """
    grade, cold_junction_limit_c = calibration.tolerance_class, converter.cold_junction_limit_c
    if calibration.points:
        parts = _calibrated_parts(temperature_c, converter, kind, calibration, style)
        moved_c = abs(room_c - calibration.cold_junction_c)
        cold_junction_limit_c *= min(1.0, moved_c / _COLD_JUNCTION_WHOLE_C)
    else:
        class_c = tolerance_c(kind, grade, temperature_c, style)
        parts = [
            _limit(f"probe, type {kind} class {grade} (IEC 60584-1)", class_c),
            _limit(f"converter {converter.name}, measuring", converter.measuring_limit_c),
        ]
    sensitivity = _cold_junction_sensitivity(kind, temperature_c, room_c)
    parts += [
        _limit("cold junction", cold_junction_limit_c, sensitivity),
        _limit("resolution", converter.resolution_c / 2),
        Component("steadiness of the reading", _NOISE_C),
        _limit("immersion", immersion_limit_c(temperature_c, room_c, diameters)),
    ]
    return Budget(tuple(parts))


def _calibrated_parts(
    temperature_c: float, converter: Converter, kind: str, calibration: Calibration, style: Style
) -> list[Component]:
    distance_c = min(abs(temperature_c - point.true_c) for point in calibration.points)
    share = _class_share(kind, calibration.tolerance_class) + converter.slope_share
    parts = [_limit("probe and converter, away from the calibration points", distance_c * share)]
    for point, weight in _weights(temperature_c, calibration.points):
        at = style.temperature(point.true_c)
        parts.append(_limit(f"reference at {at}", point.reference_limit_c, weight))
        if point.spread_c > 0:
            divisor = max(1, point.readings) ** 0.5
            parts.append(Component(f"plateau at {at}", point.spread_c, "normal", divisor, weight))
    return parts


def _limit(name: str, half_width: float, sensitivity: float = 1.0) -> Component:
    return Component(name, half_width, "rectangular", sensitivity=sensitivity)


def _weights(temperature_c: float, calibration: Sequence[Point]) -> list[tuple[Point, float]]:
    """Points and their weights, as the piecewise straight correction curve uses them."""
    points = sorted(calibration, key=lambda point: point.true_c)
    if temperature_c <= points[0].true_c:
        return [(points[0], 1.0)]
    for lower, upper in pairwise(points):
        if temperature_c < upper.true_c:
            weight = (temperature_c - lower.true_c) / (upper.true_c - lower.true_c)
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
