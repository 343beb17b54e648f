"""What lasts a moment is no alarm, and what was done on purpose is not told."""

import pytest
from engine_play import play
from test_engine_again import HOLD, MELTED, SEEDING, mark, told

from snapcurve.probe.tempering.engine import Engine

# --- a moment of heat -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("points", "pauses"),
    [
        pytest.param([(0, 46), (60, 49.6), (120, 49.6)], [], id="the first time"),
        pytest.param([(0, 46), (60, 49.6), (120, 49.6)], [(80, 115)], id="put back"),
        pytest.param([(0, 46), (60, 49.6), (120, 49.6)], [(80, 120.5)], id="put back into it"),
        pytest.param([(120, 50.3)], [], id="from the start"),
        pytest.param(
            [(0, 46), (20, 50.6), (40, 50.6), (60, 48.0), (100, 49.6), (120, 49.6)],
            [],
            id="after it was too hot",
        ),
    ],
)
def test_a_second_above_the_limit_is_not_too_hot(points, pauses):
    """One eddy of hot chocolate from the wall, at 120 s; ten seconds of it are."""
    for seconds, more in ((1.0, 0), (10.0, 1)):
        spike = [(120.25, 50.3), (120.25 + seconds, 50.3), (120.5 + seconds, 49.6), (160, 49.6)]
        heard = play(SEEDING, [*points, *spike], pauses)
        hot = [second for second, alarm, _ in heard if alarm == "too_hot" and second >= 115]
        assert len(hot) == more, (seconds, heard)


@pytest.mark.parametrize("raw", [SEEDING, HOLD])
@pytest.mark.parametrize("before_c", [29.5, 28.0])
@pytest.mark.parametrize("water_c", [48.0, 62.0])
def test_rinsed_in_hot_water_nothing_is_told(raw, before_c, water_c):
    """Five seconds under the tap, in the window and below it: neither melted nor lost."""
    at_c = [(500, before_c), (560, before_c)]
    rinse = [(561, water_c), (566, water_c), (567, before_c), (640, before_c)]
    heard = told(raw, [*MELTED, *at_c, *rinse], 555)
    # The tap at 62 °C is hotter than the couverture may get, and that is told while it is.
    assert [alarm for alarm, _ in heard if alarm != "too_hot"] == []


# --- on purpose -----------------------------------------------------------------------


def test_too_cool_after_a_failed_test_it_is_warmed_up_without_a_word():
    """From below its window straight through it, to melt the bad crystals."""
    points = [*MELTED, (520, 29.5), (600, 28.2), (640, 28.2), (650, 32.0), (760, 32.0)]
    heard = told(SEEDING, points, 530, hands={500: mark("failed")})
    assert [alarm for alarm, _ in heard] == ["too_cool"]


def test_without_a_failed_test_the_same_is_too_warm():
    points = [*MELTED, (520, 29.5), (600, 28.2), (640, 28.2), (650, 32.0), (760, 32.0)]
    heard = told(SEEDING, points, 530)
    assert [alarm for alarm, _ in heard] == ["too_cool", "too_warm"]


def test_a_batch_that_goes_on_without_its_couverture_is_silent():
    """The board was restarted and its profile cannot be read any more."""
    engine = Engine()
    engine.resume(2, "inside")
    alarms = []
    for second in range(60):
        engine.step(second * 1000, 20.0 + second, 1.0, alarms)
    assert alarms == []
    assert (engine.phase_kind(), engine.state) == ("none", "idle")


# --- slow courses ---------------------------------------------------------------------


@pytest.mark.parametrize("rate_c_per_min", [0.3, 0.36, 0.6])
def test_a_slow_fall_into_the_window_is_near_before_it_is_reached(rate_c_per_min):
    seconds = 3 * 60 / rate_c_per_min
    there_s = 20 + seconds * 5 / 6
    heard = play(SEEDING, [(0, 44), (10, 46), (20, 32.5), (20 + seconds, 29.5)])
    near = [second for second, alarm, kind in heard if (alarm, kind) == ("near", "work")]
    assert len(near) == 1
    assert there_s - 25 <= near[0] < there_s - 8


@pytest.mark.parametrize("side", [-1, 1])
def test_touched_for_seven_seconds_the_window_was_not_left(side):
    edge_c = 30.0 if side > 0 else 29.0
    points = [(0, 29.5), (60, 29.5), (61, edge_c + 0.3 * side), (68, edge_c + 0.3 * side)]
    assert [alarm for _, alarm, _ in play(HOLD, [*points, (69, 29.5), (120, 29.5)])] == ["reached"]
