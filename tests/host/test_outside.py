"""Outside the window: what is recorded and what sounded are what the verdict says."""

import pytest
from chart_samples import alarm
from hypothesis import given, settings
from hypothesis import strategies as st
from test_judgement import GOOD, IN, MELTED, curve

from snapcurve.analysis.verdict import judge
from snapcurve.shown.units import seconds_words


def dips_below(*dips, to_c=29.88, until_s=2400):
    """Worked at 31 °C, from there to ``to_c`` and back within 60 s at each of ``dips``."""
    corners = [*GOOD[:-1], (1050, 31.0)]
    for at_s in dips:
        corners += [(at_s, 31.0), (at_s + 30, to_c), (at_s + 60, 31.0)]
    return (*corners, (until_s, 31.0))


def every_word(judgement):
    return " ".join((judgement.verdict, *judgement.reasons))


def test_warnings_and_recorded_seconds_are_counted():
    dips = (1200, 1500, 1800)
    warned = [alarm(at_s + 25, "too_cool", estimate_c=29.93) for at_s in dips]
    record = curve(dips_below(*dips), [MELTED, IN, *warned])
    judgement = judge(record, uncertainty_c=1.95)
    below_s = sum(value < 30.0 for value in record.temperatures_c[1000:])
    assert below_s > 15
    assert (
        "Warned three times of falling below 30 °C; lowest 29.9 °C, "
        f"{below_s} s in all, 0.1 °C below: less than this probe can tell (±2.0 °C)."
    ) in judgement.verdict
    assert f"{below_s} s in all" in judgement.signs.worked_cool.reason
    assert "never" not in every_word(judgement)
    assert "no time" not in every_word(judgement)
    facts = judgement.timeline
    assert (facts.warned_below, facts.warned_above) == (3, 0)
    assert facts.below_window_s == below_s
    assert facts.below.extreme_c == pytest.approx(29.88, abs=0.001)
    # What is known from coming in on is in it, above it, below it or hidden, and nothing else.
    assert facts.in_window_s + facts.below_window_s + facts.above_window_s == pytest.approx(
        facts.known.end_s - 980, abs=25
    )


def test_more_than_the_probe_may_be_off_by_is_said_without_an_excuse():
    dips = (1200, 1500)
    judgement = judge(curve(dips_below(*dips, to_c=29.2)), uncertainty_c=0.3)
    assert "lowest 29.2 °C" in judgement.verdict
    assert "0.8 °C below 30 °C." in judgement.verdict
    assert "It left the window without a warning; lowest" in judgement.verdict
    assert "can tell" not in judgement.verdict
    assert "can tell" not in judge(curve(dips_below(*dips))).verdict  # nobody knows how good it is


def test_a_warning_that_was_heeded_in_time_is_told_as_such():
    judgement = judge(curve(events=[MELTED, IN, alarm(1500, "too_cool", estimate_c=30.1)]))
    assert (
        "Warned once of falling below 30 °C, in time: the lowest reading is 30.9 °C."
        in judgement.verdict
    )
    assert "never left it" not in every_word(judgement)


def test_above_and_a_lost_temper_are_counted_as_well():
    corners = (*GOOD[:-1], (1500, 31.0), (1600, 34.5), (1800, 34.5), (1900, 31.0), (2400, 31.0))
    sounded = [alarm(1535, "too_warm"), alarm(1590, "temper_lost")]
    judgement = judge(curve(corners, [MELTED, IN, *sounded]), uncertainty_c=0.3)
    assert (
        "Warned once of rising above 32 °C and once that its crystals melt; highest 34.5 °C"
        in judgement.verdict
    )
    assert judgement.timeline.warned_above == 2


def test_the_seconds_of_the_way_in_are_not_out_of_it():
    """The board sees through the probe's lag: the reading itself comes in a little later."""
    judgement = judge(curve(events=[MELTED, alarm(950, "reached", "work", 31.9)]))
    assert judgement.timeline.above_window_s == 0
    assert "never left it" in judgement.verdict


def test_a_tolerance_is_printed_where_one_is_used():
    judgement = judge(curve(dips_below(1200)))
    assert judgement.signs.worked_cool.state == "not shown"
    assert "more than 0.07 °C below" in judgement.signs.worked_cool.reason
    assert "8 s" in judgement.signs.worked_cool.reason


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.floats(-1.5, 1.5), min_size=2, max_size=6),
    st.lists(st.sampled_from(["too_cool", "too_warm", "temper_lost"]), max_size=4),
    st.one_of(st.none(), st.floats(0.1, 2.0)),
)
def test_nothing_is_denied_that_is_in_the_record(offsets, sounded, uncertainty_c):
    """Never "never" where a reading lies outside or an alarm sounded, and the numbers agree."""
    corners = [*GOOD[:-1]]
    for index, offset_c in enumerate(offsets, 1):
        corners.append((1000 + 200 * index, 31.0 + offset_c))
    events = [alarm(1100 + 90 * index, name) for index, name in enumerate(sounded)]
    record = curve(tuple(corners), [MELTED, IN, *events])
    judgement = judge(record, uncertainty_c=uncertainty_c)
    facts = judgement.timeline
    since = [value for at_s, value in zip(facts.known.times_s, facts.known.recorded_c, strict=True)
             if at_s >= 1000]  # fmt: skip
    below, above = sum(v < 30 for v in since), sum(v > 32 for v in since)
    assert (facts.below_window_s, facts.above_window_s) == (below, above)
    said = every_word(judgement)
    if sounded or below or above:
        assert "never" not in said
        assert "no time" not in said
    for count, words in ((below, "below 30 °C"), (above, "above 32 °C")):
        if count:
            assert f"{seconds_words(count)} in all" in judgement.verdict
            assert words in judgement.verdict


def test_a_single_reading_that_no_bowl_could_have_is_none():
    """A bad contact for a second is no excursion, and not the batch's lowest temperature."""
    record = curve(dips_below(1500, to_c=29.5))
    record.temperatures_c[1300] = -3.05
    record.temperatures_c[1400] = 150.0
    judgement = judge(record)
    assert judgement.timeline.below.extreme_c == pytest.approx(29.5, abs=0.01)
    assert judgement.timeline.above.seconds == 0
    assert len(judgement.timeline.excursions) == 1
