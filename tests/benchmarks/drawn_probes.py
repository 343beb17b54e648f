"""Probes, converters and baths drawn at random, calibrated and read: a Monte Carlo after JCGM 101.

It judges the probe's budget and shares none of its arithmetic. A probe is two wires with a
voltage: by the ITS-90 function (package thermocouple-its90), a relative error of the Seebeck
coefficient, a bend, and a stray voltage, so that it conforms to its class. The chip measures that
voltage and its own temperature with errors that change with its temperature, and turns the sum
back into degrees. A stem is a fin, boiling water follows IAPWS (package iapws), the air above a
town weighs as warm as it is. Every draw has all of it; only the correction curve is that of the
product, a straight line between the points.

Figures: tolerance IEC 60584-1 class 1 and 2; data sheets of the chips; what the product itself
only assumes (bend, connector, drift, limits of the baths) is drawn as it is stated there.
"""

from dataclasses import dataclass

import numpy as np
from iapws.iapws97 import _TSat_P
from numpy.typing import NDArray
from thermocouple_its90 import TypeJ, TypeK, TypeN, TypeT

from snapcurve.calibration import baths
from snapcurve.calibration.budget import Conditions, probe_budget
from snapcurve.calibration.limits import CONVERTERS
from snapcurve.calibration.stored import Calibration, Point

Array = NDArray[np.float64]
TYPES = {"K": TypeK, "T": TypeT, "N": TypeN, "J": TypeJ}
TOLERANCE_C = {
    1: {"K": 1.5, "N": 1.5, "J": 1.5, "T": 0.5},
    2: {"K": 2.5, "N": 2.5, "J": 2.5, "T": 1.0},
}
# Offset (mV), gain, cold junction (°C) as half-widths, and the step of a reading (°C).
CHIPS = {"MAX31856": (0.0117, 0.0015, 0.7, 1 / 128), "MAX31855": (0.0826, 0.003, 2.0, 0.25)}
AT_C = 31.0
NOW_S = 2_000_000_000
DAY_S = 86400
REPORT_M = 1000.0
SPREAD_C, READINGS = 0.02, 200
_GRID_C = np.arange(-40.0, 160.0, 0.05)
_MV = {kind: np.array([made.emf(t) for t in _GRID_C]) for kind, made in TYPES.items()}
_GRID_PA = np.arange(70_000.0, 108_000.0, 500.0)
_BOILS_C = np.array([_TSat_P(pa / 1e6) - 273.15 for pa in _GRID_PA])


def emf_mv(kind: str, at_c: Array | float) -> Array:
    """ITS-90 voltage, from a table of thermocouple-its90."""
    return np.interp(at_c, _GRID_C, _MV[kind])


def temperature_c(kind: str, mv: Array) -> Array:
    """And back."""
    return np.interp(mv, _MV[kind], _GRID_C)


@dataclass(frozen=True)
class Bath:
    """A point of a calibration: its name here, the board's temperature then, and its age."""

    name: str
    board_c: float = 22.0
    age_days: float = 0.0

    def reference(self) -> baths.Reference:
        """What the product says of it."""
        if self.name == "boil":
            return baths.boiling_water(985.0, None, None)
        if self.name == "report":
            return baths.boiling_water(None, REPORT_M, 1013.25)
        if self.name == "point":
            return baths.compared(31.0, 0.3)
        return baths.FIXED_POINTS[self.name]

    def drawn_c(self, chance: np.random.Generator, count: int) -> Array:
        """What the bath really has."""
        known = self.reference()

        def within(limit: float) -> Array:
            return chance.uniform(-limit, limit, count)

        if self.name == "boil":
            return np.interp(98_500 + within(200), _GRID_PA, _BOILS_C) + within(0.05)
        if self.name == "report":
            # The weather service's own place and hour, and air of -20 to 35 °C at the bench.
            sea_pa = 101_325 + within(500)
            column_k = 273.15 + chance.uniform(-20, 35, count) + 0.0065 * REPORT_M / 2
            station_pa = sea_pa * np.exp(-9.80665 * REPORT_M / (287.053 * column_k))
            return np.interp(station_pa, _GRID_PA, _BOILS_C) + within(0.05)
        return known.true_c + within(known.limit_c)


@dataclass(frozen=True)
class Case:
    """One bench: a type and class, its calibration, and how it is read."""

    kind: str = "K"
    grade: int = 1
    baths: tuple[Bath, ...] = ()
    board_c: float = 24.0
    stirred: bool = True
    at_c: float = AT_C
    diameters: float = 10.0
    converter: str = "MAX31856"

    def expanded_c(self) -> float:
        """What the product states, k = 2."""
        points = []
        for bath in self.baths:
            known = bath.reference()
            points.append(
                Point(
                    round(known.true_c * 100),
                    0,
                    "ice",
                    round(NOW_S - bath.age_days * DAY_S),
                    round(known.limit_c * 1000),
                    round(SPREAD_C * 1000),
                    READINGS,
                    round(bath.board_c * 100),
                )
            )
        calibration = Calibration(tuple(points), tolerance_class=self.grade)
        now = Conditions(self.board_c, NOW_S, self.diameters, self.stirred)
        chip = CONVERTERS[self.converter]
        return probe_budget(self.at_c, chip, self.kind, calibration, now).expanded()

    def errors_c(self, chance: np.random.Generator, count: int) -> Array:
        """How far ``count`` drawn probes are off where this case reads."""
        probe = _Probe(self, chance, count)
        oldest = max((bath.age_days for bath in self.baths), default=0.0)
        shown = probe.shown_c(self._tip_c(chance, count), self.board_c, oldest)
        shown = shown + chance.normal(0, 0.02, count)
        shown = np.round(shown / probe.step_c) * probe.step_c
        if not self.baths:
            return shown - self.at_c
        indicated, correction = [], []
        for bath in self.baths:
            truly_c = bath.drawn_c(chance, count)
            plateau = probe.shown_c(truly_c, bath.board_c, oldest - bath.age_days)
            plateau = plateau + chance.normal(0, SPREAD_C / READINGS**0.5, count)
            if probe.step_c > SPREAD_C:  # else the scatter carries the mean over the steps
                plateau = np.round(plateau / probe.step_c) * probe.step_c
            indicated.append(plateau)
            correction.append(bath.reference().true_c - plateau)
        return shown + _on_curve(shown, indicated, correction) - self.at_c

    def _tip_c(self, chance: np.random.Generator, count: int) -> Array:
        """The tip in a bowl: a fin of 3 mm in chocolate goes on as a fin in the air."""
        width_m, conducts = 0.003, chance.uniform(10, 16, count)
        low, high = (400, 600) if self.stirred else (45, 60)
        inside = np.sqrt(4 * chance.uniform(low, high, count) * width_m / conducts)
        outside = np.sqrt(4 * chance.uniform(5, 12, count) * width_m / conducts)
        surface = outside / (outside + inside * np.tanh(inside * self.diameters))
        share = surface / np.cosh(inside * self.diameters)
        return self.at_c - share * (self.at_c - self.board_c)


def _on_curve(shown: Array, indicated: list[Array], correction: list[Array]) -> Array:
    """The correction curve: straight between the points, level beyond the outer ones."""
    found = correction[0].copy()
    for low, high, before, after in zip(
        indicated, indicated[1:], correction, correction[1:], strict=False
    ):
        part = np.clip((shown - low) / (high - low), 0, 1)
        found = np.where(shown >= low, before + part * (after - before), found)
    return found


class _Probe:
    """Probes and their boards, one of each for every draw."""

    def __init__(self, case: Case, chance: np.random.Generator, count: int):
        self._kind, self._chance, self._count = case.kind, chance, count
        tolerance_c = TOLERANCE_C[case.grade][case.kind]
        self._coefficient = self._within(tolerance_c / 100)
        self._bend = self._within(tolerance_c / 100 / 3 / 100)
        self._stray_mv = np.zeros(count)
        offset_mv, gain, cold_c, self.step_c = CHIPS[case.converter]
        self._gain = 1 + self._within(gain)
        self._offsets = [self._within(offset_mv) for _ in range(3)]
        self._colds = [self._within(cold_c) for _ in range(3)]
        self._connector_c = self._within(0.1)
        self._drift_c_per_day = self._within(0.1) / 365.25
        # Conforming, at working temperature and with a board at 21 °C.
        slope = float(emf_mv(case.kind, 31.5) - emf_mv(case.kind, 30.5))
        off_mv = self._wires_mv(np.full(count, 31.0)) - self._wires_mv(np.full(count, 21.0))
        off_mv -= emf_mv(case.kind, 31.0) - emf_mv(case.kind, 21.0)
        self._stray_mv = self._within(tolerance_c) * slope - off_mv

    def _within(self, limit: float) -> Array:
        return self._chance.uniform(-limit, limit, self._count)

    def _wires_mv(self, at_c: Array) -> Array:
        ideal = emf_mv(self._kind, at_c)
        bent_c = self._bend * at_c * (at_c - 100) / 2
        return ideal * (1 + self._coefficient) + bent_c * emf_mv(self._kind, 1.0)

    def _at_board(self, draws: list[Array], board_c: float) -> Array:
        """An error drawn at both ends and in the middle of the data sheet's -20 to 85 °C."""
        ends_c = (-20.0, 32.5, 85.0)
        weights = [np.interp(board_c, ends_c, row) for row in np.eye(3)]
        return sum(weight * draw for weight, draw in zip(weights, draws, strict=True))

    def shown_c(self, tip_c: Array, board_c: float, day: float) -> Array:
        """What the board shows for a tip so warm, uncorrected."""
        junction_c = board_c + self._connector_c + self._within(0.05)
        measured = self._wires_mv(tip_c) - self._wires_mv(junction_c) + self._stray_mv
        measured = measured * self._gain + self._at_board(self._offsets, board_c)
        sensed_c = board_c + self._at_board(self._colds, board_c)
        total = measured + emf_mv(self._kind, sensed_c)
        return temperature_c(self._kind, total) + self._drift_c_per_day * day
