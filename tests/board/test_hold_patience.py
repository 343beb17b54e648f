"""In the window a patch that passes the tip is no alarm, and leaving the window is one in time."""

import pytest
from app_rig import AppRig, course

HELD_C = 29.1  # a tenth above the low edge
IN_S = 10


def cold_patch(folder, by_c, seconds):
    """The alarms of a bowl in its window of whose cold patch the probe sees so much."""
    points = course(
        (IN_S, "out"),
        (90, "in", HELD_C),
        (seconds, "in", HELD_C - by_c),
        (60, "in", HELD_C),
    )
    return AppRig(folder, points).run((IN_S + 90 + seconds + 60) * 1000).names()


@pytest.mark.parametrize(("by_c", "seconds"), [(0.3, 7), (0.3, 8), (0.3, 10), (0.5, 5)])
def test_a_patch_of_a_few_seconds_is_no_alarm(tmp_path, by_c, seconds):
    assert cold_patch(tmp_path, by_c, seconds) == ["reached"]


@pytest.mark.parametrize("by_c", [0.3, 0.5])
def test_what_lasts_for_twenty_seconds_is_one(tmp_path, by_c):
    assert "too_cool" in cold_patch(tmp_path, by_c, 20)


@pytest.mark.parametrize("rate_c_per_s", [0.004, 0.01, 0.02])
def test_a_bowl_that_leaves_its_window_is_told_before_it_is_a_third_below(tmp_path, rate_c_per_s):
    falling_s = round(0.5 / rate_c_per_s)
    points = course((IN_S, "out"), (90, "in", HELD_C), (falling_s, "to", HELD_C - 0.5))
    rig = AppRig(tmp_path, points).run((IN_S + 90 + falling_s) * 1000)
    assert rig.names() == ["reached", "too_cool"]
    bowl_c = HELD_C - rate_c_per_s * (rig.when("too_cool") - IN_S - 90)
    assert 28.66 < bowl_c < 29.1


def test_a_bowl_that_is_well_inside_again_is_told_so_before_hands_go_on_warming(tmp_path):
    """Ten seconds of hot air are too much for a bowl that has come back; a look is not enough."""
    points = course((IN_S, "out"), (90, "in", HELD_C), (60, "in", 28.6), (60, "in", 29.6))
    rig = AppRig(tmp_path, points).run((IN_S + 90 + 60 + 60) * 1000)
    assert rig.names() == ["reached", "too_cool", "back"]
    assert 3 < rig.when("back") - (IN_S + 90 + 60) < 10
