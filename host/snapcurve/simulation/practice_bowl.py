"""The bowl to practise on: melt, pieces, crystals, and what spoils them.

Heat and mass balance as in `bowl_simulator`, with each handful a pool of its own, and what a
learner must be able to get wrong: a crystal that has melted is gone, crystals grow while the
bowl is kept, lumps take their time, water makes it seize, heat scorches. Nothing here comes
from snapcurve.heat or snapcurve.advice, nor is it tuned to them.

`crystals_share` is solid in fine crystals, as a part of the fat: a few per cent is in temper.
Growth on crystals that are there (autocatalytic, as usually fitted to seeded fats) goes with the
square of the undercooling below MELTS_BELOW_END_K under the end of melting, which is 33.8 °C for
dark (form V, Wille and Lutton, JAOCS 43 (1966) 491, as commonly quoted). Rates are chosen here,
of the size one meets; none is a constant of nature.
"""

from dataclasses import dataclass, field

from snapcurve.simulation.bowl_simulator import (
    BOWL_J_PER_K,
    BUSY_W,
    PIECES_STILL,
    PIECES_W_PER_G_K,
    SLAB_C,
    UNEVEN_S,
)
from snapcurve.simulation.matter import Matter

MELTS_BELOW_END_K = 2.2
GROWTH_PER_S_K2 = 6.4e-5  # few of them double in three quarters of an hour at 2 K, in 7 min at 5 K
BEARS_PER_K = 0.05  # crystals that a melt bears in the end, as a part of all, for each K below
MELTS_AWAY_S = 120.0  # more than that melt in this time; above, the quicker the warmer
NUCLEI_FROM_K = 4.5  # so far below, stirring makes crystals without any seed
NUCLEI_PER_S_K = 7e-5
LUMPS_S_AT_END = 25.0  # lumps at the end of melting, stirred; e times longer each LUMPS_K below
LUMPS_K = 2.0
LUMPS_STILL = 4.0  # so many times longer unstirred
SEIZES_SHARE = 0.002  # of water: a few drops in a kilogram
SCORCH_S_K = 300.0  # five kelvins too hot for a minute: burnt
COLD_W_PER_K = 9.0  # the bowl on a cold stone or slab, in cold water


@dataclass
class Pool:
    """Pieces that went in together: g, their heat in J/g, the warmest they have been in °C, and
    how much of them are lumps still, 0 to 1."""

    mass_g: float
    j_per_g: float
    peak_c: float
    lumps: float = 1.0

    def at_c(self, matter: Matter) -> float:
        """Temperature. What has melted stays molten on cooling."""
        peak_j = matter.warmed_j_per_g(self.peak_c)
        if self.j_per_g >= peak_j:
            return matter.warmed_c(self.j_per_g)
        share = matter.melted_share(self.peak_c)
        specific = share * matter.liquid_j_per_g_k + (1.0 - share) * matter.solid_j_per_g_k
        return self.peak_c - (peak_j - self.j_per_g) / specific

    def solid_g(self, matter: Matter) -> float:
        """What of it is solid, g."""
        return self.mass_g * (1.0 - matter.melted_share(self.peak_c))


@dataclass
class PracticeBowl:
    """Melt, pools of pieces and bowl; temperatures in °C, masses in g, powers in W.

    ``scorches_c``: above it it scorches. ``scorched``: 0 not at all, 1 burnt. ``grown_g``:
    crystals that have grown in the melt.
    """

    matter: Matter
    room_c: float
    liquid_g: float
    liquid_c: float
    scorches_c: float
    pools: list[Pool] = field(default_factory=list)
    heat_w: float = 0.0
    cold: bool = False
    loss_w_per_k: float = 1.1
    bowl_j_per_k: float = BOWL_J_PER_K
    stirring: bool = False
    uneven: float = 0.0
    grown_g: float = 0.0
    water_g: float = 0.0
    scorched: float = 0.0

    @property
    def mass_g(self) -> float:
        """All that is in the bowl."""
        return self.liquid_g + self.grown_g + sum(pool.mass_g for pool in self.pools)

    @property
    def unmelted_g(self) -> float:
        """All that is solid, lumps and crystals."""
        return self.grown_g + sum(pool.solid_g(self.matter) for pool in self.pools)

    @property
    def lumps_share(self) -> float:
        """Solid in lumps, as a part of all."""
        lumps = sum(pool.solid_g(self.matter) * pool.lumps for pool in self.pools)
        return lumps / self.mass_g

    @property
    def crystals_share(self) -> float:
        """Solid in fine crystals, as a part of all."""
        return self.unmelted_g / self.mass_g - self.lumps_share

    @property
    def melts_c(self) -> float:
        """Below it crystals grow, above it they melt."""
        return self.matter.end_c - MELTS_BELOW_END_K

    @property
    def seized(self) -> bool:
        """Whether water has made a paste of it."""
        return self.water_g >= SEIZES_SHARE * self.mass_g

    def add_pieces(self, mass_g: float, at_c: float, lumps: float = 1.0) -> None:
        """Put in pieces (``lumps`` 1) or powdered crystals (0)."""
        pool = Pool(mass_g, self.matter.warmed_j_per_g(at_c), at_c, lumps)
        self.pools.append(pool)
        self.uneven = 1.0

    def add_melted(self, mass_g: float, at_c: float) -> None:
        """Pour in molten chocolate."""
        there = self._liquid_j_per_k()
        poured = mass_g * self.matter.liquid_j_per_g_k
        self.liquid_c = (there * self.liquid_c + poured * at_c) / (there + poured)
        self.liquid_g += mass_g
        self.uneven = 1.0

    def pour_off(self, mass_g: float) -> None:
        """Take so much of all that is in it, at most nearly all."""
        left = 1.0 - mass_g / self.mass_g
        self.liquid_g *= left
        self.grown_g *= left
        self.water_g *= left
        for pool in self.pools:
            pool.mass_g *= left

    def lift_out_lumps(self) -> float:
        """Sieve or lift out every lump; how many g that were."""
        before_g = self.mass_g
        for pool in self.pools:
            pool.mass_g *= 1.0 - pool.lumps
            pool.lumps = 0.0
        self.pools = [pool for pool in self.pools if pool.mass_g > 1e-6]
        return before_g - self.mass_g

    def step(self, seconds: float) -> None:
        """Let ``seconds`` pass."""
        mass_g = self.mass_g
        into_pools_w = 0.0
        for pool in self.pools:
            pool.j_per_g += self.heat_w / mass_g * seconds
            into_pools_w += self._warm(pool, seconds)
        heat_w = self.heat_w * (self.liquid_g + self.grown_g) / mass_g - into_pools_w
        heat_w -= self.loss_w_per_k * (self.liquid_c - self.room_c)
        if self.cold:
            heat_w -= COLD_W_PER_K * (self.liquid_c - SLAB_C)
        self.liquid_c += heat_w * seconds / self._liquid_j_per_k()
        self._crystals(seconds)
        self._lumps(seconds)
        for pool in [pool for pool in self.pools if pool.peak_c >= self.matter.end_c - 0.1]:
            self._join(pool)
        self.scorched += max(0.0, self.liquid_c - self.scorches_c) * seconds / SCORCH_S_K
        self._evenness(seconds, into_pools_w)

    def _liquid_j_per_k(self) -> float:
        return (self.liquid_g + self.grown_g) * self.matter.liquid_j_per_g_k + self.bowl_j_per_k

    def _warm(self, pool: Pool, seconds: float) -> float:
        """Heat flow from the melt into ``pool``, W."""
        per_k = PIECES_W_PER_G_K * pool.mass_g * (1.0 if self.stirring else PIECES_STILL)
        flow_w = per_k * (self.liquid_c - pool.at_c(self.matter))
        pool.j_per_g += flow_w * seconds / pool.mass_g
        pool.peak_c = max(pool.peak_c, pool.at_c(self.matter))
        return flow_w

    def _join(self, pool: Pool) -> None:
        """Molten throughout: the pool mixes into the melt, heat balance kept."""
        self.pools.remove(pool)
        there, pools_j_per_k = self._liquid_j_per_k(), pool.mass_g * self.matter.liquid_j_per_g_k
        pool_c = self.matter.molten_c(pool.j_per_g)
        self.liquid_c = (self.liquid_c * there + pool_c * pools_j_per_k) / (there + pools_j_per_k)
        self.liquid_g += pool.mass_g

    def _crystals(self, seconds: float) -> None:
        """Crystals grow on crystals, or come of themselves far below; those that the melt does
        not bear at its temperature melt."""
        below_k, share = self.melts_c - self.liquid_c, self.crystals_share
        bears = BEARS_PER_K * max(0.0, below_k)
        if share < bears:
            per_s = GROWTH_PER_S_K2 * below_k**2 * share * (1.0 - share / bears)
            if self.stirring and below_k > NUCLEI_FROM_K:
                per_s += NUCLEI_PER_S_K * (below_k - NUCLEI_FROM_K)
            new_g = min(per_s * self.mass_g * seconds, 0.01 * self.liquid_g)
        else:
            too_much_g = (share - bears) * self.mass_g
            quicker = 1.0 + max(0.0, -below_k) / 0.5
            new_g = -min(self.grown_g, too_much_g * min(1.0, quicker * seconds / MELTS_AWAY_S))
        self.grown_g += new_g
        self.liquid_g -= new_g
        self.liquid_c += new_g * self.matter.latent_j_per_g / self._liquid_j_per_k()

    def _lumps(self, seconds: float) -> None:
        below_k = max(-2.0 * LUMPS_K, self.matter.end_c - self.liquid_c)
        lasts_s = LUMPS_S_AT_END * 2.718281828 ** (below_k / LUMPS_K)
        if not self.stirring:
            lasts_s *= LUMPS_STILL
        for pool in self.pools:
            pool.lumps *= max(0.0, 1.0 - seconds / lasts_s)

    def _evenness(self, seconds: float, into_pools_w: float) -> None:
        busy = self.heat_w > 0 or into_pools_w > BUSY_W
        if self.stirring or busy:
            self.uneven += ((1.0 if busy else 0.0) - self.uneven) * seconds / UNEVEN_S
