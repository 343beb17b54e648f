"""The simulator of a bowl of couverture, the room around it, and a probe.

Heat and mass balance only, in steps of a quarter of a second. The melt is liquid
couverture with the bowl; pieces lie in it as a pool of their own that warms and melts at
a finite rate, and below the melting range stays partly solid: that is the seed. Nothing here
comes from snapcurve.heat or snapcurve.advice, whose plans are tried out on this simulator.
"""

import math
import random
from dataclasses import dataclass
from typing import Protocol

from snapcurve.simulation.matter import Matter, matter_of

STEP_S = 0.25
# Chosen here, of the size one meets at a bench; none is a constant of nature.
PIECES_W_PER_G_K = 0.05  # heat into pieces that are stirred in: most of it within a minute
PIECES_STILL = 0.25  # the same without stirring
BOWL_J_PER_K = 550.0  # a plastic bowl, as far as it takes part
MICROWAVE_SHARE = 0.80  # of the nominal power that arrives in the chocolate
HOT_AIR_W = 150.0  # that arrives from a hot-air gun held over the bowl
SLAB_W_PER_K = 9.0  # chocolate spread on a cool slab, or the bowl in cool water
SLAB_C = 17.0
PATCH_LIMIT = 1.4  # no patch strays further than this many of its usual sizes
PATCH_S = 3.0  # how long a patch stays at the probe
BUSY_W = 25.0  # so much heat going into pieces makes the bowl uneven
UNEVEN_S = 15.0  # stirring evens the bowl out in this time
WILD_C = (-200.0, 400.0)  # a single wild conversion, as a spark nearby makes it
SHORT_FAULT_S = 0.4
COATED_TIMES = 1.9  # as long in the air under a millimetre of chocolate
OPEN_CIRCUIT = 1  # the converter's fault bit


@dataclass(frozen=True)
class Conditions:
    """Temperatures in °C, times in seconds, masses in g, powers in W."""

    room_c: float = 21.0
    mass_g: float = 1000.0
    lag_s: float = 4.0
    second_share: float = 0.0
    """Part of the lag that is a second stage in the probe: 0 is first order."""
    air_lag_s: float = 45.0
    noise_c: float = 0.04
    patch_c: float = 0.35
    microwave_w: float = 800.0
    loss_w_per_k: float = 1.1
    handful_share: float = 0.042
    """One handful as a part of what is in the bowl."""
    reaction_s: float = 1.0
    distraction: float = 0.0
    """How often, 0 to 1, a sound is answered late, heat is overdone, the probe is put down."""
    wild_per_hour: float = 0.0
    short_faults_per_hour: float = 0.0


USUAL = Conditions()


@dataclass
class Bowl:
    """Melt, pieces and bowl; temperatures in °C, masses in g.

    ``heat_w`` is what a heat source puts in now; ``cool_w_per_k`` the extra path to a
    cool slab.
    """

    matter: Matter
    room_c: float
    liquid_g: float
    liquid_c: float
    pieces_g: float = 0.0
    pieces_j_per_g: float = 0.0
    heat_w: float = 0.0
    cool_w_per_k: float = 0.0
    loss_w_per_k: float = USUAL.loss_w_per_k
    bowl_j_per_k: float = BOWL_J_PER_K
    stirring: bool = False
    uneven: float = 0.0
    into_pieces_w: float = 0.0

    def add_pieces(self, mass_g: float, at_c: float) -> None:
        """Put in solid pieces of ``mass_g`` at ``at_c``."""
        added = self.matter.warmed_j_per_g(at_c)
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
        heat_w -= self.loss_w_per_k * (self.liquid_c - self.room_c)
        heat_w -= self.cool_w_per_k * (self.liquid_c - SLAB_C)
        self.into_pieces_w = self._into_pieces_w(seconds) if self.pieces_g > 0 else 0.0
        heat_w -= self.into_pieces_w
        specific = self.matter.liquid_j_per_g_k
        self.liquid_c += heat_w * seconds / (self.liquid_g * specific + self.bowl_j_per_k)
        busy = self.heat_w > 0 or self.into_pieces_w > BUSY_W
        self.uneven += (
            ((1.0 if busy else 0.0) - self.uneven) * seconds / UNEVEN_S
            if self.stirring or busy
            else 0.0
        )

    def _into_pieces_w(self, seconds: float) -> float:
        """Heat flow into the pieces; what has melted joins the liquid."""
        matter = self.matter
        pieces_c = matter.warmed_c(self.pieces_j_per_g)
        per_k = PIECES_W_PER_G_K * self.pieces_g * (1.0 if self.stirring else PIECES_STILL)
        flow_w = per_k * (self.liquid_c - pieces_c)
        self.pieces_j_per_g += flow_w * seconds / self.pieces_g
        if pieces_c >= matter.end_c - 0.1:
            # Molten throughout: the pool mixes into the liquid, heat balance kept.
            specific = matter.liquid_j_per_g_k
            pool_c = matter.molten_c(self.pieces_j_per_g)
            liquid_j_per_k = self.liquid_g * specific + self.bowl_j_per_k
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
        pieces_c = self.matter.warmed_c(self.pieces_j_per_g)
        return self.pieces_g * (1.0 - self.matter.melted_share(pieces_c))


class Immersing(Protocol):
    """A bowl as its probe feels it."""

    room_c: float
    liquid_c: float
    uneven: float


class Probe:
    """A sheathed probe: one lag or two in the chocolate, a long one in air, noise.

    ``inside`` is moved by the person, and so is ``coated``: chocolate on it keeps it warm in the
    air. ``fault`` holds the converter's fault bits of the last step.
    """

    def __init__(self, conditions: Conditions, chance: random.Random):
        self._conditions = conditions
        self._random = chance
        self.inside = False
        self.coated = False
        self.fault = 0
        self._sheath_c = conditions.room_c
        self._tip_c = conditions.room_c
        self._patch_c = 0.0
        self._fault_left_s = 0.0

    def step(self, bowl: "Immersing", seconds: float) -> float:
        """Let ``seconds`` pass; what the converter would see at the end."""
        own = self._conditions
        chance = self._random
        if self.inside:
            # A patch is a first-order random process with spread patch_c at its most.
            keep = math.exp(-seconds / PATCH_S)
            spread = own.patch_c * min(1.0, bowl.uneven) * math.sqrt(1.0 - keep * keep)
            self._patch_c = self._patch_c * keep + chance.gauss(0.0, 1.0) * spread
            limit_c = own.patch_c * PATCH_LIMIT
            self._patch_c = max(-limit_c, min(limit_c, self._patch_c))
            goal_c = bowl.liquid_c + self._patch_c
            lag_s, tip_lag_s = own.lag_s * (1 - own.second_share), own.lag_s * own.second_share
        else:
            goal_c, lag_s, tip_lag_s = bowl.room_c, own.air_lag_s, own.lag_s * own.second_share
            lag_s *= COATED_TIMES if self.coated else 1.0
        self._sheath_c += (goal_c - self._sheath_c) * (1.0 - math.exp(-seconds / lag_s))
        if tip_lag_s > 0:
            part = 1.0 - math.exp(-seconds / tip_lag_s)
            self._tip_c += (self._sheath_c - self._tip_c) * part
        else:
            self._tip_c = self._sheath_c
        self._step_fault(seconds)
        if chance.random() < own.wild_per_hour * seconds / 3600:
            return chance.uniform(*WILD_C)
        return self._tip_c + chance.gauss(0.0, own.noise_c)

    def _step_fault(self, seconds: float) -> None:
        self._fault_left_s -= seconds
        if self._random.random() < self._conditions.short_faults_per_hour * seconds / 3600:
            self._fault_left_s = SHORT_FAULT_S
        self.fault = OPEN_CIRCUIT if self._fault_left_s > 0 else 0


def solid_bowl(kind: str, conditions: Conditions, fat_fraction: float | None) -> Bowl:
    """A bowl of pieces at room temperature with a trace of liquid.

    The trace stands for what melts first at the bowl's wall; without it there would be
    nothing to stir.
    """
    matter = matter_of(kind, fat_fraction)
    room_c, mass_g = conditions.room_c, conditions.mass_g
    trace_g = 0.02 * mass_g
    bowl = Bowl(matter, room_c, trace_g, room_c, loss_w_per_k=conditions.loss_w_per_k)
    bowl.add_pieces(mass_g - trace_g, room_c)
    return bowl
