"""The rehearsal's bath: its probe goes in when the command is ready, however long that takes."""

import pytest

from snapcurve.simulation.bath_simulator import DIP_S, ROOM_C, bath, shown_c


def shown(world, from_s, to_s):
    """What the probe shows, by second."""
    found = {}
    for second in range(from_s, to_s, 2):
        rows = world.rows(second * 1000)
        found |= {float(row.split(",")[0]): float(row.split(",")[1]) for row in rows}
    return found


def test_it_hangs_in_the_room_until_the_word_is_given():
    """An hour of the board's time: a busy computer and a board that runs fast."""
    world = bath("ice")
    assert set(map(round, shown(world, 0, 3600).values())) == {round(shown_c(ROOM_C))}
    world.dip()
    after = shown(world, 3600, 3700)
    in_the_room = [value for at_s, value in after.items() if at_s <= 3600 + DIP_S]
    assert set(map(round, in_the_room)) == {round(shown_c(ROOM_C))}
    assert after[3699.0] == pytest.approx(shown_c(0.0), abs=0.1)


def test_a_second_word_does_not_take_it_out_again():
    world = bath("ice")
    world.dip()
    shown(world, 0, 100)
    world.dip()
    assert all(value < 5 for value in shown(world, 100, 130).values())
