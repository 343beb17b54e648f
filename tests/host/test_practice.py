"""The practice bench without a board: its acts, what it lets be seen, and its bowl."""

import random
import threading
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from snapcurve.couvertures import load, user_folder
from snapcurve.errors import SnapcurveError
from snapcurve.simulation.blade import Blade
from snapcurve.simulation.matter import matter_of
from snapcurve.simulation.practice import (
    ACTS,
    PROBE_IN_MICROWAVE,
    STEP_MS,
    Act,
    BenchState,
    Practice,
)
from snapcurve.simulation.practice_bowl import PracticeBowl
from snapcurve.simulation.practice_pace import LONGEST_MS, Pace
from tests.patience import LONGEST_S

MILK = load("milk", user_folder())
DARK = load("dark", user_folder())


def bench(couverture=MILK, **state):
    return Practice(couverture, BenchState(**state))


def passed(practice, seconds):
    """All rows of the next ``seconds``."""
    until_ms = practice.now_ms + seconds * 1000
    rows = []
    while practice.now_ms < until_ms:
        rows += practice.rows(practice.now_ms - STEP_MS)
    return rows


def done(practice, name, amount=None, **more):
    practice.act(Act(name, amount, **more))


def refused(practice, name, amount=None):
    with pytest.raises(SnapcurveError) as error:
        practice.act(Act(name, amount))
    return str(error.value)


def molten(at_c, **bowl):
    return PracticeBowl(matter_of("dark"), 21.0, 1000.0, at_c, 55.0, stirring=True, **bowl)


def waited(bowl, seconds):
    for _ in range(round(seconds * 4)):
        bowl.step(0.25)
    return bowl


# --- acts --------------------------------------------------------------------------------


def test_the_microwave_needs_the_probe_out_and_the_attempt_is_remembered() -> None:
    practice = bench(melted=True, start_c=30.0)
    done(practice, "probe_in")
    assert refused(practice, "heat", 20) == PROBE_IN_MICROWAVE
    assert [(one.act, one.refused) for one in practice.done] == [
        ("probe_in", False),
        ("heat", True),
    ]
    assert "heat" not in practice.look()["can"]
    passed(practice, 20)
    assert practice.truth[-1].chocolate_c == pytest.approx(30.0, abs=0.1)
    done(practice, "probe_out")
    done(practice, "heat", 20)
    assert practice.look()["busy"] == {"heat": 20.0}
    assert refused(practice, "probe_in") == "The bowl is in the microwave oven for 20 s more."
    passed(practice, 21)
    assert practice.look()["busy"] == {}
    done(practice, "probe_in")
    # 20 s of 800 W, of which 80 % arrive, into 1 kg of melt and the bowl: 5.8 K by hand
    assert practice.truth[-1].chocolate_c == pytest.approx(35.6, abs=0.2)


def test_acts_that_cannot_be_done_are_refused_in_words() -> None:
    practice = bench(pieces_g=100)
    assert "at most that" in refused(practice, "seed", 101)
    assert "dip one first" in refused(practice, "touch")
    assert "melt it first" in refused(practice, "lift_out")
    assert "at most 950 g" in refused(practice, "pour_off", 990)
    assert "takes 1 to 120 s" in refused(practice, "heat", 121)
    assert "takes no amount" in refused(practice, "stir", 2)
    assert "choose one of" in refused(practice, "pray")
    assert "whole number" in refused(practice, "press", 1.5)
    done(practice, "put_away")
    assert "put aside" in refused(practice, "stir")
    assert practice.look()["can"] == ["hold"]  # the recording can still be ended


def test_what_is_asked_once_is_done_once() -> None:
    practice = bench()
    for _ in range(3):
        done(practice, "seed", 50, once="click 1")
    done(practice, "seed", 50, once="click 2")
    assert practice.look()["pieces_g"] == 400
    assert len(practice.done) == 2


def test_nothing_is_done_in_the_past() -> None:
    practice = bench()
    passed(practice, 10)
    with pytest.raises(SnapcurveError, match="any more"):
        practice.act(Act("stir", at_ms=9000))
    practice.act(Act("stir", at_ms=12_000))
    passed(practice, 1)
    assert not practice.look()["stirring"]
    passed(practice, 2)
    assert practice.look()["stirring"]
    assert practice.done[-1].seconds == 12.0


SCRIPT = [
    Act("probe_in", at_ms=3000),
    Act("stir", at_ms=3000),
    Act("press", 2.0, at_ms=8250),
    Act("probe_out", at_ms=20_000),
    Act("heat", 20.0, at_ms=22_000),
    Act("probe_in", at_ms=30_000),  # refused: in the oven
    Act("probe_in", at_ms=45_000),
    Act("seed", 80.0, at_ms=50_500),
    Act("dip", at_ms=55_000),
]


def test_the_same_acts_at_the_same_times_are_the_same_bench() -> None:
    at_once, one_by_one = bench(number=4), bench(number=4)
    for act in SCRIPT:
        at_once.act(act)
    rows = passed(at_once, 70)
    found = []
    for act in SCRIPT:
        while one_by_one.now_ms < (act.at_ms or 0):
            found += one_by_one.rows(one_by_one.now_ms - STEP_MS)
        try:
            one_by_one.act(Act(act.name, act.amount))
        except SnapcurveError:
            assert act.at_ms == 30_000
    found += passed(one_by_one, 70 - one_by_one.now_ms / 1000)
    assert found == rows
    assert [one.refused for one in at_once.done] == [*[False] * 5, True, *[False] * 3]
    assert passed(bench(number=5), 70) != rows


def test_presses_reach_the_button_one_by_one() -> None:
    practice = bench()
    done(practice, "press", 3)
    levels = [row.split(",")[4] for row in passed(practice, 2)]
    assert levels == list("10101000")
    done(practice, "hold")
    assert "wait a moment" in refused(practice, "press")
    assert [row.split(",")[4] for row in passed(practice, 3.5)] == [*"1" * 12, *"00"]


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(sorted(ACTS)), st.floats(-10, 6000) | st.none()), max_size=12
    )
)
def test_whatever_is_tried_leaves_a_bowl_that_can_be(acts) -> None:
    practice = bench(number=2)
    for name, amount in acts:
        with suppress(SnapcurveError):
            practice.act(Act(name, amount))
        passed(practice, 3)
    passed(practice, 1)
    truth = practice.truth[-1]
    assert 5 < truth.chocolate_c < 400
    assert -1e-6 <= truth.crystals_share <= truth.unmelted_share + 1e-6 <= 1.000002
    assert practice.look()["in_bowl_g"] >= 49


def test_what_is_seen_tells_no_number_of_the_chocolate() -> None:
    practice = bench(melted=True, start_c=31.4, crystals=0.031, room_c=19.5)
    passed(practice, 30)
    look = practice.look()
    hidden = practice.truth[-1]
    text = str({**look, "now_s": 0})
    for value in (hidden.chocolate_c, hidden.crystals_share, hidden.unmelted_share):
        assert f"{value:.2f}" not in text
    assert not {"chocolate_c", "liquid_c", "crystals_share", "truth"} & set(look)


# --- the pace ----------------------------------------------------------------------------


def test_halted_time_passes_as_far_as_it_is_waited_for() -> None:
    practice = bench()
    pace = Pace(practice, 10, halted=True)
    seen: list[str] = []

    def board() -> None:
        now_ms = -1
        while (rows := pace.rows(now_ms)) is not None:
            seen.extend(rows)
            now_ms = practice.now_ms - STEP_MS

    thread = threading.Thread(target=board, daemon=True)
    thread.start()
    assert pace.wait(10)
    assert practice.now_ms == len(seen) * STEP_MS == 10_250  # the first row is of the start
    pace.close()
    thread.join(LONGEST_S)
    assert not thread.is_alive()
    assert not pace.wait(1)


def test_time_runs_as_fast_as_it_is_set() -> None:
    now = [100.0]
    practice = bench()
    pace = Pace(practice, 60, clock=lambda: now[0])
    passed(practice, 3)
    covered_ms = practice.now_ms - STEP_MS
    assert pace._wait_s(covered_ms) == pytest.approx(3 / 60)
    now[0] += 3 / 60
    assert pace._wait_s(covered_ms) == 0
    pace.set_speed(1)
    passed(practice, 3)
    assert pace._wait_s(practice.now_ms - STEP_MS) == pytest.approx(3)
    for speed in (0.5, 61, float("nan")):
        with pytest.raises(SnapcurveError, match="no speed"):
            pace.set_speed(speed)


def test_a_bowl_left_alone_ends_its_day() -> None:
    """Twelve hours, as long as a board records: what is kept of it stays bounded."""
    practice = bench()
    practice._step = LONGEST_MS // STEP_MS - 2
    pace = Pace(practice, 60, clock=lambda: 0.0)
    assert not pace.halted
    passed(practice, 0.5)
    assert pace.halted
    assert pace._wait_s(practice.now_ms - STEP_MS) is None
    with pytest.raises(SnapcurveError):
        practice.act(Act("stir", at_ms=LONGEST_MS + 1))


# --- the bowl ----------------------------------------------------------------------------


def heat_j(bowl):
    """All heat in it, counted from the melt at 0 °C: nothing of it is lost in a closed bowl."""
    matter = bowl.matter
    liquid = (bowl.liquid_g + bowl.grown_g) * matter.liquid_j_per_g_k + bowl.bowl_j_per_k
    zero_j = matter.warmed_j_per_g(matter.end_c) - matter.liquid_j_per_g_k * matter.end_c
    pools = sum(pool.mass_g * (pool.j_per_g - zero_j) for pool in bowl.pools)
    return liquid * bowl.liquid_c + pools - bowl.grown_g * matter.latent_j_per_g


@pytest.mark.parametrize("at_c", [45.0, 36.0, 33.0, 29.0, 26.0])
def test_no_heat_is_lost_or_made_in_a_closed_bowl(at_c) -> None:
    """First law: pieces that melt, crystals that grow and melt away only move heat."""
    bowl = molten(at_c, loss_w_per_k=0.0)
    bowl.grown_g, bowl.liquid_g = 20.0, 980.0
    for _ in range(3):
        bowl.add_pieces(60.0, 20.0)
        before_j = heat_j(bowl)
        waited(bowl, 240)
        assert heat_j(bowl) == pytest.approx(before_j, abs=0.002 * 60.0 * 160.0 + 60.0)
    assert bowl.mass_g == pytest.approx(1180.0)


def test_what_has_melted_does_not_come_back_by_cooling() -> None:
    bowl = molten(33.5)
    bowl.add_pieces(60.0, 21.0)
    waited(bowl, 300)
    left_g = bowl.pools[0].solid_g(bowl.matter)
    assert 0 < left_g < 30
    bowl.cold = True
    waited(bowl, 240)
    assert bowl.liquid_c < 31
    assert bowl.pools[0].solid_g(bowl.matter) <= left_g


def test_crystals_grow_in_the_cool_and_melt_in_the_warm() -> None:
    cool, warm, lost = molten(28.5), molten(32.0), molten(35.5)
    for bowl in (cool, warm, lost):
        bowl.grown_g, bowl.liquid_g = 30.0, 970.0
        bowl.loss_w_per_k = 0.0
        waited(bowl, 600)
    assert cool.crystals_share > 0.06 > warm.crystals_share > 0.02
    assert lost.crystals_share < 0.001


def test_a_few_drops_of_water_seize_a_kilogram() -> None:
    dry, wet = molten(40.0), molten(40.0)
    dry.water_g, wet.water_g = 0.5, 4.0
    assert not dry.seized
    assert wet.seized


def test_lumps_last_the_longer_the_cooler_and_can_be_lifted_out() -> None:
    cool, warm = molten(30.5), molten(33.0)
    for bowl in (cool, warm):
        bowl.loss_w_per_k = 0.0
        bowl.add_pieces(40.0, 30.0)
        waited(bowl, 120)
    assert cool.lumps_share > 2 * warm.lumps_share
    crystals = cool.crystals_share * cool.mass_g
    assert cool.lift_out_lumps() > 1
    assert cool.lumps_share == 0
    assert cool.crystals_share * cool.mass_g == pytest.approx(crystals, rel=0.01)


def set_after_s(crystals, room_c=20.0):
    blade = Blade(0.0, crystals, 0.0, False, 33.8, 31.5)
    for quarter in range(1, 6000):
        blade.step(room_c, 0.25)
        if blade.is_set:
            return quarter / 4
    return 1500.0


def test_a_tempered_film_sets_in_three_to_five_minutes() -> None:
    """Common practice, no source."""
    assert all(180 <= set_after_s(share) <= 300 for share in (0.015, 0.03, 0.05, 0.08))
    assert set_after_s(0.004) > 330
    assert set_after_s(0.15) < 180
    assert set_after_s(0.03, room_c=28.5) > 480  # in a warm kitchen


def test_the_blade_is_described_by_what_it_shows() -> None:
    blade = Blade(0.0, 0.03, 0.01, False, 33.8, 31.5)
    assert "Wet" in blade.seen()[0]
    random.seed(1)
    for _ in range(4 * 300):
        blade.step(20.0, 0.25)
    assert blade.seen() == [
        "Set: an even satin gloss, and no finger mark.",
        "Small lumps stand out of the film.",
    ]
