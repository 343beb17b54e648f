"""How long a bowl stayed in its window, over how long the board had foretold.

``python -m tests.benchmarks left [N]``: bowls drawn at random stand stirred in a room and leave
the window at its lower edge; the real firmware reads them. Each minute one forecast is taken: the
board's own, and the range that `watch` shows (analysis/window_left.py), which is to hold for eight
of ten.
"""

import random
import sys
from dataclasses import dataclass

import numpy as np

from snapcurve.analysis.window_left import WindowLeft
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.simulation.bowl_simulator import STEP_S, Bowl, Conditions, Probe
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.simulation.matter import matter_of

IN_S, LONGEST_S, EACH_S = 5.0, 3600.0, 60.0
KINDS = ("milk", "dark", "white")


@dataclass(frozen=True)
class Forecast:
    """So many seconds by the board, and how many it then was; ``between`` is the range that was
    shown, in whole minutes outwards, None if none was."""

    foretold_s: float | None
    took_s: float
    between: tuple[int, int] | None

    @property
    def held(self) -> bool:
        """Whether it came in the range that was shown."""
        return self.between is not None and (
            60 * self.between[0] <= self.took_s <= 60 * self.between[1]
        )


class Standing(Simulator):
    """A bowl that is stirred now and then and cools through its window."""

    def __init__(self, kind: str, low_c: float, high_c: float, number: int):
        chance = random.Random(f"left {number}")
        size = 10 ** chance.uniform(-0.4, 0.5)
        own = Conditions(
            room_c=chance.uniform(17.0, 25.0),
            mass_g=1000.0 * size,
            lag_s=chance.uniform(2.0, 8.0),
            noise_c=chance.uniform(0.02, 0.06),
            patch_c=chance.uniform(0.1, 0.4),
            loss_w_per_k=size ** (2 / 3) * chance.uniform(0.6, 1.5),
        )
        start_c = high_c - chance.uniform(0.05, 0.4)
        self._bowl = Bowl(
            matter_of(kind), own.room_c, own.mass_g, start_c, loss_w_per_k=own.loss_w_per_k,
            bowl_j_per_k=400.0 * size ** (2 / 3) * chance.uniform(0.5, 1.5),
        )  # fmt: skip
        self._probe = Probe(own, chance)
        self._chance, self._low_c, self._room_c = chance, low_c, own.room_c
        self._stirs = chance.uniform(30.0, 180.0)
        self._at_s = 0.0
        self.left_at_s: float | None = None

    def rows(self, now_ms: int) -> list[str] | None:
        if self._at_s > LONGEST_S or self._bowl.liquid_c < self._low_c - 0.2:
            return None
        found = []
        for _ in range(8):
            bowl = self._bowl
            bowl.stirring = self._at_s % self._stirs < 15.0
            bowl.uneven = max(bowl.uneven, 0.0 if bowl.stirring else 0.3)
            bowl.step(STEP_S)
            self._probe.inside = self._at_s >= IN_S
            seen_c = self._probe.step(bowl, STEP_S)
            found.append(f"{self._at_s:.2f},{seen_c:.4f},{self._room_c:.2f},0,0")
            if self.left_at_s is None and bowl.liquid_c < self._low_c:
                self.left_at_s = self._at_s
            self._at_s += STEP_S
        return found

    def heard(self, now_ms: int, words: list[str]) -> None:
        """Nobody does anything."""


def forecasts(number: int) -> list[Forecast]:
    """Those of one bowl, one a minute from the second on."""
    couverture = load(KINDS[number % len(KINDS)], user_folder())
    world = Standing(couverture.kind, couverture.work_low_c, couverture.work_high_c, number)
    left = WindowLeft(couverture.work_low_c, couverture.work_high_c)
    told: list[tuple[float, float | None, tuple[int, int] | None]] = []
    with desk_run(world, compile_profile(couverture, "hold"), "max") as running:
        running.board.live(500)

        def look() -> None:
            while (reading := running.board.next_live()) is not None:
                at_s = reading.uptime_ms / 1000
                left.add(at_s, reading.estimate_c, reading.state == "inside")
                if at_s >= EACH_S and (not told or at_s - told[-1][0] >= EACH_S):
                    told.append((at_s, reading.window_left_s, left.between_min()))

        running.run(look)
    if world.left_at_s is None:
        return []
    return [
        Forecast(foretold_s, world.left_at_s - at_s, between)
        for at_s, foretold_s, between in told
        if at_s < world.left_at_s - 30.0
    ]


def main(words: list[str]) -> int:
    """Print it for N bowls."""
    count = int(words[0]) if words else 60
    found = []
    for number in range(count):
        found += forecasts(number)
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {count}", end="", file=sys.stderr)
    board = [one.took_s / max(one.foretold_s, 1.0) for one in found if one.foretold_s is not None]
    low, middle, high = np.quantile(board, [0.1, 0.5, 0.9])
    shown = [one for one in found if one.between is not None]
    print(f"{count} bowls, {len(found)} forecasts, one a minute from the second on")
    print(
        f"  by the board in {len(board)} of them: time taken over time foretold, 10 % {low:.2f}, "
        f"median {middle:.2f}, 90 % {high:.2f}"
    )
    held = sum(one.held for one in shown) / len(shown)
    wide = np.median([one.between[1] - one.between[0] for one in shown])
    print(f"  the range shown, in {len(shown)}, {wide:.0f} min wide (median): holds in {held:.0%}")
    return 0
