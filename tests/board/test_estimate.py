"""Where the probe is and what the chocolate is, on series made here (probe_bench.py)."""

import math

import pytest
from float32 import Float32, Float32Estimate
from hypothesis import given, settings
from hypothesis import strategies as st
from probe_bench import PERIOD_MS, ROOM_C, Bench

from snapcurve.probe.tempering.lag_filter import LAGS_S

NOTICE_S = 3.5  # until a movement shows: three seconds of readings, and the median of three
LATE_S = 15  # the longest that anybody waits with the probe in the bowl for it to count


@pytest.mark.parametrize("chocolate_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("seed", range(3))
def test_put_in_from_the_room(chocolate_c, seed):
    """Its lag unknown. Told as in the chocolate when it has settled, late at the latest; and
    then within three of its spreads, after 20 s within 0.25 °C.
    """
    bench = Bench(seed)
    bench.hold(20)
    assert bench.places == ["unknown", "air"]
    start_ms = bench.now_ms
    bench.hold(60, chocolate_c)
    assert bench.places == ["unknown", "air", "entering", "chocolate"]
    settled = [row for row in bench.since(start_ms) if row.place == "chocolate"]
    assert settled[0].ms - start_ms < 1000 * LATE_S
    assert all(abs(row.chocolate_c - chocolate_c) < 3 * row.spread_c for row in settled)
    late = [row for row in settled if row.ms > start_ms + 20_000]
    assert all(abs(row.chocolate_c - chocolate_c) < 0.25 for row in late)


@pytest.mark.parametrize("chocolate_c", [28.0, 31.0, 45.0])
@pytest.mark.parametrize("seed", range(3))
def test_put_in_again_with_a_lag_that_is_known(chocolate_c, seed):
    """Trusted within 12 s, at once within 2.5 of its own spreads, after 15 s within 0.35 °C."""
    bench = Bench(seed, told=4.0)
    bench.hold(20)
    for _ in range(4):
        start_ms = bench.now_ms
        bench.hold(40, chocolate_c)
        rows = [row for row in bench.since(start_ms) if row.trusted]
        assert rows[0].ms - start_ms <= 12_000
        for row in rows:
            off_c = abs(row.chocolate_c - chocolate_c)
            assert off_c < 2.5 * row.spread_c
            assert off_c < 0.35 or row.ms <= start_ms + 15_000
        bench.hold(60)


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
    rows = bench.since(back)
    assert all(abs(row.chocolate_c - chocolate_c) < 3 * row.spread_c for row in rows)
    assert bench.places[-4:] == ["chocolate", "air", "entering", "chocolate"]


def test_while_leaving_the_estimate_runs_away_by_little():
    """What is judged before the probe is known to be out: less than 1 °C wrong."""
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    out_ms = bench.now_ms
    bench.hold(40)
    assert all(abs(row[2] - 31.0) < 1.0 for row in bench.since(out_ms) if row[4])


@pytest.mark.parametrize("rate", [-0.03, -0.01, 0.01, 0.1])
def test_chocolate_that_cools_or_warms_is_not_air(rate):
    bench = Bench()
    bench.hold(10)
    bench.hold(40, 38.0)
    start_ms = bench.now_ms
    end_c = bench.hold(120, 38.0, rate)
    assert bench.places == ["unknown", "air", "entering", "chocolate"]
    last = bench.rows[-1]
    assert last.chocolate_c == pytest.approx(end_c, abs=0.25)
    assert last.rate == pytest.approx(rate, abs=0.02)
    assert all(row[4] for row in bench.since(start_ms))


def test_moved_into_something_much_warmer():
    """Not through the air, as from one bowl into another: it settles anew, and counts when it can
    only be that and no wall.
    """
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    start_ms = bench.now_ms
    bench.hold(60, 45.0)
    assert bench.places == ["unknown", "air", "entering", "chocolate", "entering", "chocolate"]
    doubted = next(row[0] for row in bench.since(start_ms) if not row[4])
    assert doubted - start_ms <= 3000
    again = next(row[0] for row in bench.since(doubted) if row[4])
    assert again - start_ms <= 20_000
    assert all(abs(row[2] - 45.0) < 0.8 for row in bench.since(again))


def test_a_slow_probe_in_lukewarm_chocolate_is_noticed_by_its_rise():
    """Two degrees above the room with a lag of 8 s: it rises by less than 0.24 °C/s."""
    bench = Bench(noise_c=0.0, lag_s=8.0)
    bench.hold(20)
    start_ms = bench.now_ms
    bench.hold(60, ROOM_C + 1.9)
    entered = next(row.ms for row in bench.since(start_ms) if row.place == "entering")
    assert entered - start_ms <= 1000 * NOTICE_S
    assert bench.places[-1] == "chocolate"


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
    bench.ear.room_is(ROOM_C)
    bench.hold(40, 45.0)
    bench.hold(40)
    assert bench.places[-1] == "air"


@pytest.mark.parametrize("spike_c", [-2000.0, -20.0, 5.0, 200.0])
def test_a_single_wild_reading_moves_nothing(spike_c):
    """The same series with and without it: never 0.05 °C apart at the same moment, and in no
    other place. What no thermocouple says is a fault: that one reading is missing.
    """
    runs = []
    for spike in (None, (40, spike_c)):
        bench = Bench()
        bench.hold(20)
        bench.hold(60, 31.0)
        bench.hold(60, 31.0, 0.0, spike)
        runs.append(bench)
    assert runs[0].places == runs[1].places
    spoilt_at = {row.ms: row for row in runs[1].rows}
    missing = [row.ms for row in runs[0].rows if row.ms not in spoilt_at]
    assert len(missing) == (1 if abs(spike_c) > 1000 else 0)
    for clean in runs[0].rows:
        spoilt = spoilt_at.get(clean.ms)
        if spoilt is not None:
            assert spoilt.chocolate_c == pytest.approx(clean.chocolate_c, abs=0.05)
            assert spoilt.trusted == clean.trusted


def test_after_a_gap_nothing_is_known():
    """From the first reading after it; the thermometer lets that one out with the third."""
    bench = Bench()
    bench.hold(20)
    bench.hold(60, 31.0)
    bench.now_ms += 1300
    start_ms = bench.now_ms
    bench.hold(0.75, 31.0)
    assert [row.place for row in bench.since(start_ms)] == ["unknown"]
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
    for row in bench.rows:
        assert row.place in ("unknown", "chocolate", "air", "entering")
        assert math.isfinite(row.chocolate_c)
        assert math.isfinite(row.rate)
        assert math.isfinite(row.spread_c)
        assert row.spread_c >= 0
        assert min(LAGS_S) <= row.lag_s <= max(LAGS_S)
        assert not row.trusted or row.place == "chocolate"


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
            self.estimate = self.ear.estimate = Float32Estimate()

    runs = [Bench(3), Narrow(3)]
    for bench in runs:
        bench.hold(20)
        for chocolate_c in (34.0, 41.0, 45.5):
            bench.hold(30, chocolate_c)
            bench.hold(60)
        bench.hold(120, 31.0, -0.01)
    assert type(runs[1].estimate.chocolate_c) is Float32
    for wide, narrow in zip(runs[0].rows, runs[1].rows, strict=True):
        assert narrow[:2] == wide[:2]
        assert narrow[4] == wide[4]
        assert narrow[2] == pytest.approx(wide[2], abs=0.01)
        assert narrow[3] == pytest.approx(wide[3], abs=0.002)
