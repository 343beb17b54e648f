"""A bowl of chocolate as one body of heat: portions, bowl, room.

A portion is chocolate with one history of melting. Warming melts it along the melting
curve; cooling never solidifies it, because crystals take minutes to grow. Everything in the
bowl, and the touching share of the bowl itself, has one temperature.
"""

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isfinite, log

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import BOWL_MATERIALS, BOWL_TOUCHING_SHARE
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    enthalpy_j_per_g,
    latent_heat_at_j_per_g,
    specific_heat_j_per_g_k,
)
from snapcurve.heat.guards import (
    require_between,
    require_not_negative,
    require_positive,
    require_temperature,
)
from snapcurve.heat.root_finding import solve_rising

# While the room warms the bowl, melting changes its heat capacity: step through it.
_WARMING_STEP_S = 5.0


@dataclass(frozen=True)
class Bowl:
    """The bowl: mass_g (0 leaves it out), its specific heat J/(g K), and how much follows.

    touching_share: the share of its mass that is as warm as the chocolate, 0 to 1.
    microwave_safe: False for metal. Raises SnapcurveError for numbers out of range.
    """

    mass_g: float
    specific_heat_j_per_g_k: float
    touching_share: float = BOWL_TOUCHING_SHARE
    microwave_safe: bool = True

    def __post_init__(self) -> None:
        require_not_negative("The bowl's mass", self.mass_g, "g")
        require_between(
            "The bowl's specific heat", self.specific_heat_j_per_g_k, 0.1, 4.5, "J/(g K)"
        )
        require_between("The touching share of the bowl", self.touching_share, 0.0, 1.0, "")

    @property
    def heat_capacity_j_per_k(self) -> float:
        """Heat capacity of the part that follows the chocolate, J/K."""
        return self.mass_g * self.specific_heat_j_per_g_k * self.touching_share


def bowl_of(material: str, mass_g: float) -> Bowl:
    """A bowl of "plastic", "glass", "ceramic", "steel" or "aluminium" weighing `mass_g`.

    Specific heats from memory. Raises SnapcurveError for another material.
    """
    if material not in BOWL_MATERIALS:
        raise SnapcurveError(
            f'There is no bowl material "{material}"; use one of {", ".join(BOWL_MATERIALS)}.'
        )
    specific_heat, microwave_safe = BOWL_MATERIALS[material]
    return Bowl(mass_g, specific_heat, microwave_safe=microwave_safe)


NO_BOWL = Bowl(0.0, 1.0)

Portion = tuple[float, float]  # mass in g, melted share 0 to 1


def settle(
    thermal: CouvertureThermal,
    portions: Sequence[Portion],
    bowl_j_per_k: float,
    enthalpy_j: float,
) -> tuple[float, list[Portion]]:
    """Temperature, °C, and portions of a batch with this enthalpy once it is even.

    Each portion melts as far as the melting curve says at the common temperature, and
    none solidifies. The enthalpy of the answer is `enthalpy_j` to rounding: the last step
    solves the temperature exactly for the melted shares found.
    """
    fixed_c = _temperature_for_shares_c(thermal, portions, bowl_j_per_k, enthalpy_j)
    melting = thermal.melting
    if melting.melted_share(fixed_c) <= min(share for _, share in portions):
        return fixed_c, list(portions)
    # Melting takes up heat, so the answer lies under the temperature without it, and
    # not under the start of melting.
    low, high = min(melting.start_c, fixed_c), fixed_c

    def enthalpy_at(at_c: float) -> float:
        share_there = melting.melted_share(at_c)
        return bowl_j_per_k * at_c + sum(
            mass_g * enthalpy_j_per_g(thermal, at_c, max(share, share_there))
            for mass_g, share in portions
        )

    curve_share = melting.melted_share(solve_rising(enthalpy_at, low, high, enthalpy_j))
    settled = [(mass_g, max(share, curve_share)) for mass_g, share in portions]
    return _temperature_for_shares_c(thermal, settled, bowl_j_per_k, enthalpy_j), settled


def _temperature_for_shares_c(
    thermal: CouvertureThermal,
    portions: Sequence[Portion],
    bowl_j_per_k: float,
    enthalpy_j: float,
) -> float:
    capacity = bowl_j_per_k
    latent_zero = latent_heat_at_j_per_g(thermal, 0.0)
    at_zero_j = 0.0
    for mass_g, share in portions:
        capacity += mass_g * specific_heat_j_per_g_k(thermal, share)
        at_zero_j += mass_g * share * latent_zero
    return (enthalpy_j - at_zero_j) / capacity


class Batch:
    """Chocolate in a bowl, followed through additions, heat and standing.

    The enthalpy is the state; the temperature follows from it. `enthalpy_j` counts from
    solid chocolate and bowl at 0 °C.
    """

    def __init__(
        self,
        thermal: CouvertureThermal,
        mass_g: float,
        temperature_c: float,
        *,
        melted_share: float | None = None,
        bowl: Bowl = NO_BOWL,
        bowl_c: float | None = None,
    ) -> None:
        """`mass_g` at `temperature_c` in a bowl at `bowl_c` (default: as the chocolate).

        melted_share 0 to 1; default what slow warming to that temperature would give.
        Raises SnapcurveError for a mass not above zero or a temperature out of range.
        """
        self.thermal = thermal
        self.bowl_j_per_k = bowl.heat_capacity_j_per_k
        self.portions: list[Portion] = []
        self.temperature_c = temperature_c
        bowl_starts_c = temperature_c if bowl_c is None else bowl_c
        require_temperature("The bowl", bowl_starts_c)
        self.enthalpy_j = self.bowl_j_per_k * bowl_starts_c
        self.add(mass_g, temperature_c, melted_share)

    @property
    def mass_g(self) -> float:
        """Mass of chocolate, g."""
        return sum(mass_g for mass_g, _ in self.portions)

    @property
    def unmelted_share(self) -> float:
        """Share 0 to 1 of the latent heat not taken up: solid pieces and crystals."""
        return sum(mass_g * (1 - share) for mass_g, share in self.portions) / self.mass_g

    @property
    def heat_capacity_j_per_k(self) -> float:
        """Heat capacity of chocolate and bowl as long as nothing melts, J/K."""
        return self.bowl_j_per_k + sum(
            mass_g * specific_heat_j_per_g_k(self.thermal, share)
            for mass_g, share in self.portions
        )

    def copy(self) -> "Batch":
        """An independent batch in the same state."""
        twin = copy.copy(self)
        twin.portions = list(self.portions)
        return twin

    def add(self, mass_g: float, temperature_c: float, melted_share: float | None = None) -> None:
        """Stir in `mass_g` at `temperature_c` and let all become even.

        Raises SnapcurveError for a mass not above zero or a temperature out of range.
        """
        require_positive("The mass", mass_g, "g")
        require_temperature("The chocolate", temperature_c)
        if melted_share is None:
            melted_share = self.thermal.melting.melted_share(temperature_c)
        require_between("The melted share", melted_share, 0.0, 1.0, "")
        self.enthalpy_j += mass_g * enthalpy_j_per_g(self.thermal, temperature_c, melted_share)
        for i, (mass_there_g, share) in enumerate(self.portions):
            if share == melted_share:
                self.portions[i] = (mass_there_g + mass_g, share)
                break
        else:
            self.portions.append((mass_g, melted_share))
        self._settle()

    def take(self, mass_g: float) -> float:
        """Take `mass_g` out, an even sample of the batch; returns it.

        Raises SnapcurveError unless it is less than the batch and not negative.
        """
        whole_g = self.mass_g
        if not 0 <= mass_g < whole_g:
            raise SnapcurveError(
                f"{mass_g:g} g cannot be taken from a bowl of {whole_g:g} g; take less."
            )
        left = 1 - mass_g / whole_g
        bowl_j = self.bowl_j_per_k * self.temperature_c
        self.enthalpy_j = bowl_j + left * (self.enthalpy_j - bowl_j)
        self.portions = [(part_g * left, share) for part_g, share in self.portions]
        return mass_g

    def give_heat(self, heat_j: float) -> None:
        """Add `heat_j` joules (negative: take away)."""
        self.enthalpy_j += heat_j
        self._settle()

    def stand(self, seconds: float, room_c: float, loss_w_per_k: float) -> float:
        """Let the room at `room_c` act for `seconds`; returns the heat lost, J.

        Newton's law with `loss_w_per_k`, exact while the bowl is warmer than the room.
        """
        if not (isfinite(seconds) and seconds >= 0):
            raise SnapcurveError(f"{seconds:g} s is no time to stand; give zero or more.")
        before_j = self.enthalpy_j
        left_s = seconds
        while left_s > 0:
            step_s = left_s
            if self.temperature_c < room_c:
                step_s = min(left_s, _WARMING_STEP_S)
            capacity = self.heat_capacity_j_per_k
            decay = 1 - exp(-loss_w_per_k * step_s / capacity)
            self.give_heat(-capacity * (self.temperature_c - room_c) * decay)
            left_s -= step_s
        return before_j - self.enthalpy_j

    def seconds_to_cool_to(self, target_c: float, room_c: float, loss_w_per_k: float) -> float:
        """Seconds until the standing bowl reads `target_c`; infinity if it never does."""
        if self.temperature_c <= target_c:
            return 0.0
        if target_c <= room_c or loss_w_per_k <= 0:
            return float("inf")
        ratio = (self.temperature_c - room_c) / (target_c - room_c)
        return self.heat_capacity_j_per_k / loss_w_per_k * log(ratio)

    def heat_to_reach_j(self, target_c: float) -> float:
        """Heat that brings the batch to `target_c`, melting included, J.

        Negative for a cooler target; solves nothing, since the temperature is given.
        """
        share_there = self.thermal.melting.melted_share(target_c)
        there_j = self.bowl_j_per_k * target_c
        for mass_g, share in self.portions:
            there_j += mass_g * enthalpy_j_per_g(self.thermal, target_c, max(share, share_there))
        return there_j - self.enthalpy_j

    def _settle(self) -> None:
        self.temperature_c, self.portions = settle(
            self.thermal, self.portions, self.bowl_j_per_k, self.enthalpy_j
        )
