"""The rehearsal bench: a bowl of couverture, the room around it, and a probe.

Heat and mass balance only, in steps of a quarter of a second. The melt is liquid
couverture with the bowl; pieces lie in it as a pool of their own that warms and melts at
a finite rate, and below the melting range stays partly solid: that is the seed. Every
quantity comes from snapcurve.arithmetic or is named here as our own choice.
"""

import math
import random
from dataclasses import dataclass

from snapcurve.arithmetic.enthalpy import (
    CouvertureThermal,
    couverture_thermal,
    enthalpy_j_per_g,
    heated_enthalpy_j_per_g,
    heated_temperature_c,
    temperature_from_enthalpy_c,
)

STEP_S = 0.25
# Our own choices, of the size one meets at a bench; none is a constant of nature.
PIECES_W_PER_G_K = 0.05  # heat into pieces that are stirred in: most of it within a minute
PIECES_STILL = 0.25  # the same without stirring
LOSS_W_PER_K = 1.1  # open bowl of a kilogram
BOWL_J_PER_K = 550.0  # a plastic bowl, as far as it takes part
MICROWAVE_SHARE = 0.80  # of the nominal power that arrives in the chocolate
HOT_AIR_W = 150.0  # that arrives from a hot-air gun held over the bowl
SLAB_W_PER_K = 9.0  # chocolate spread on a cool slab, or the bowl in cool water
SLAB_C = 17.0
PATCH_C = 0.35  # uneven temperature while pieces melt or just after heating
PATCH_S = 3.0  # how long a patch stays at the probe
BUSY_W = 25.0  # so much heat going into pieces makes the bowl uneven
UNEVEN_S = 15.0  # stirring evens the bowl out in this time
AIR_LAG_S = 45.0  # of a coated probe in still air


@dataclass
class Bowl:
    """Melt, pieces and bowl; temperatures in °C, masses in g.

    ``heat_w`` is what a heat source puts in now; ``cool_w_per_k`` the extra path to a
    cool slab.
    """

    thermal: CouvertureThermal
    room_c: float
    liquid_g: float
    liquid_c: float
    pieces_g: float = 0.0
    pieces_j_per_g: float = 0.0
    heat_w: float = 0.0
    cool_w_per_k: float = 0.0
    stirring: bool = False
    uneven: float = 0.0
    into_pieces_w: float = 0.0

    def add_pieces(self, mass_g: float, at_c: float) -> None:
        """Put in solid pieces of ``mass_g`` at ``at_c``."""
        added = heated_enthalpy_j_per_g(self.thermal, at_c)
        total_g = self.pieces_g + mass_g
        self.pieces_j_per_g = (self.pieces_g * self.pieces_j_per_g + mass_g * added) / total_g
        self.pieces_g = total_g
        self.uneven = 1.0

    def step(self, seconds: float) -> None:
        """Let ``seconds`` pass."""
        # A microwave or hot air warms what is there, liquid and pieces alike.
        pieces_share = self.pieces_g / (self.pieces_g + self.liquid_g)
        self.pieces_j_per_g += (
            self.heat_w * pieces_share * seconds / self.pieces_g if self.pieces_g else 0.0
        )
        heat_w = self.heat_w * (1.0 - pieces_share)
        heat_w -= LOSS_W_PER_K * (self.liquid_c - self.room_c)
        heat_w -= self.cool_w_per_k * (self.liquid_c - SLAB_C)
        self.into_pieces_w = self._into_pieces_w(seconds) if self.pieces_g > 0 else 0.0
        heat_w -= self.into_pieces_w
        specific = self.thermal.specific_heat_liquid_j_per_g_k
        self.liquid_c += heat_w * seconds / (self.liquid_g * specific + BOWL_J_PER_K)
        busy = self.heat_w > 0 or self.into_pieces_w > BUSY_W
        self.uneven += (
            ((1.0 if busy else 0.0) - self.uneven) * seconds / UNEVEN_S
            if self.stirring or busy
            else 0.0
        )

    def _into_pieces_w(self, seconds: float) -> float:
        """Heat flow into the pieces; what has melted joins the liquid."""
        thermal = self.thermal
        pieces_c = heated_temperature_c(thermal, self.pieces_j_per_g)
        per_k = PIECES_W_PER_G_K * self.pieces_g * (1.0 if self.stirring else PIECES_STILL)
        flow_w = per_k * (self.liquid_c - pieces_c)
        self.pieces_j_per_g += flow_w * seconds / self.pieces_g
        if pieces_c >= thermal.melting.end_c - 0.1:
            # Molten throughout: the pool mixes into the liquid, heat balance kept.
            specific = thermal.specific_heat_liquid_j_per_g_k
            pool_c = temperature_from_enthalpy_c(thermal, self.pieces_j_per_g, 1.0)
            liquid_j_per_k = self.liquid_g * specific + BOWL_J_PER_K
            pool_j_per_k = self.pieces_g * specific
            self.liquid_c = (self.liquid_c * liquid_j_per_k + pool_c * pool_j_per_k) / (
                liquid_j_per_k + pool_j_per_k
            )
            self.liquid_g += self.pieces_g
            self.pieces_g = 0.0
            return 0.0
        return flow_w

    def unmelted_g(self) -> float:
        """Mass of the pieces that is still solid."""
        if self.pieces_g <= 0:
            return 0.0
        pieces_c = heated_temperature_c(self.thermal, self.pieces_j_per_g)
        return self.pieces_g * (1.0 - self.thermal.melting.melted_share(pieces_c))

    def bulk_c(self) -> float:
        """Temperature of the whole, liquid and pieces weighed by mass."""
        if self.pieces_g <= 0:
            return self.liquid_c
        pieces_c = heated_temperature_c(self.thermal, self.pieces_j_per_g)
        return (self.liquid_g * self.liquid_c + self.pieces_g * pieces_c) / (
            self.liquid_g + self.pieces_g
        )

    def total_j(self) -> float:
        """Enthalpy of everything in the bowl and the bowl itself, for heat balances."""
        liquid = enthalpy_j_per_g(self.thermal, self.liquid_c, 1.0) * self.liquid_g
        return liquid + self.pieces_g * self.pieces_j_per_g + BOWL_J_PER_K * self.liquid_c


@dataclass
class Probe:
    """A sheathed probe: a lag in the chocolate, a long one in air, noise."""

    room_c: float
    lag_s: float
    noise_c: float
    random: random.Random
    probe_c: float = 0.0
    inside: bool = False
    patch_c: float = 0.0

    def __post_init__(self) -> None:
        self.probe_c = self.room_c

    def step(self, bowl: Bowl, seconds: float) -> float:
        """Let ``seconds`` pass; what the converter would see at the end."""
        if self.inside:
            # A patch is a first-order random process with spread PATCH_C at its most.
            keep = math.exp(-seconds / PATCH_S)
            spread = PATCH_C * min(1.0, bowl.uneven) * math.sqrt(1.0 - keep * keep)
            self.patch_c = self.patch_c * keep + self.random.gauss(0.0, 1.0) * spread
            goal_c, lag_s = bowl.liquid_c + self.patch_c, self.lag_s
        else:
            goal_c, lag_s = self.room_c, AIR_LAG_S
        self.probe_c += (goal_c - self.probe_c) * (1.0 - math.exp(-seconds / lag_s))
        return self.probe_c + self.random.gauss(0.0, self.noise_c)


def solid_bowl(kind: str, mass_g: float, room_c: float, fat_fraction: float | None) -> Bowl:
    """A bowl with ``mass_g`` of pieces at room temperature and a trace of liquid.

    The trace stands for what melts first at the bowl's wall; without it there would be
    nothing to stir.
    """
    thermal = couverture_thermal("white" if "white" in kind else kind, fat_fraction)
    trace_g = 0.02 * mass_g
    bowl = Bowl(thermal, room_c, trace_g, room_c)
    bowl.add_pieces(mass_g - trace_g, room_c)
    return bowl
