"""What the simulated couverture is made of: its heat over temperature.

The simulator must not borrow the arithmetic that plans and corrects, or following a plan on it
would prove nothing. So it has its own numbers, its own melting curve, straight between
points, and finds heat by adding up an apparent heat capacity step by step.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import pairwise

# Beckett (ed.), Industrial Chocolate Manufacture and Use, 4th ed. 2009, p. 667 and 668.
SOLID_J_PER_G_K, LIQUID_J_PER_G_K = 1.59, 1.67
# All but dark and milk: chosen here.
LATENT_J_PER_G = {
    "dark": 46.0, "milk": 44.0, "white": 48.0, "ruby-coloured": 54.0, "plant-milk": 54.0,
    "gianduja": 50.0, "coating": 50.0,
}  # fmt: skip
LATENT_J_PER_G_FAT = 157.0
# Melted share over °C, from memory of what such butters do on warming; milk fat melts earlier.
MELTING = ((19.0, 0.0), (22.0, 0.03), (25.0, 0.10), (28.0, 0.24), (30.0, 0.40), (32.0, 0.66),
           (33.5, 0.87), (35.0, 0.98), (36.0, 1.0))  # fmt: skip
EARLIER_K = {
    "dark": 0.0, "milk": 1.5, "white": 1.5, "ruby-coloured": 1.5, "plant-milk": 0.0,
    "gianduja": 5.5, "coating": -1.0,
}  # fmt: skip

_LOW_C, _STEP_C, _STEPS = -20.0, 0.05, 2800


def _share(points: tuple[tuple[float, float], ...], at_c: float) -> float:
    if at_c <= points[0][0]:
        return 0.0
    for (left_c, left), (right_c, right) in pairwise(points):
        if at_c < right_c:
            return left + (right - left) * (at_c - left_c) / (right_c - left_c)
    return 1.0


@dataclass
class Matter:
    """A couverture; specific heats in J/(g K), latent heat in J/g, `melting` as MELTING."""

    latent_j_per_g: float
    solid_j_per_g_k: float = SOLID_J_PER_G_K
    liquid_j_per_g_k: float = LIQUID_J_PER_G_K
    melting: tuple[tuple[float, float], ...] = MELTING
    _heat: list[float] = field(init=False, repr=False)
    _shares: list[float] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._shares = [_share(self.melting, _LOW_C + i * _STEP_C) for i in range(_STEPS + 1)]
        self._heat = [0.0]
        for before, after in zip(self._shares, self._shares[1:], strict=False):
            share = 0.5 * (before + after)
            capacity = (1.0 - share) * self.solid_j_per_g_k + share * self.liquid_j_per_g_k
            self._heat.append(
                self._heat[-1] + capacity * _STEP_C + self.latent_j_per_g * (after - before)
            )

    @property
    def end_c(self) -> float:
        """Where the last of it has melted, °C."""
        return self.melting[-1][0]

    def melted_share(self, at_c: float) -> float:
        """Melted share 0 to 1 of pieces warmed to ``at_c``."""
        return self._at(self._shares, at_c)

    def warmed_j_per_g(self, at_c: float) -> float:
        """Heat of pieces warmed to ``at_c``, J/g, above the table's low end."""
        return self._at(self._heat, at_c)

    def warmed_c(self, j_per_g: float) -> float:
        """Temperature of pieces that hold ``j_per_g``; inverse of warmed_j_per_g."""
        heat = self._heat
        at = min(max(bisect_right(heat, j_per_g) - 1, 0), _STEPS - 1)
        return _LOW_C + _STEP_C * (at + (j_per_g - heat[at]) / (heat[at + 1] - heat[at]))

    def molten_c(self, j_per_g: float) -> float:
        """Temperature of a melt, which stays molten below the melting range as well, that holds
        ``j_per_g``."""
        return self.end_c + (j_per_g - self.warmed_j_per_g(self.end_c)) / self.liquid_j_per_g_k

    def _at(self, table: list[float], at_c: float) -> float:
        place = (at_c - _LOW_C) / _STEP_C
        at = min(max(int(place), 0), _STEPS - 1)
        return table[at] + (table[at + 1] - table[at]) * (place - at)


def moved(by_k: float) -> tuple[tuple[float, float], ...]:
    """The melting curve moved by ``by_k`` kelvin."""
    return tuple((at_c + by_k, share) for at_c, share in MELTING)


def matter_of(kind: str, fat_fraction: float | None = None) -> Matter:
    """A couverture of ``kind``, "caramelised white" taken for white, an unknown one for dark."""
    kind = "white" if "white" in kind else kind if kind in EARLIER_K else "dark"
    latent = LATENT_J_PER_G[kind]
    if fat_fraction is not None:
        latent = LATENT_J_PER_G_FAT * fat_fraction
    return Matter(latent, melting=moved(-EARLIER_K[kind]))
