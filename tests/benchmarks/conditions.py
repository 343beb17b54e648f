"""What differs from one simulated batch to the next, drawn from its number.

Ranges are chosen around what one meets: sheathed probes of 2 to 8 s in chocolate (check values
for water suggest less, chocolate is thicker), rooms of 18 to 25 °C, patches of up to half a
degree while pieces melt.
"""

import random

from snapcurve.simulation.bowl_simulator import Conditions


def drawn(number: int) -> Conditions:
    """The conditions of batch ``number``."""
    chance = random.Random(f"conditions {number}")
    return Conditions(
        room_c=chance.uniform(18.0, 25.0),
        mass_g=chance.uniform(700.0, 1500.0),
        lag_s=chance.uniform(2.0, 8.0),
        second_share=chance.choice((0.0, 0.0, chance.uniform(0.1, 0.35))),
        air_lag_s=chance.uniform(30.0, 60.0),
        noise_c=chance.uniform(0.02, 0.07),
        patch_c=chance.uniform(0.2, 0.5),
        microwave_w=chance.uniform(600.0, 1000.0),
        loss_w_per_k=chance.uniform(0.7, 1.6),
        handful_share=chance.uniform(0.03, 0.06),
        reaction_s=chance.uniform(1.0, 5.0),
        distraction=chance.choice((0.0, 0.3, 0.7)),
        wild_per_hour=chance.choice((0.0, 3.0, 12.0)),
        short_faults_per_hour=chance.choice((0.0, 0.0, 4.0)),
    )
