"""A few grams of couverture in a small metal cup in ice water: the rehearsal's model.

One temperature for all of it; heat goes to the ice water in proportion to the difference, and
crystallising gives heat back:

    C dT/dt = -UA (T - T_water) + m L s dx/dt
    dx/dt = k (T_melt - T) (x0 + x) (1 - x)   below T_melt

x is the part of the crystals that can form here which has formed, x0 those that tempering had
made beforehand: growth needs crystals to grow on and liquid to grow from (autocatalytic
kinetics, as usually fitted to seeded fats). Few crystals beforehand: it cools deep and then
warms itself; many: it crystallises early and goes on cooling. All figures are our own choice
and of the size one meets; none of them is used to judge a real cup.
"""

from dataclasses import dataclass

LATENT_J_PER_G = 45.0
SPECIFIC_J_PER_G_K = 1.65
CRYSTALLISES_SHARE = 0.5  # of the latent heat, in so short a time
MELTS_C = 32.0
WATER_C = 0.5
STEP_S = 0.25


@dataclass(frozen=True)
class CupConditions:
    """Masses in g, temperatures in °C."""

    mass_g: float = 8.0
    cup_j_per_k: float = 5.0
    water_w_per_k: float = 0.075
    start_c: float = 31.0
    crystals_share: float = 0.05
    """x0: crystals made by tempering, as a part of those that can form in the cup."""
    growth_per_s_k: float = 0.004


# Crystals made by tempering. Our own choice, so that the three differ clearly.
TEMPERS = {"under": 0.006, "well": 0.05, "over": 0.4}


class Cup:
    """``step`` lets time pass; ``temperature_c`` is what the probe in the middle is in."""

    def __init__(self, conditions: CupConditions):
        self._conditions = conditions
        self.temperature_c = conditions.start_c
        self.formed_share = 0.0

    @property
    def rate_c_per_s(self) -> float:
        """Rate of the temperature now."""
        own = self._conditions
        heat_w = -own.water_w_per_k * (self.temperature_c - WATER_C)
        heat_w += own.mass_g * LATENT_J_PER_G * CRYSTALLISES_SHARE * self._growth_per_s()
        return heat_w / (own.mass_g * SPECIFIC_J_PER_G_K + own.cup_j_per_k)

    def _growth_per_s(self) -> float:
        own = self._conditions
        below_k = max(0.0, MELTS_C - self.temperature_c)
        crystals = own.crystals_share + self.formed_share
        return own.growth_per_s_k * below_k * crystals * (1.0 - self.formed_share)

    def step(self, seconds: float) -> None:
        """Let ``seconds`` pass."""
        rate, growth = self.rate_c_per_s, self._growth_per_s()
        self.temperature_c += rate * seconds
        self.formed_share = min(1.0, self.formed_share + growth * seconds)
