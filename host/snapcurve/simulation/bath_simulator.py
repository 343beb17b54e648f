"""The simulator of baths, and of a probe that is off, to be calibrated in them.

The kitchen lies at 650 m in standard weather. The probe shows 1.2 °C too much in ice and
0.4 % more with each degree: within what a new type K probe of class 1 may.
"""

import random
import threading
from math import exp

from snapcurve.calibration.baths import GALLIUM_C, ICE_C
from snapcurve.calibration.boiling import boiling_point_c, standard_pressure_pa
from snapcurve.simulation.desk_wiring import Simulator

ALTITUDE_M = 650.0
OFFSET_C = 1.2
SLOPE = 0.004
LAGS_S = (3.5, 1.0)
NOISE_C = 0.015
ROOM_C = 21.0
DIP_S = 8.0  # from the word to begin: so long the probe hangs in the room
ROWS_S = 2
STEP_S = 0.25
WATER_C, WATER_COOLS_C_PER_MIN = 46.0, 0.15
SLUSH_C = 5.0

BATHS_C = {
    "ice": ICE_C,
    "boil": boiling_point_c(standard_pressure_pa(ALTITUDE_M)),
    "point": 31.0,
    "gallium": GALLIUM_C,
    "response": WATER_C,
}


def shown_c(true_c: float) -> float:
    """What the probe shows at a true temperature."""
    return true_c * (1 + SLOPE) + OFFSET_C


class Bath(Simulator):
    """Simulator of a probe that hangs in the room and then goes into a bath and stays there.

    ``bath_c`` is the true temperature there; ``swapped``: the probe's two leads are. It goes in
    DIP_S after ``dip`` is called, since a command takes real time to start however fast the
    board's runs: before the board knew of a bath it would begin a curve.
    """

    def __init__(self, bath_c: float, cools_c_per_min: float = 0.0, swapped: bool = False):
        self._asked = threading.Event()
        self._dip_s: float | None = None
        self._bath_c = bath_c
        self._cools = cools_c_per_min / 60
        self._swapped = swapped
        self._chance = random.Random(3)

    def dip(self) -> None:
        """The word to put the probe in; once is enough."""
        self._asked.set()

    def _true_c(self, at_s: float) -> float:
        since_s = 0.0 if self._dip_s is None else at_s - self._dip_s
        if since_s <= 0:
            return ROOM_C
        first, second = LAGS_S
        fading = (first * exp(-since_s / first) - second * exp(-since_s / second)) / (
            first - second
        )
        trailed_s = since_s - (first + second) * (1 - fading)
        return self._bath_c + (ROOM_C - self._bath_c) * fading - self._cools * trailed_s

    def rows(self, now_ms: int) -> list[str] | None:
        if self._dip_s is None and self._asked.is_set():
            self._dip_s = now_ms / 1000 + DIP_S
        first = now_ms // 250 + (0 if now_ms == 0 else 1)
        rows = []
        for index in range(first, first + round(ROWS_S / STEP_S) + 1):
            at_s = index * STEP_S
            value_c = self._chance.gauss(shown_c(self._true_c(at_s)), NOISE_C)
            if self._swapped:
                value_c = 2 * ROOM_C - value_c
            rows.append(f"{at_s},{value_c:.4f},{ROOM_C},0,0")
        return rows


def bath(scene: str, slush: bool = False, swapped: bool = False) -> Bath:
    """The simulator of one of BATHS_C; ``slush``: the ice has mostly melted."""
    bath_c = SLUSH_C if slush and scene == "ice" else BATHS_C[scene]
    cools = WATER_COOLS_C_PER_MIN if scene == "response" else 0.0
    return Bath(bath_c, cools, swapped)
