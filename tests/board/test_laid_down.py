"""A probe that comes out of ice and is laid down, though it reads a degree and more too high."""

import math
import random

import pytest
from ear import Ear


def run(ear, values, begin_ms=0):
    places = []
    for index, value in enumerate(values):
        ear.hears(begin_ms + 250 * index, value)
        places.append(ear.estimate.place)
    return places


@pytest.mark.parametrize("error_c", [-1.5, 0.0, 1.5])
@pytest.mark.parametrize("tau_s", [40, 120])
def test_after_an_ice_bath_it_lies_in_the_room_again(error_c, tau_s):
    """A class 1 probe may be 1.5 °C out (IEC 60584-1); the room and the board are at 21 °C."""
    noise = random.Random(4)
    ice = [error_c] * 480
    warming = [21 - 21 * math.exp(-quarter / 4 / tau_s) + error_c for quarter in range(4 * 1200)]
    warming = [value + noise.gauss(0, 0.08) for value in warming]
    places = run(Ear(21.0), [21 + error_c] * 40 + ice + warming)
    assert places[-1] == "air"


def test_a_bowl_that_is_worked_near_the_room_stays_a_bowl():
    """Gianduja at 24 °C in a room of 21.5 °C, for ten minutes."""
    ear = Ear(21.5)
    falling = [45 - 21 * (1 - math.exp(-quarter / 4 / 300)) for quarter in range(4 * 1500)]
    run(ear, falling)
    places = run(ear, [24.05] * 2400, begin_ms=250 * len(falling))
    assert set(places[-1200:]) == {"chocolate"}
