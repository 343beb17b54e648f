"""Where the probe is and what the chocolate is, on series made here.

A probe of first order with a lag of 4 s in chocolate and 45 s in air, read four times a
second, quantised to 1/128 °C, with noise.
"""

import math
import random

import pytest
from float32 import Float32Filter, float32
from hypothesis import given, settings
from hypothesis import strategies as st

from probe.tempering.estimate import Estimate

PERIOD_MS = 250
ROOM_C = 21.0


class Bench:
    """A probe that is put in and taken out."""

    def __init__(self, seed=1, noise_c=0.03, lag_s=4.0, air_s=45.0, known_room=True):
        self.estimate = Estimate()
        self.random = random.Random(seed)
        self.noise_c, self.lag_s, self.air_s = noise_c, lag_s, air_s
        self.room = ROOM_C if known_room else None
        self.probe_c = ROOM_C
        self.now_ms = 0
        self.places = []
        self.rows = []  # (ms, place, chocolate_c, rate, trusted)

    def hold(self, seconds, chocolate_c=None, rate=0.0, spike=None):
        """``chocolate_c`` None: in the air. ``spike``: (which reading, °C added)."""
        for index in range(int(seconds * 4)):
            self.now_ms += PERIOD_MS
            if chocolate_c is None:
                goal_c, lag_s = ROOM_C, self.air_s
            else:
                chocolate_c += rate / 4
                goal_c, lag_s = chocolate_c, self.lag_s
            self.probe_c += (goal_c - self.probe_c) * (1 - math.exp(-0.25 / lag_s))
            value = self.probe_c + self.random.gauss(0, self.noise_c)
            if spike is not None and index == spike[0]:
                value += spike[1]
            self.feed(round(value * 128) / 128)
        return chocolate_c

    def feed(self, value_c):
        estimate = self.estimate
        estimate.update(self.now_ms, value_c, self.room)
        if not self.places or self.places[-1] != estimate.place:
            self.places.append(estimate.place)
        self.rows.append(
            (
                self.now_ms,
                estimate.place,
                estimate.chocolate_c,
                estimate.rate_c_per_s,
                estimate.trusted,
            )
        )

    def since(self, ms):
        return [row for row in self.rows if row[0] > ms]


@pytest.mark.parametrize("chocolate_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("seed", range(3))
def test_put_in_from_the_room(chocolate_c, seed):
    """Told as in the chocolate within 8 s, and then within 0.5 °C; after 20 s within 0.2."""
    bench = Bench(seed)
    bench.hold(20)
    assert bench.places == ["unknown", "air"]
    start_ms = bench.now_ms
    bench.hold(60, chocolate_c)
    assert bench.places == ["unknown", "air", "entering", "chocolate"]
    settled = [row for row in bench.since(start_ms) if row[1] == "chocolate"]
    assert settled[0][0] - start_ms <= 8000
    assert all(abs(row[2] - chocolate_c) < 0.5 for row in settled)
    assert all(abs(row[2] - chocolate_c) < 0.2 for row in settled if row[0] > start_ms + 20_000)


@pytest.mark.parametrize("chocolate_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("seed", range(3))
def test_taken_out_and_put_back(chocolate_c, seed):
    """Distrusted within 8 s of being taken out and called out within 15; back within 12."""
    bench = Bench(seed)
    bench.hold(20)
    bench.hold(60, chocolate_c)
    out_ms = bench.now_ms
    bench.hold(40)
    distrusted = next(row[0] for row in bench.since(out_ms) if not row[4])
    out = next(row[0] for row in bench.since(out_ms) if row[1] == "air")
    assert distrusted - out_ms <= 8000
    assert out - out_ms <= 15_000
    assert not any(row[4] for row in bench.since(out))
    in_ms = bench.now_ms
    bench.hold(60, chocolate_c)
    back = next(row[0] for row in bench.since(in_ms) if row[4])
    assert back - in_ms <= 12_000
    assert all(abs(row[2] - chocolate_c) < 0.6 for row in bench.since(back))
    assert bench.places[-4:] == ["chocolate", "air", "entering", "chocolate"]


def test_while_leaving_the_estimate_runs_away_by_little():
    """What is judged before the probe is known to be out: less than 1 °C wrong."""
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    out_ms = bench.now_ms
    bench.hold(40)
    assert all(abs(row[2] - 31.0) < 1.0 for row in bench.since(out_ms) if row[4])


@pytest.mark.parametrize("rate", [-0.05, -0.01, 0.01, 0.1])
def test_chocolate_that_cools_or_warms_is_not_air(rate):
    bench = Bench()
    bench.hold(10)
    bench.hold(40, 38.0)
    start_ms = bench.now_ms
    end_c = bench.hold(120, 38.0, rate)
    assert bench.places == ["unknown", "air", "entering", "chocolate"]
    _, _, chocolate_c, got_rate, _ = bench.rows[-1]
    assert chocolate_c == pytest.approx(end_c, abs=0.25)
    assert got_rate == pytest.approx(rate, abs=0.02)
    assert all(row[4] for row in bench.since(start_ms))


def test_moved_into_something_much_warmer():
    """Not through the air, as from one bowl into another: it settles anew."""
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    start_ms = bench.now_ms
    bench.hold(60, 45.0)
    assert bench.places == ["unknown", "air", "entering", "chocolate", "entering", "chocolate"]
    doubted = next(row[0] for row in bench.since(start_ms) if not row[4])
    assert doubted - start_ms <= 3000
    again = next(row[0] for row in bench.since(doubted) if row[4])
    assert again - start_ms <= 10_000
    assert all(abs(row[2] - 45.0) < 0.5 for row in bench.since(again))


def test_without_a_known_room_everything_counts_as_chocolate():
    """No cold junction, no way to tell the air: never "air", and no exception."""
    bench = Bench(known_room=False)
    bench.hold(20)
    bench.hold(60, 45.0)
    bench.hold(60)
    assert "air" not in bench.places


def test_a_room_that_gets_known_later_is_used():
    bench = Bench(known_room=False)
    bench.hold(60, 45.0)
    bench.room = ROOM_C
    bench.hold(40, 45.0)
    bench.hold(40)
    assert bench.places[-1] == "air"


@pytest.mark.parametrize("spike_c", [-2000.0, -20.0, 5.0, 200.0])
def test_a_single_wild_reading_moves_nothing(spike_c):
    """The same series with and without it: never 0.05 °C apart, and in no other place."""
    runs = []
    for spike in (None, (40, spike_c)):
        bench = Bench()
        bench.hold(20)
        bench.hold(60, 31.0)
        bench.hold(60, 31.0, 0.0, spike)
        runs.append(bench)
    assert runs[0].places == runs[1].places
    for clean, spoilt in zip(runs[0].rows, runs[1].rows, strict=True):
        assert spoilt[2] == pytest.approx(clean[2], abs=0.05)
        assert spoilt[4] == clean[4]


def test_after_a_gap_nothing_is_known():
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    bench.now_ms += 1300
    bench.hold(0.25, 31.0)
    assert bench.estimate.place == "unknown"
    assert not bench.estimate.trusted
    bench.hold(20, 31.0)
    assert bench.estimate.place == "chocolate"
    assert bench.rows[-1][2] == pytest.approx(31.0, abs=0.3)


def test_a_missing_reading_or_two_is_no_gap():
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    for _ in range(20):
        bench.now_ms += 2 * PERIOD_MS
        bench.hold(2, 31.0)
    assert bench.places[-1] == "chocolate"
    assert bench.places.count("unknown") == 1


def test_lost_is_unknown():
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    bench.estimate.lost()
    assert (bench.estimate.place, bench.estimate.trusted) == ("unknown", False)


def test_the_value_before_a_gap_is_not_taken_for_one_after_it():
    """Out of the oven at 80 °C, lost, then back in at 31: nothing near 80 is ever judged."""
    bench = Bench()
    bench.hold(60, 80.0)
    bench.estimate.lost()
    bench.now_ms += 5000
    bench.probe_c = 31.0
    start_ms = bench.now_ms
    bench.hold(60, 31.0)
    assert all(row[2] == pytest.approx(31.0, abs=0.5) for row in bench.since(start_ms) if row[4])


def test_started_in_the_chocolate():
    bench = Bench()
    bench.probe_c = 45.0
    bench.hold(20, 45.0)
    assert bench.places == ["unknown", "entering", "chocolate"]


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(
            st.integers(1, 40), st.sampled_from([None, 27.0, 31.0, 45.0]), st.integers(0, 3000)
        ),
        max_size=12,
    ),
    st.booleans(),
)
def test_whatever_comes_the_numbers_stay_numbers(parts, known_room):
    bench = Bench(known_room=known_room)
    for seconds, chocolate_c, pause_ms in parts:
        bench.hold(seconds, chocolate_c)
        bench.now_ms += pause_ms
    for _, place, chocolate_c, rate, trusted in bench.rows:
        assert place in ("unknown", "chocolate", "air", "entering")
        assert math.isfinite(chocolate_c)
        assert math.isfinite(rate)
        assert not trusted or place == "chocolate"
    assert math.isfinite(bench.estimate.spread_c)


def test_rows_judged_in_the_air_are_none():
    """A whole batch in bursts: out for two minutes, in for half a minute, ten times."""
    bench = Bench(seed=7)
    bench.hold(30)
    judged_out = 0
    for burst in range(10):
        bench.hold(30, 30.0 + burst * 1.6)
        out_ms = bench.now_ms
        bench.hold(120)
        judged_out += sum(row[4] for row in bench.since(out_ms + 15_000))
    assert judged_out == 0


def test_with_32_bit_floats_it_says_the_same():
    """A batch in bursts on the same readings: the same places at the same moments."""

    class Narrow(Bench):
        def __init__(self, seed):
            super().__init__(seed)
            self.estimate._filter = Float32Filter(0.25, 4.0)
            self.room = float32(ROOM_C)

        def feed(self, value_c):
            super().feed(float32(value_c))

    runs = [Bench(3), Narrow(3)]
    for bench in runs:
        bench.hold(20)
        for chocolate_c in (34.0, 41.0, 45.5):
            bench.hold(30, chocolate_c)
            bench.hold(60)
        bench.hold(120, 31.0, -0.01)
    for wide, narrow in zip(runs[0].rows, runs[1].rows, strict=True):
        assert narrow[:2] == wide[:2]
        assert narrow[4] == wide[4]
        assert narrow[2] == pytest.approx(wide[2], abs=0.01)
        assert narrow[3] == pytest.approx(wide[3], abs=0.002)
