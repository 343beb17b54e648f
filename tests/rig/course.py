"""The rig's batch: milk couverture by seeding, as the probe feels it.

The chocolate is melted through, cooled into its window and kept there; then the probe comes
out and a long press ends the curve. The probe trails by one time constant, an ordinary value
for a 3 mm sheath in thick chocolate (our own assumption, as in the rehearsal).
"""

import itertools
import math
import random

ROOM_C = 21.0
LAG_S = 4.0
NOISE_C = 0.02
OUT_LAG_S = 45.0  # in still air
CHUNK_S = 30
# (second, chocolate in °C or None: in the air)
LEGS = (
    (0, None),
    (20, 34.0),
    (320, 46.5),
    (440, 45.6),
    (1000, 31.0),
    (1300, 31.0),
    (1301, None),
    (1330, None),
)
PRESS = (1322, 1326)
LAST_S = 1330


def chocolate_c(second: float) -> float | None:
    """What the chocolate is; None while the probe is out of it."""
    for (start_s, from_c), (end_s, to_c) in itertools.pairwise(LEGS):
        if start_s <= second < end_s:
            if from_c is None or to_c is None:
                return from_c
            return from_c + (to_c - from_c) * (second - start_s) / (end_s - start_s)
    return None


def crossing_s(level_c: float, after_s: float) -> float:
    """When the chocolate passes ``level_c`` first after ``after_s``."""
    before = chocolate_c(after_s)
    assert before is not None
    for tenth in range(int(after_s * 10), LAST_S * 10):
        now = chocolate_c(tenth / 10)
        if now is not None and (now - level_c) * (before - level_c) <= 0:
            return tenth / 10
    raise ValueError(f"the course never passes {level_c} °C")


class Course:
    """The batch as a simulator for the desk board."""

    def __init__(self) -> None:
        chance = random.Random(6)
        felt = ROOM_C
        self.felt_c = [felt]  # by second
        for second in range(1, LAST_S + 1):
            now = chocolate_c(second)
            goal, lag_s = (ROOM_C, OUT_LAG_S) if now is None else (now, LAG_S)
            felt = goal + (felt - goal) * math.exp(-1 / lag_s)
            self.felt_c.append(felt + chance.gauss(0, NOISE_C))

    def rows(self, now_ms: int) -> list[str] | None:
        """See Simulator."""
        second = now_ms // 1000
        if second >= LAST_S:
            return None
        return [self._row(second + ahead) for ahead in range(second > 0, CHUNK_S)]

    def _row(self, second: int) -> str:
        felt_c = self.felt_c[min(second, LAST_S)]
        return f"{second},{felt_c:.4f},{ROOM_C},0,{int(PRESS[0] <= second < PRESS[1])}"

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""
