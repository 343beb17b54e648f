"""When a curve begins and ends where the bowl is hardly warmer than the room."""

import pytest
from test_recorder import MINUTE_MS, Rig, ends, still, wanted


@pytest.fixture
def rig(tmp_path):
    return Rig(tmp_path)


@pytest.mark.parametrize("place", ["chocolate", "entering"])
def test_at_the_rooms_temperature_but_in_the_bowl_it_goes_on(rig, place):
    """A bowl at 28 °C in a kitchen of 27."""
    rig.start()
    assert ends(rig.recorder, still(28.0, 3_000_000, room_c=27.0), place) is None


def test_put_in_again_for_a_moment_the_wait_starts_anew(rig):
    rig.start()
    assert ends(rig.recorder, still(22.0, 500_000)) is None
    assert ends(rig.recorder, still(22.0, 510_000, 500_000), "chocolate") is None
    again = ends(rig.recorder, still(22.0, 2_000_000, 510_000))
    assert again == (510_000 + 10 * MINUTE_MS, "room")


@pytest.mark.parametrize(
    ("value_c", "place", "start_ms"),
    [
        (29.5, "chocolate", 10_000),
        (29.4, "chocolate", None),
        (29.5, "air", None),
        (29.5, "entering", None),
        (25.5, "chocolate", None),  # colder than the room: no bowl by itself
    ],
)
def test_in_a_warm_room_it_starts_in_the_bowl(rig, value_c, place, start_ms):
    assert wanted(rig.recorder, still(value_c, 60_000, room_c=27.5), place) == start_ms


@pytest.mark.parametrize("between", ["unknown", "entering", "chocolate"])
def test_ended_by_hand_in_a_warm_room_it_starts_no_second_curve_in_the_same_bowl(rig, between):
    rig.start()
    rig.recorder.end(1000, "button")
    series = still(30.5, 61_000, 1000, room_c=27.5)
    assert wanted(rig.recorder, series, "chocolate") is None
    assert wanted(rig.recorder, still(30.5, 64_000, 61_000, room_c=27.5), between) is None
    assert wanted(rig.recorder, still(30.5, 124_000, 64_000, room_c=27.5), "chocolate") is None
    assert wanted(rig.recorder, still(29.5, 125_000, 124_000, room_c=27.5)) is None
    again = wanted(rig.recorder, still(30.5, 200_000, 125_000, room_c=27.5), "chocolate")
    assert again == 135_000
