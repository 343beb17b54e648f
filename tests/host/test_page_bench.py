"""What the bench screen says of a board at a moment, and when it stops believing it."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_board import reading, standing

from snapcurve.board.client import _reading
from snapcurve.page import bench_words, trail
from snapcurve.page.bench_screen import parts, screen
from snapcurve.page.standing import ACTIONS, OLD_S, Dip, Heard, Standing
from snapcurve.shown.units import PLAIN, Style
from snapcurve.wire import catalogue

NOW_S = 100.0


def said(found: Standing, now_s: float = NOW_S, style: Style = PLAIN) -> dict[str, str]:
    """The parts of the first bench as plain words."""
    shown = parts(1, found, now_s, style)
    return {name[2:]: re.sub(r"<[^>]+>", "", html).strip() for name, html in shown.items()}


def test_a_good_reading_is_shown_with_its_uncertainty_phase_and_next_step():
    found = said(standing(minutes=(3, 6)))
    assert found["figure"] == "31.1"
    assert found["unit"] == "°C ±2.0"  # 1.93 rounded up, as the command line has it
    assert found["condition"] == "● in the chocolate"
    assert found["phase"] == "Milk couverture, seeding: work"
    assert found["next"].startswith("In the window: dip a blade")
    assert found["minutes"] == "Leaves the window in 3 min at the soonest, at this pace"


@pytest.mark.parametrize(
    ("change", "condition", "words", "figure"),
    [
        ({"place": "air"}, "out", "○ probe out", "31.2"),
        ({"place": "entering"}, "settling", "◐ settling", "31.2"),
        ({"indicated_c": None, "faults": ["open"]}, "fault", "✕ no reading: probe fault", "–"),
        ({"indicated_c": None}, "waiting", "◌ waiting for a reading", "–"),
    ],
)
def test_each_condition_has_its_own_mark_words_and_class(change, condition, words, figure):
    found = standing(reading=replace(reading(), **change))
    assert found.condition(NOW_S) == condition
    assert (said(found)["condition"], said(found)["figure"]) == (words, figure)
    assert f"figure {condition}" in parts(1, found, NOW_S, PLAIN)["1.figure"]


def test_no_two_conditions_share_words_or_both_mark_and_class():
    words = [word for _, word in bench_words.CONDITIONS.values()]
    assert len(set(words)) == len(words)
    # The two that strike the number out look alike and say different things.
    marks = [mark for mark, _ in bench_words.CONDITIONS.values()]
    assert len(set(marks)) == len(marks) - 1


def test_an_old_reading_is_never_shown_as_new():
    """Neither sentence is the page's own word for having lost snapcurve."""
    found = standing()
    assert found.condition(NOW_S + OLD_S) == "good"
    late = said(found, NOW_S + 7)
    assert late["condition"] == "▲ the board is silent: this reading is 7 s old"
    assert late["next"] == "Check the cable. The reading comes back by itself."
    assert late["minutes"] == ""
    assert OLD_S < 3


def test_a_lost_board_says_why_and_a_lent_one_to_what():
    assert said(standing(link="seeking", why="No board is attached."))["next"] == (
        "No board is attached."
    )
    lent = said(standing(link="lent", why="The curve is collected."))
    assert (lent["figure"], lent["next"]) == ("–", "The curve is collected.")


def test_fahrenheit_comma_and_a_long_number():
    style = Style(fahrenheit=True, decimal_comma=True)
    hot = standing(reading=reading(estimate_c=45.0))
    found = said(hot, style=style)
    assert (found["figure"], found["unit"]) == ("113,0", "°F ±3,5")
    assert "long" in parts(1, hot, NOW_S, style)["1.figure"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"phase": "melt", "state": "approach", "estimate_c": 40.0},
            "Warm to 45 °C, stirring; probe out before each burst in the oven.",
        ),
        (
            {"phase": "melt", "state": "near", "estimate_c": 44.5, "rate_c_per_min": 2.0},
            "Nearly 45 °C: stop heating, go on stirring.",
        ),
        (
            {"phase": "melt", "state": "near", "estimate_c": 44.5, "rate_c_per_min": -1.0},
            "Nearly 45 °C, and it stands: probe out, one more short burst, then stir.",
        ),
        (
            {"state": "near", "estimate_c": 32.5},
            "Nearly at 30 to 32 °C, and it stands: a few more pieces, stirring.",
        ),
        ({"state": "approach", "estimate_c": 40.0}, "Stir in pieces and cool to 30 to 32 °C."),
        (
            {"state": "near", "rate_c_per_min": -1.0},
            "Nearly there: add no more pieces, go on stirring.",
        ),
        ({"state": "approach", "estimate_c": 28.0}, "Warm gently to 30 to 32 °C, stirring."),
        ({"state": "too_warm"}, bench_words.OUTSIDE["too_warm"]),
        ({"state": "too_cool"}, bench_words.OUTSIDE["too_cool"]),
        ({"estimate_c": 51.0}, "Too hot for this couverture: stop heating and stir."),
        ({"curve": 0}, "Leave the probe in: the recording begins by itself."),
        (
            {"place": "air", "phase": "melt"},
            "After the burst: stir, probe in, read. It never goes into the oven.",
        ),
        ({"place": "air"}, "Put the probe back: no alarm about the chocolate until then."),
    ],
)
def test_the_next_step_fits_the_moment(change, words):
    assert said(standing(reading=replace(reading(), **change)))["next"] == words


def test_after_its_end_no_recording_begins_while_the_probe_stays_in():
    ended = standing(reading=replace(reading(), curve=0), heard=Heard("stopped", 1000, 1))
    assert said(ended)["next"].startswith("The recording has ended: collect it.")


def test_every_reading_the_wire_can_bring_has_a_next_step():
    for place in catalogue.PLACES:
        for phase in catalogue.PHASE_KINDS:
            for state in catalogue.ENGINE_STATES:
                for curve in (0, 1):
                    found = reading(place=place, phase=phase, state=state, curve=curve)
                    words = bench_words.next_step(standing(reading=found), NOW_S, PLAIN)
                    assert words.endswith((".", "?"))
                    assert len(words) < 130


def test_the_clock_of_the_dip_test_and_its_buttons():
    def at(seconds, **change):
        """So long after a dip."""
        return standing(reading=reading(**change), dip=Dip(600_000 - seconds * 1000))

    assert standing().actions() == ("dip_test",)
    assert at(80).actions() == ("set_early",)
    assert said(at(80))["dip"] == "Blade dipped 1:20 ago, due at 5:00"
    assert said(at(80))["next"] == "Leave the blade alone; look at it at 3:00."
    assert at(200).actions() == at(310).actions() == ("passed", "failed")
    assert said(at(310))["next"] == "Touch the blade: has it set evenly, without mark or streaks?"
    assert at(16 * 60).actions() == ("dip_test",)  # nobody answered
    assert at(80, state="too_warm").actions() == ("set_early",)
    assert said(at(80, state="too_warm"))["next"] == bench_words.OUTSIDE["too_warm"]


def test_buttons_fit_the_moment_and_are_three_at_most():
    assert standing(reading=reading(curve=0)).actions() == ()
    assert standing(reading=reading(state="approach")).actions() == ()
    assert standing(link="seeking").actions() == ()
    urgent = Heard("too_warm", 595_000, 4)
    loud = standing(reading=reading(state="too_warm"), heard=urgent)
    assert loud.actions() == ("silence", "dip_test")
    assert replace(loud, silenced_ms=596_000).actions() == ("dip_test",)
    assert replace(loud, dip=Dip(600_000 - 310_000)).actions() == ("silence", "passed", "failed")
    assert replace(loud, heard=Heard("reached", 595_000, 4)).actions() == ("dip_test",)
    assert set(ACTIONS) <= set(catalogue.MARKS)


@pytest.mark.parametrize(("result", "showed"), [("failed", "mark"), ("set_early", "early")])
def test_after_a_bad_blade_the_way_to_the_remedy_is_there(result, showed):
    found = parts(1, standing(dip=Dip(500_000, result)), NOW_S, PLAIN)["1.acts"]
    assert f'href="/before/rescue?showed={showed}"' in found
    assert "rescue" not in parts(1, standing(dip=Dip(500_000, "passed")), NOW_S, PLAIN)["1.acts"]


RANGES = {"h": (-(2**15), 2**15 - 1), "H": (0, 2**16 - 1), "I": (0, 2**32 - 1), "B": (0, 255)}
ANY_READING = st.fixed_dictionaries(
    {
        row[0]: st.sampled_from(row[2]) if len(row) == 3 else st.integers(*RANGES[row[1]])
        for row in catalogue.READING
    }
)


@given(ANY_READING, st.integers(0, 2**32), st.booleans())
def test_no_reading_that_a_hostile_board_can_send_breaks_the_screen(values, dipped_ms, fahrenheit):
    found = standing(reading=_reading(values), dip=Dip(dipped_ms))
    shown = parts(1, found, NOW_S, Style(fahrenheit=fahrenheit))
    assert shown["1.next"]
    assert len(shown["1.figure"]) < 120
    assert len(found.actions()) <= 3


@given(st.text(max_size=40), st.text(max_size=80))
def test_nothing_from_board_or_person_becomes_markup(name, why):
    profile = replace(standing().profile, couverture=f"<script>{name}\x1b[31m")
    shown = parts(1, standing(profile=profile), NOW_S, PLAIN)
    shown |= parts(
        2, standing(port=f'"><b>{why}', link="seeking", why=f"<img>{why}"), NOW_S, PLAIN
    )
    whole = screen(1, shown, [(2, f'"><b>{why}')])
    assert "<script" not in whole
    assert "<img" not in whole
    assert "<b>" not in whole
    assert all(one.isprintable() for one in whole)


# --- the curve -----------------------------------------------------------------------------


def test_a_whole_batch_of_readings_stays_within_bounds_and_two_points_a_column():
    """Four hours at ten readings a second."""
    kept = trail.Trail()
    for tenth in range(144_000):
        kept.add(tenth / 10, 31 + (tenth % 97) / 50)
    assert len(kept.points) < trail.POINTS_MOST
    frame = trail.frame_of(kept.points, None)
    line = trail.path(kept.points, frame)
    assert len(re.findall("[ML]", line)) <= 2 * trail.COLUMNS + 2
    assert line.count("M") == 1


def test_no_line_is_drawn_over_a_gap_and_none_where_nothing_was_read():
    points = [(0.0, 30.0), (2.0, 30.1), (100.0, 31.0), (102.0, None), (104.0, 31.2)]
    line = trail.path(points, trail.frame_of(points, None))
    assert line.count("M") == 3


def test_the_extremes_of_a_column_survive():
    points = [(float(s), 31.0) for s in range(0, 9000, 2)]
    points[1234] = (2468.0, 55.0)
    frame = trail.frame_of(points, None)
    assert f"{frame.x(2468.0):.1f} {frame.y(55.0):.1f}" in trail.path(points, frame)


@given(
    st.lists(st.tuples(st.floats(0, 40_000), st.none() | st.floats(-50, 300)), max_size=60).map(
        lambda rows: sorted(rows, key=lambda row: row[0])
    )
)
def test_every_point_lies_inside_the_picture(points):
    drawn = trail.picture(points, standing().profile, PLAIN)
    found = re.search(r' d="([^"]*)"', drawn)
    assert found is not None
    numbers = [float(one) for one in re.findall(r"-?[\d.]+", found[1])]
    assert all(-0.1 <= x <= trail.WIDTH + 0.1 for x in numbers[::2])
    assert all(-0.1 <= y <= trail.HEIGHT + 0.1 for y in numbers[1::2])
    assert "window 30 to 32 °C" in drawn


def test_a_board_that_starts_anew_begins_a_new_line():
    kept = trail.Trail()
    kept.add(500.0, 31.0)
    kept.add(3.0, 30.0)
    assert kept.points == [(3.0, 30.0)]


def test_after_the_end_it_says_to_collect_and_afterwards_that_it_is_collected():
    """The button stands where the blade's stood, until nothing is left on the board."""
    ended = {"heard": Heard("stopped", 590_000, 1), "reading": reading(curve=0, state="approach")}
    shown = said(standing(**ended))
    assert shown["next"].startswith("The recording has ended: collect it.")
    assert "Collect the batch" in shown["acts"]
    out = said(standing(**{**ended, "reading": reading(curve=0, place="air")}))
    assert out["next"] == "The recording has ended: collect it. Probe in begins a new one."
    done = said(standing(**ended, collected=True))
    assert done["next"] == "The batch is collected. Probe out, later in, begins a new one."
    assert "Collect" not in done["acts"]
    new = said(standing(heard=Heard("stopped", 590_000, 1)))
    assert "Collect" not in new["acts"]  # another recording runs


def test_out_of_the_window_no_end_is_foretold():
    soon = said(standing(minutes=(0, 1)))["minutes"]
    assert soon == "May leave the window within a minute, at this pace"
    there = said(standing(minutes=(2, 7), reading=reading(state="approach")))["minutes"]
    assert there == "There in 2 to 7 min, at this pace"
