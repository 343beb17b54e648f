"""The judgement of curves put together by hand, each with one thing to see."""

import itertools

import pytest
from chart_samples import COOLING, HOLDING, MELTING, alarm, fault, mark, profile

from snapcurve.analysis.complaints import complaints, find
from snapcurve.analysis.signs import Signs
from snapcurve.analysis.verdict import judge
from snapcurve.errors import SnapcurveError
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.recording.dip_tests import BladeResult

SEEDING = profile(MELTING, HOLDING)  # 45 °C, window 30 to 32, never above 50


def ramp(*corners):
    """One value a second through (second, °C) corners."""
    values = []
    for (start_s, from_c), (end_s, to_c) in itertools.pairwise(corners):
        for second in range(start_s, end_s):
            values.append(from_c + (to_c - from_c) * (second - start_s) / (end_s - start_s))
    return values


GOOD = ((0, 30.0), (300, 45.5), (400, 45.5), (1000, 31.2), (2400, 30.9))
MELTED, IN = alarm(300, "reached", "melt", 45.0), alarm(980, "reached", "work", 31.7)


def curve(corners=GOOD, events=(MELTED, IN), raw=SEEDING, holes=(), **more):
    values = ramp(*corners)
    for start_s, end_s in holes:
        values[start_s:end_s] = [None] * (end_s - start_s)
    times = [float(second) for second in range(len(values))]
    return Curve(
        profile=raw,
        times_s=times,
        temperatures_c=values,
        events=list(events),
        end_reason="button",
        **more,
    )


def states(judgement):
    return {name: sign.state for name, sign in judgement.signs._asdict().items()}


TEST = [mark(1100, "dip_test"), alarm(1400, "test_due")]


def test_a_temperature_alone_proves_nothing():
    judgement = judge(curve())
    assert judgement.proved is None
    assert judgement.verdict.startswith("Temper not proved, no dip test")
    assert "in the window" in judgement.verdict
    assert "never left it" in judgement.verdict
    assert states(judgement) == dict.fromkeys(Signs._fields, "not shown") | {"unproved": "shown"}


@pytest.mark.parametrize(
    ("passed", "proved", "words"),
    [
        (None, None, "was not noted"),
        (True, True, "proved by the test blade"),
        (False, False, "the test blade failed"),
    ],
)
def test_only_a_test_blade_with_a_result_proves(passed, proved, words):
    blades = [] if passed is None else [BladeResult(1100, passed)]
    judgement = judge(curve(events=[MELTED, IN, *TEST]), blades)
    assert judgement.proved is proved
    assert words in judgement.verdict
    (test,) = judgement.timeline.dip_tests
    assert (test.in_window, test.waited) == (True, True)
    assert test.chocolate_c == pytest.approx(31.2, abs=0.05)


@pytest.mark.parametrize(
    ("marks", "proved", "words"),
    [
        (["passed"], True, "In temper, proved by the test blade"),
        (["failed"], False, "the test blade failed"),
        (["set_early"], False, "the test blade failed"),
        (["failed", "passed"], True, "In temper"),
        (["passed", "failed"], False, "Not in temper"),
        (["failed", "dip_test", "passed"], True, "In temper"),
        (["passed", "dip_test"], True, "In temper"),
    ],
)
def test_what_was_told_to_the_board_counts_and_the_newest_most(marks, proved, words):
    told = [mark(1420 + 60 * index, name) for index, name in enumerate(marks)]
    judgement = judge(curve(events=[MELTED, IN, *TEST, *told]))
    assert judgement.proved is proved
    assert words in judgement.verdict


THREE = [("failed", 1), ("set_early", 2), ("passed", 3)]


@pytest.mark.parametrize("order", list(itertools.permutations(THREE)))
def test_each_dip_has_its_own_result_in_whatever_order_they_are_told(order):
    dips = [mark(1100 + 300 * index, "dip_test", index + 1) for index in range(3)]
    told = [mark(2100 + 20 * index, name, number) for index, (name, number) in enumerate(order)]
    judgement = judge(curve(events=[MELTED, IN, *dips, *told]))
    tests = judgement.timeline.dip_tests
    assert [test.number for test in tests] == [1, 2, 3]
    assert [test.result.passed for test in tests] == [False, False, True]
    assert [test.result.detail for test in tests] == ["marked", "set too soon", ""]
    assert judgement.proved is True
    first, second, third = judgement.blades
    assert first.startswith("Test blade 1 was dipped at 18 min")
    assert first.endswith("it failed: marked.")
    assert second.endswith("it failed: set too soon.")
    assert third.endswith("it passed.")


def test_a_newer_result_of_one_dip_replaces_the_older_of_that_dip_alone():
    dips = [mark(1100, "dip_test", 1), mark(1400, "dip_test", 2)]
    told = [mark(1700, "failed", 1), mark(1710, "failed", 2), mark(1720, "passed", 1)]
    tests = judge(curve(events=[MELTED, IN, *dips, *told])).timeline.dip_tests
    assert [test.result.passed for test in tests] == [True, False]


def test_the_result_of_a_dip_whose_mark_is_lost_is_not_another_dips():
    events = [MELTED, IN, mark(1100, "dip_test", 1), mark(1900, "failed", 2)]
    (test,) = judge(curve(events=events)).timeline.dip_tests
    assert test.result is None


def test_a_result_says_how_it_failed():
    judgement = judge(curve(events=[MELTED, IN, *TEST, mark(1420, "set_early")]))
    assert "set too soon" in judgement.signs.unproved.reason


def test_what_the_person_says_later_counts_before_what_was_told_to_the_board():
    events = [MELTED, IN, *TEST, mark(1420, "passed")]
    assert judge(curve(events=events), [BladeResult(1100, False)]).proved is False


def test_a_result_without_a_dip_proves_nothing():
    judgement = judge(curve(events=[MELTED, IN, mark(1420, "passed")]))
    assert judgement.proved is None
    assert "no dip test" in judgement.verdict


def test_a_blade_that_was_not_waited_for():
    judgement = judge(curve(events=[MELTED, IN, mark(1100, "dip_test")]))
    assert "not waited for" in judgement.verdict


def test_a_pass_counts_no_more_once_it_went_above_the_window():
    corners = (*GOOD[:-1], (1500, 31.0), (1600, 34.5), (1800, 34.5), (1900, 31.0), (2400, 31.0))
    judgement = judge(curve(corners, [MELTED, IN, *TEST]), [BladeResult(1100, True)])
    assert judgement.proved is None
    assert "not proved any more" in judgement.verdict
    sign = judgement.signs.worked_warm
    assert sign.state == "shown"
    assert "34.5 °C" in sign.reason
    (run,) = judgement.timeline.excursions
    assert run.above
    assert run.end_s - run.start_s == pytest.approx(336, abs=6)
    # 200 s at 34.5 °C, and above 32 °C for 2.5 of the 3.5 °C of each ramp of 100 s.
    assert judgement.timeline.above_window_s == pytest.approx(200 + 2 * 100 * 2.5 / 3.5, abs=2)


def test_never_melted_through():
    judgement = judge(curve(((0, 30.0), (300, 38.0), (1000, 31.0), (1500, 31.0)), []))
    assert judgement.verdict == "Not in temper: the record does not show it melted through."
    assert judgement.signs.not_melted.state == "shown"
    assert "38 °C" in judgement.signs.not_melted.reason


def test_where_a_fault_could_hide_the_melting_it_is_uncertain():
    corners = ((0, 30.0), (300, 38.0), (500, 38.0), (1000, 31.0), (1500, 31.0))
    events = [fault(200, "open"), alarm(200, "probe_fault", "melt")]
    judgement = judge(curve(corners, events, holes=[(200, 450)]))
    assert judgement.signs.not_melted.state == "uncertain"
    assert judgement.signs.scorched.state == "uncertain"


def test_scorched():
    corners = ((0, 30.0), (300, 53.0), (400, 53.0), (1000, 31.2), (2400, 30.9))
    judgement = judge(curve(corners))
    assert judgement.verdict.startswith("Too hot")
    assert "53 °C" in judgement.signs.scorched.reason


def test_how_it_came_down():
    corners = (
        (0, 30.0),
        (300, 45.5),
        (400, 45.5),
        (520, 28.0),
        (600, 28.0),
        (700, 31.0),
        (1500, 31.0),
    )
    judgement = judge(curve(corners, [MELTED, alarm(690, "reached", "work", 30.8)]))
    facts = judgement.timeline
    # 17.5 °C in two minutes.
    assert facts.steepest_c_per_min == pytest.approx(8.75, abs=0.1)
    assert facts.lowest_before_c == pytest.approx(28.0, abs=0.05)
    assert states(judgement)["undercut"] == "shown"
    assert states(judgement)["fell_fast"] == "shown"
    assert "8.8 °C/min" in judgement.signs.fell_fast.reason


def test_three_steps_go_below_the_window_and_are_not_blamed_for_it():
    rewarm = {**MELTING, "kind": "rewarm", "target_centi_c": 3060}
    raw = profile(MELTING, COOLING, rewarm, HOLDING, method="three-step")
    corners = ((0, 30.0), (300, 45.5), (900, 27.4), (1000, 27.4), (1200, 31.0), (2000, 31.0))
    events = [
        MELTED,
        alarm(880, "reached", "cool", 27.5),
        alarm(1001, "dwell_done", "cool"),
        alarm(1180, "reached", "rewarm", 30.6),
        alarm(1190, "reached", "work", 30.8),
    ]
    assert states(judge(curve(corners, events, raw)))["undercut"] == "not shown"
    deep = tuple((second, 26.0 if value == 27.4 else value) for second, value in corners)
    assert states(judge(curve(deep, events, raw)))["undercut"] == "shown"


def test_a_probe_taken_out_is_no_cooling():
    # Out for three minutes: the reading runs to the room and back.
    corners = (*GOOD[:-1], (1200, 31.1), (1290, 23.0), (1380, 23.0), (1390, 31.0), (2400, 30.9))
    events = [MELTED, IN, alarm(1206, "probe_out"), alarm(1386, "probe_in")]
    judgement = judge(curve(corners, events))
    assert judgement.timeline.excursions == []
    assert judgement.timeline.below_window_s == 0
    assert 170 < judgement.timeline.work_hidden_s < 230
    assert judgement.signs.worked_cool.state == "uncertain"
    assert any("uncertain, and counted neither" in reason for reason in judgement.reasons)
    # The same course without the board's word for it is the chocolate's.
    assert judge(curve(corners)).signs.worked_cool.state == "shown"


def test_a_gap_is_neither_in_nor_out():
    judgement = judge(curve(holes=[(1300, 1700)]))
    facts = judgement.timeline
    assert facts.work_hidden_s == pytest.approx(420, abs=3)  # the gap and the settling after it
    assert facts.in_window_s + facts.work_hidden_s == pytest.approx(2400 - 980, abs=5)
    assert judgement.signs.worked_warm.state == "uncertain"
    assert "not seen to leave it" in judgement.verdict


def test_held_long():
    judgement = judge(curve((*GOOD[:-1], (6000, 31.0))))
    assert judgement.signs.held_long.state == "shown"


def test_records_that_cannot_be_judged():
    assert "no profile" in judge(curve(raw=b"")).verdict
    assert "no profile" in judge(curve(raw=b"rubbish")).verdict
    assert "no settled reading" in judge(Curve(profile=SEEDING)).verdict
    nothing = judge(curve(holes=[(0, 2400)]))
    assert nothing.timeline.peak_c is None
    assert nothing.proved is None


def test_times_are_the_clocks_where_it_is_known():
    unix_ms = 1_795_500_000_000  # 2026-11-24T06:00:00Z
    judgement = judge(curve(), clock=Clock(unix_ms, 60))
    assert "at 07:05 (5 min in)" in judgement.signs.not_melted.reason
    assert "at 5 min" in judge(curve()).signs.not_melted.reason


def test_an_untrusted_probe_and_a_lost_end_are_said():
    judgement = judge(curve(lost_blocks=2), uncertainty_c=1.4)
    assert any("off by ±1.4 °C" in caution for caution in judgement.cautions)
    assert any("2 blocks" in caution for caution in judgement.cautions)
    assert not any("off by" in text for text in judge(curve(), uncertainty_c=0.3).cautions)
    # Rounded up, as the calibration's own figure beside it.
    assert any("off by ±2.0 °C" in text for text in judge(curve(), uncertainty_c=1.91).cautions)


# --- complaints -----------------------------------------------------------------------


def test_the_table_of_complaints():
    wanted = ["bloom", "dull", "streaks", "soft-snap", "stuck", "thick", "grainy", "finger-marks"]
    assert list(complaints()) == wanted
    for complaint in complaints().values():
        assert complaint.looks
        assert any(cause.sign is None for cause in complaint.causes), "no curve knows it all"
        for cause in complaint.causes:
            assert cause.check
            assert cause.source
            assert cause.sign is None or cause.sign in Signs._fields
    used = {cause.sign for one in complaints().values() for cause in one.causes}
    assert used - {None} == set(Signs._fields)


@pytest.mark.parametrize("id_", list(complaints()))
def test_each_complaint_has_an_answer_for_each_cause(id_):
    judgement = judge(curve())
    answers = judgement.about(complaints()[id_])
    assert len(answers) == len(complaints()[id_].causes)
    assert {answer.state for answer in answers} <= {
        "shown",
        "uncertain",
        "cannot say",
        "not shown",
    }
    assert all(answer.reason.endswith((".", ")")) for answer in answers)


def test_what_is_shown_comes_first():
    corners = (*GOOD[:-1], (1500, 31.0), (1600, 35.0), (2400, 35.0))
    first = judge(curve(corners, [MELTED, IN, *TEST])).about(find("bloom"))[0]
    assert first.cause.sign == "worked_warm"
    assert first.state == "shown"


def test_an_unknown_complaint_gets_a_suggestion():
    assert find("Finger marks").id == "finger-marks"
    with pytest.raises(SnapcurveError, match=r"did you mean bloom"):
        find("blom")


@pytest.mark.parametrize("in_window_s", [5, 90])
def test_what_falls_through_the_window_has_not_come_into_it(in_window_s):
    """Nothing sounded. Through it within seconds, minutes below, then warmed into it: only there
    it is in its window. Had it stayed for a minute and a half, it would be from there on."""
    values = [45.5] * 60 + [31.0] * in_window_s + [26.0] * 200 + [31.0] * 300
    curve = Curve(
        profile=SEEDING,
        times_s=[float(second) for second in range(len(values))],
        temperatures_c=values,
        events=[alarm(40, "reached", "melt", 45.0)],
        end_reason="button",
    )
    entered_s = judge(curve).timeline.entered_s
    assert entered_s == pytest.approx(60 if in_window_s > 60 else 60 + in_window_s + 200, abs=10)
