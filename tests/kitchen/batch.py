"""One rough batch: the kitchen in step with a board, as a simulator of the desk board."""

import random

from snapcurve.couvertures import load, user_folder
from snapcurve.simulation.bowl_simulator import STEP_S, solid_bowl
from snapcurve.simulation.story import Story

from .bench import RoughProbe
from .conditions import Rough, drawn, windowed
from .cooks import Cook, batch

KINDS = ("milk", "dark", "white")
HOLD_S = 900.0
BOWL_J_PER_K = 550.0  # for a kilogram


class RoughBatch(Story):
    """Batch ``number``; see Simulator.

    ``truth`` holds for each step ``(seconds, liquid_c, unmelted_g, probe inside)``, ``seen``
    ``(seconds, probe_c, fault bits, cold junction)`` and ``felt`` ``(lag in the chocolate,
    usual size of a patch)``.
    """

    def __init__(self, number: int, hold_s: float = HOLD_S, own: Rough | None = None):
        super().__init__()
        self.own = own = own or drawn(number)
        self.couverture = windowed(load(KINDS[number % len(KINDS)], user_folder()), number)
        fat = self.couverture.fat_percent
        bowl = solid_bowl(self.couverture.kind, own, None if fat is None else fat / 100)
        bowl.bowl_j_per_k = BOWL_J_PER_K * (own.mass_g / 1000.0) ** (2 / 3)
        chance = random.Random(number)
        self.cook = Cook(bowl, RoughProbe(own, chance), own, chance)
        self.cook.tell = self.say
        self._plan = batch(self.cook, hold_s)
        self._step = 0
        self.done = False
        self.seen: list[tuple[float, float, int, float]] = []
        self.truth: list[tuple[float, float, float, bool]] = []
        self.felt: list[tuple[float, float]] = []

    def advance(self) -> bool:
        """One step of STEP_S; False when the plan is over."""
        cook = self.cook
        bowl, probe = cook.bowl, cook.rough
        cook.now_s = self._step * STEP_S
        try:
            next(self._plan)
        except StopIteration:
            self.done = True
        bowl.step(STEP_S)
        seen_c = probe.step(bowl, STEP_S)
        self.seen.append((cook.now_s, seen_c, probe.fault, probe.junction_c))
        self.truth.append((cook.now_s, bowl.liquid_c, bowl.unmelted_g(), probe.inside))
        still = 1.0 if bowl.stirring else self.own.still_lag
        self.felt.append((self.own.lag_s * still, probe.patch_size_c(bowl)))
        self._step += 1
        return not self.done

    def rows(self, now_ms: int) -> list[str] | None:
        if self.done:
            return None
        rows = []
        for _ in range(1 if self._step == 0 else round(1 / STEP_S)):
            self.advance()
            seconds, seen_c, fault, junction_c = self.seen[-1]
            rows.append(
                f"{seconds:.2f},{seen_c:.4f},{junction_c:.3f},{fault},{int(self.cook.button)}"
            )
        return rows

    def heard(self, now_ms: int, words: list[str]) -> None:
        super().heard(now_ms, words)
        if words[0] == "alarm":
            self.cook.heard.append(words[1])
