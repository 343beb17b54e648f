"""A dipped blade: a thin film of chocolate that cools in the room and sets.

The film goes towards the room's temperature and crystallises on the crystals it holds, as in
`cup_simulator` (autocatalytic kinetics, as usually fitted to seeded fats):

    dx/dt = k (T_melt - T) (x0 + x) (1 - x)   below T_melt

x is what has crystallised of what can in so short a time, x0 the crystals of the bowl. k is
chosen here so that three per cent of crystals set in some four minutes in a room of 20 °C,
"a tempered film sets in 3 to 5 min" (common practice, no source).
"""

from dataclasses import dataclass

COOLS_S = 40.0  # the film on a thin blade
RATE_PER_S_K = 1.19e-3
EDGE_SHARE, SET_SHARE = 0.2, 0.5  # crystallised when the edge dulls, and when no finger marks it
LEAST_CRYSTALS = 1e-4  # a melt without any crystals sets as badly as this
EVEN_CRYSTALS = 0.012  # fewer set in streaks
GRAINY_LUMPS = 0.004
HEAVY_SHARE, THICK_SHARE = 0.06, 0.11  # fine crystals; the second as in "pours badly"


@dataclass
class Blade:
    """A film dipped at ``dipped_s``: the bowl's crystals and lumps as parts of all, whether it
    had seized; ``melts_c`` in °C."""

    dipped_s: float
    crystals: float
    lumps: float
    seized: bool
    melts_c: float
    film_c: float
    set_share: float = 0.0

    def step(self, room_c: float, seconds: float) -> None:
        """Let ``seconds`` pass."""
        self.film_c += (room_c - self.film_c) * seconds / COOLS_S
        below_k = max(0.0, self.melts_c - self.film_c)
        crystals = max(LEAST_CRYSTALS, self.crystals) + self.set_share
        growth = RATE_PER_S_K * below_k * crystals * (1.0 - self.set_share)
        self.set_share = min(1.0, self.set_share + growth * seconds)

    @property
    def is_set(self) -> bool:
        """Whether it takes no finger mark."""
        return self.set_share >= SET_SHARE

    def seen(self) -> list[str]:
        """What eye and finger find, in short sentences."""
        if self.seized:
            return ["A dull, stiff paste clings to the blade in clumps; it makes no film."]
        found = []
        if self.set_share < EDGE_SHARE:
            found.append("Wet and shining; a finger smears it.")
        elif not self.is_set:
            found.append("The edge has turned dull; the middle still takes a finger mark.")
        elif self.crystals < EVEN_CRYSTALS:
            found.append("Set, with grey streaks.")
        else:
            found.append("Set: an even satin gloss, and no finger mark.")
        if self.lumps > GRAINY_LUMPS:
            found.append("Small lumps stand out of the film.")
        if self.crystals > THICK_SHARE:
            found.append("The coat is thick.")
        return found
