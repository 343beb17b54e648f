"""How far cups of one batch differ, and how often what is stated covers the batch's own slope.

``python -m tests.benchmarks cup [N]``: N cups of each temper from the simulator, with its usual
spread of crystals from sample to sample, and with twice that. Covered by the assumption alone, and
with what the first ten of them teach.
"""

import random
from statistics import stdev

from snapcurve.analysis.cooling_curve import Inflection, find_inflection
from snapcurve.analysis.cup_temper import name_temper, spread_of
from snapcurve.shown.units import PLAIN
from snapcurve.simulation.cup_simulator import SPREAD, TEMPERS, CupConditions
from tests.host.cup_curves import made

TAUGHT = 10


def cups(crystals: float, spread: float, count: int) -> list[Inflection]:
    """Cups of one batch."""
    chance = random.Random(f"{crystals} {spread}")
    found = []
    for seed in range(count):
        taken = crystals * chance.lognormvariate(0.0, spread)
        cup = made(CupConditions(crystals_share=taken), seed)
        found.append(find_inflection(cup.times_s, cup.values_c))
    return found


def covered(found: list[Inflection], batch: float, taught: list[float]) -> float:
    """How often the stated uncertainty of a cup reaches the batch's own slope (°C/min)."""
    spread = spread_of([taught] if taught else [])
    stated = [name_temper(one, [], spread, PLAIN).uncertainty_c_per_min for one in found]
    inside = [
        abs(one.slope_c_per_min - batch) <= doubt for one, doubt in zip(found, stated, strict=True)
    ]
    return sum(inside) / len(inside)


def main(words: list[str]) -> int:
    """Print it."""
    count = int(words[0]) if words else 60
    for name, crystals in TEMPERS.items():
        batch = made(CupConditions(crystals_share=crystals), 0).slope_c_per_min
        for spread in (SPREAD, 2 * SPREAD):
            found = cups(crystals, spread, count)
            slopes = [one.slope_c_per_min for one in found]
            alone = covered(found[TAUGHT:], batch, [])
            taught = covered(found[TAUGHT:], batch, slopes[:TAUGHT])
            print(
                f"{name:6} crystals ± {spread:.0%}: slope {batch:+.2f}, standard deviation "
                f"{stdev(slopes):.2f} °C/min; covered {alone:.0%} by the assumption, {taught:.0%} "
                f"after {TAUGHT} cups"
            )
    return 0
