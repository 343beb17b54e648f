"""Synthetic cooling curves whose inflection is known, for the tests of its finding."""

import random
from dataclasses import dataclass

import numpy as np

from snapcurve.simulation.cup_simulator import Cup, CupConditions

FINE_S = 0.05
RESTS_S = 10.0
NOISE_C = 0.03


@dataclass(frozen=True)
class Made:
    """A curve of 4 readings a second with noise, and the truth behind it."""

    times_s: list[float]
    values_c: list[float]
    at_s: float
    slope_c_per_min: float


def drawn(seed: int) -> CupConditions:
    """Cups of 4 to 15 g, from far too few crystals to far too many."""
    chance = random.Random(seed)
    return CupConditions(
        mass_g=chance.uniform(4, 15),
        cup_j_per_k=chance.uniform(2, 10),
        water_w_per_k=chance.uniform(0.05, 0.12),
        start_c=chance.uniform(29, 33),
        crystals_share=10 ** chance.uniform(-2.6, -0.6),
        growth_per_s_k=chance.uniform(0.002, 0.005),
    )


def made(conditions: CupConditions, seed: int, step_s: float = 0.25, noise_c: float = NOISE_C):
    """The curve, read by a board: noise, steps of 1/128 °C. The truth is the highest rate
    after the first steep fall, from the noiseless model in fine steps."""
    cup = Cup(conditions)
    temperatures = [cup.temperature_c] * round(RESTS_S / FINE_S)
    rates = [0.0] * len(temperatures)
    while cup.temperature_c > 6 and len(temperatures) < 900 / FINE_S:
        temperatures.append(cup.temperature_c)
        rates.append(cup.rate_c_per_s)
        cup.step(FINE_S)
    rate = np.array(rates)
    bends = np.flatnonzero((np.diff(rate)[:-1] > 0) & (np.diff(rate)[1:] <= 0)) + 1
    at = int(bends[0]) if len(bends) else -1
    seen = np.array(temperatures[:: round(step_s / FINE_S)])
    seen = seen + np.random.default_rng(seed).normal(0, noise_c, len(seen))
    values = [float(value) for value in np.round(seen * 128) / 128]
    times = [index * step_s for index in range(len(values))]
    return Made(times, values, at * FINE_S, float(rate[at]) * 60)
