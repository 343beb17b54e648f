"""What differs from one rough batch to the next, drawn from its number.

Ranges and their reasons: lag in air 30 to 230 s (bare wire to a coated 3 mm sheath, by heat
transfer: volume x density x heat capacity over surface x 10 to 15 W/(m² K)); lag in chocolate
1 to 20 s, longer in a bowl at rest; patches that stay 3 to 50 s; rooms, bowls and windows of every
kitchen. Common practice, no source, where no reason is given.
"""

import math
import random
from dataclasses import dataclass, replace

from snapcurve.couvertures import Couverture
from snapcurve.simulation.bowl_simulator import Conditions


@dataclass(frozen=True)
class Rough(Conditions):
    """Conditions, and what a kitchen adds; temperatures in °C, times in seconds."""

    patch_s: float = 3.0
    """How long a patch stays at the tip."""
    patch_always: float = 0.1
    """The least unevenness of a bowl, as a part of ``patch_c``."""
    still_lag: float = 1.0
    """By how much the probe lags more in a bowl at rest."""
    wall_c: float = 0.0
    """How far the wall runs ahead of the bowl while heat goes in."""
    wall_share: float = 0.0
    """How much of the wall the tip feels at most."""
    blown_c: float = 0.0
    """What hot air adds at the tip."""
    junction_over_c: float = 0.0
    """Cold junction above the room."""
    junction_runs_c: float = 0.0
    """How far hot air beside the board warms the cold junction."""
    pieces_c: float = 20.0
    bath: bool = False
    """Melts over a water bath instead of in a microwave."""
    wipes: float = 0.0
    """How often, 0 to 1, a probe that comes out is wiped in the hand."""
    dips: float = 0.0
    """How often, 0 to 1, the probe is lifted out for a moment while stirring."""

    @property
    def scale(self) -> float:
        """How much longer the same heat takes than in a kilogram, within what a person does."""
        return max(0.25, min(3.0, self.mass_g / 1000.0))


def _between(chance: random.Random, low: float, high: float) -> float:
    """A number from ``low`` to ``high``, as often between 1 and 2 as between 10 and 20."""
    return math.exp(chance.uniform(math.log(low), math.log(high)))


def drawn(number: int) -> Rough:
    """The conditions of rough batch ``number``."""
    chance = random.Random(f"kitchen {number}")
    room_c = chance.uniform(8.0, 35.0) if chance.random() < 0.3 else chance.uniform(15.0, 28.0)
    mass_g = _between(chance, 200.0, 5000.0)
    return Rough(
        room_c=room_c,
        mass_g=mass_g,
        lag_s=_between(chance, 1.0, 12.0),
        second_share=chance.choice((0.0, 0.0, chance.uniform(0.1, 0.4))),
        air_lag_s=_between(chance, 30.0, 230.0),
        noise_c=chance.uniform(0.02, 0.08),
        patch_c=chance.uniform(0.1, 0.5),
        microwave_w=chance.uniform(600.0, 1000.0),
        loss_w_per_k=chance.uniform(0.7, 1.6) * (mass_g / 1000.0) ** (2 / 3),
        handful_share=chance.uniform(0.03, 0.06),
        reaction_s=chance.uniform(1.0, 5.0),
        distraction=chance.choice((0.0, 0.3, 0.7)),
        wild_per_hour=chance.choice((0.0, 3.0, 12.0)),
        short_faults_per_hour=chance.choice((0.0, 0.0, 4.0)),
        patch_s=_between(chance, 3.0, 50.0),
        patch_always=chance.uniform(0.05, 0.25),
        still_lag=chance.uniform(1.0, 1.7),
        wall_c=chance.uniform(0.0, 4.0),
        wall_share=chance.choice((0.0, chance.uniform(0.0, 0.15))),
        blown_c=chance.choice((0.0, 0.0, 0.0, chance.uniform(0.3, 3.0))),
        junction_over_c=chance.choice((chance.uniform(0.0, 2.0), chance.uniform(0.0, 8.0))),
        junction_runs_c=chance.choice((0.0, 0.0, chance.uniform(0.5, 5.0))),
        pieces_c=min(room_c, 20.0),
        bath=chance.random() < 0.25,
        wipes=chance.choice((0.0, 0.5)),
        dips=chance.choice((0.0, 0.0, 0.5)),
    )


def windowed(couverture: Couverture, number: int) -> Couverture:
    """``couverture`` with a window 1 to 2 °C wide, somewhere near its own."""
    chance = random.Random(f"window {number}")
    high_c = couverture.work_high_c + chance.uniform(-0.5, 0.5)
    low_c = high_c - chance.uniform(1.0, 2.0)
    return replace(couverture, work_low_c=round(low_c, 2), work_high_c=round(high_c, 2))
