"""What moves the estimate little, and what makes it doubt where the probe is (probe_bench.py)."""

import pytest
from probe_bench import PERIOD_MS, ROOM_C, Bench


def put_down(seed, noise_c):
    """Beside the bowl, 4.5 °C above the room and falling 0.05 °C/s: seconds until it is
    distrusted and until it is said to be in the air.
    """
    bench = Bench(seed, noise_c=noise_c)
    bench.hold(20)
    bench.hold(60, ROOM_C + 4.5)
    start_ms, value_c = bench.now_ms, bench.probe_c
    for _ in range(120):
        bench.now_ms += PERIOD_MS
        value_c -= 0.05 * PERIOD_MS / 1000
        bench.feed(value_c + bench.random.gauss(0, noise_c))
    rows = bench.since(start_ms)
    return [
        (next(row.ms for row in rows if test(row)) - start_ms) / 1000
        for test in (lambda row: not row.trusted, lambda row: row.place == "air")
    ]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("noise_c", [0.01, 0.03, 0.07])
def test_near_the_room_a_slow_fall_that_lasts_is_the_air(seed, noise_c):
    """No more than a cold patch at first: distrusted within 15 s, in the air within 40, by then
    two degrees down."""
    distrusted_s, air_s = put_down(seed, noise_c)
    assert distrusted_s <= 15
    assert distrusted_s <= air_s <= 40


def moved_by_a_patch_c(seed, lag_s):
    """A patch half a degree warmer stays four seconds at a probe that is settled at 31 °C."""
    bench = Bench(seed, lag_s=lag_s)
    bench.hold(20)
    bench.hold(60, 45.0)
    bench.hold(20)
    bench.hold(90, 31.0)
    start_ms = bench.now_ms
    bench.hold(4, 31.5)
    bench.hold(30, 31.0)
    rows = bench.since(start_ms)
    assert all(row.place == "chocolate" for row in rows)
    assert abs(rows[-1].chocolate_c - 31.0) < 0.2
    return max(abs(row.chocolate_c - 31.0) for row in rows)


@pytest.mark.parametrize("lag_s", [2.0, 4.0, 8.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_warm_patch_moves_the_estimate_by_less_than_it_is_warmer(lag_s, seed):
    """By 0.5 °C at most with a probe of 2 s, 0.45 with one of 4, 0.4 with one of 8."""
    assert moved_by_a_patch_c(seed, lag_s) < {2.0: 0.5, 4.0: 0.45, 8.0: 0.4}[lag_s]


def two_wild(added_c):
    """At 45 °C, melting: one wild value that fell between two conversions and spoiled both."""
    bench = Bench(3)
    bench.hold(20)
    bench.hold(60, 45.0)
    for part in (0.4, 0.6):
        bench.now_ms += PERIOD_MS
        bench.feed(bench.probe_c + part * added_c)
    start_ms = bench.now_ms
    bench.hold(30, 45.0)
    return bench, bench.since(start_ms)


@pytest.mark.parametrize("added_c", [-240.0, -40.0, 30.0, 350.0])
def test_a_wild_value_that_shows_in_two_readings_moves_nothing(added_c):
    bench, after = two_wild(added_c)
    assert bench.places.count("entering") == 1
    assert all(row.place == "chocolate" for row in after)
    assert max(abs(row.chocolate_c - 45.0) for row in after) < 0.4


def test_a_jump_that_lasts_is_believed():
    """However far: after WILD_READINGS the reading counts, three quarters of a second late."""
    bench = Bench(4)
    bench.hold(20)
    bench.probe_c = 45.0
    bench.hold(10, 45.0)
    assert bench.rows[-1].chocolate_c == pytest.approx(45.0, abs=0.3)


def entered_lying_beside_the_bowl(seed):
    """How often a probe that cools from 28 °C to the room is taken for one put in."""
    bench = Bench(seed, noise_c=0.07, air_s=90.0)
    bench.hold(20)
    bench.hold(60, 28.0)
    before = bench.places.count("entering")
    bench.hold(300)
    return bench.places.count("entering") - before


def test_close_to_the_room_noise_is_no_way_in():
    """Seven degrees above the room and less, where a fall is hardly steeper than its noise."""
    assert sum(entered_lying_beside_the_bowl(seed) for seed in range(8)) == 0
