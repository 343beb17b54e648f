"""Words on the chart: none over another, none over the line, none cut off."""

import itertools

import pytest
from chart_samples import HOLDING, MELTING, alarm, plain, profile, recorded
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.report.chart_content import content_of
from snapcurve.report.chart_page import (
    DEGREE_STEPS,
    DEGREE_TICKS_MAX,
    divide,
    step_for,
)
from snapcurve.report.chart_words import degrees, fill, shorten, wrap
from snapcurve.report.labels import MANY, MARKER_PT, Label, crowded, place_labels
from snapcurve.report.placement import Box, Place, Plane, Room, line_boxes
from snapcurve.report.strips import dip_row_words, phase_words
from snapcurve.shown.quantities import celsius, fahrenheit

A4_MM = (297.0, 210.0)


def measure(words: str, size: float) -> float:
    """As wide as the chart's typeface, roughly; the same on every computer."""
    return 0.62 * size * len(words)


def _box(label: Label) -> Box:
    return Box(label.x, label.y, label.x + label.width, label.y + label.height)


def _labels(content):
    page = divide(content, "A batch", "", A4_MM, measure)
    plane = Plane(page.plot_width, page.plot_height, content.end_s, *content.limits_c)
    return place_labels(content, plane, measure), plane


def _busy():
    """Twelve times out of the window within ten minutes, on a noisy line."""
    events = [alarm(30, "reached", "melt", 45.5), alarm(60, "reached", "work", 32.0)]
    for turn in range(12):
        events.append(alarm(90 + 45 * turn, "too_cool", "work", 29.9))
        events.append(alarm(105 + 45 * turn, "back", "work", 30.8))
    values = [25 + 20 * min(second, 30) / 30 for second in range(40)]
    values += [30.5 + 0.3 * ((second * 7919) % 13) / 13 for second in range(40, 640)]
    curve = plain(values, events)
    curve.profile = profile(MELTING, HOLDING)
    curve.room_c = [(0.0, 21.0), (600.0, 21.5)]
    return curve


@pytest.mark.parametrize("curve", [recorded(), _busy()], ids=["recorded", "busy"])
def test_no_label_is_over_another_or_over_the_line_or_cut_off(curve):
    content = content_of(curve)
    labels, plane = _labels(content)
    boxes = [_box(label) for label in labels.placed]
    assert len(boxes) > 6
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    for piece in content.pieces:
        for line in line_boxes(plane, piece.times_s, piece.values_c):
            assert not any(box.overlaps(line) for box in boxes)
    for marker in content.markers:
        x, y = plane.x(marker.at_s), plane.y(marker.at_c)
        shape = Box(x, y, x, y).grown(MARKER_PT)
        assert not any(box.overlaps(shape) for box in boxes)
    assert all(box.inside(plane.box()) for box in boxes)


@pytest.mark.parametrize("curve", [recorded(), _busy()], ids=["recorded", "busy"])
def test_no_leader_passes_under_other_words(curve):
    labels, _ = _labels(content_of(curve))
    for one in labels.placed:
        for other in labels.placed:
            if one.leader and other is not one:
                assert not _box(other).crossed_by(*one.leader)


@pytest.mark.parametrize("curve", [recorded(), _busy()], ids=["recorded", "busy"])
def test_every_kind_of_alarm_is_named_somewhere(curve):
    content = content_of(curve)
    labels, _ = _labels(content)
    named = {label.words.split(",")[0] for label in labels.placed}
    assert {marker.words for marker in content.markers} <= named
    assert {level.words for level in content.levels} <= named
    assert {band.words for band in content.bands} <= named


def test_an_alarm_that_came_often_is_named_once_with_its_count():
    content = content_of(_busy())
    assert crowded(content.markers) == {"too_cool": 12, "back": 12}
    assert MANY < 12
    words = [label.words for label in _labels(content)[0].placed]
    assert words.count("too cool, 12×") == 1
    assert "too cool" not in words


def test_two_of_a_kind_side_by_side_are_named_once():
    events = [alarm(300, "reached", "work", 31.0), alarm(302, "reached", "work", 31.0)]
    labels, _ = _labels(content_of(plain([30.0] * 600, events)))
    assert [label.words for label in labels.placed].count("reached") == 1
    assert labels.left_out == []


def test_without_room_a_label_is_left_out_and_said_so():
    content = content_of(plain([30.0] * 600, [alarm(300, "reached", "work", 30.0)]))
    tiny = Plane(40.0, 20.0, content.end_s, *content.limits_c)
    labels = place_labels(content, tiny, measure)
    assert [marker.words for marker in labels.left_out] == ["reached"]


@given(
    st.lists(
        st.tuples(st.floats(0, 180), st.floats(0, 90), st.floats(5, 60), st.floats(5, 20)),
        max_size=25,
    )
)
def test_taken_places_never_overlap(wishes):
    room = Room(Box(0, 0, 200, 100), solid=[Box(90, 40, 110, 60)])
    for left, bottom, width, height in wishes:
        places = [Place(left, bottom), Place(left / 2, bottom), Place(left, bottom / 2)]
        room.take(places, width, height)
    for one, other in itertools.combinations(room.labels, 2):
        assert not one.overlaps(other)
    for box in room.labels:
        assert box.inside(room.plot)
        assert not box.overlaps(room.solid[0])


def test_soft_things_are_covered_only_on_demand():
    room = Room(Box(0, 0, 100, 20), soft=[Box(0, 0, 50, 20)])
    covering, clear = Place(5, 2), Place(60, 2)
    assert room.take([covering, clear], 30, 10) == clear
    assert room.take([covering], 30, 10, over_soft=False) is None
    assert room.take([covering], 30, 10) == covering


def test_crossed_by():
    box = Box(10, 10, 20, 20)
    assert box.crossed_by(0, 15, 30, 15)
    assert box.crossed_by(15, 15, 16, 16)
    assert box.crossed_by(5, 5, 25, 25)
    assert not box.crossed_by(0, 25, 30, 25)
    assert not box.crossed_by(0, 15, 9, 15)
    assert not box.crossed_by(0, 20, 25, -15)


def test_line_boxes_cover_the_line():
    plane = Plane(100.0, 50.0, 10.0, 0.0, 10.0)
    times, values = [0.0, 1.0, 2.0, 10.0], [5.0, 9.0, 1.0, 2.0]
    boxes = line_boxes(plane, times, values)
    for part in range(101):
        at_s = part / 10
        index = min(sum(at_s >= time for time in times[1:]), len(times) - 2)
        share = (at_s - times[index]) / (times[index + 1] - times[index])
        value = values[index] + share * (values[index + 1] - values[index])
        x, y = plane.x(at_s), plane.y(value)
        dot = Box(x - 0.01, y - 0.01, x + 0.01, y + 0.01)
        assert any(dot.overlaps(box) for box in boxes), at_s
    assert len(line_boxes(plane, [3.0], [5.0])) == 1


def test_fahrenheit_is_exact():
    # The scale's definition: ice 32 °F, steam 212 °F, and both scales meet at -40.
    assert (fahrenheit(0), fahrenheit(100), fahrenheit(-40)) == (32, 212, -40)
    assert (celsius(32), celsius(212), celsius(-40)) == (0, 100, -40)


@given(st.floats(1, 400))
def test_degree_steps_give_a_readable_number_of_ticks(span):
    step = step_for(span, DEGREE_STEPS, DEGREE_TICKS_MAX)
    assert span / step <= DEGREE_TICKS_MAX
    assert span / step > 2 or step == DEGREE_STEPS[0]


def test_step_for_spans_beyond_the_table():
    assert step_for(10_000, (1, 2), 10) == 1000


def test_the_page_leaves_most_of_its_height_to_the_plot():
    content = content_of(recorded())
    page = divide(content, "Long title " * 40, "long subtitle " * 40, A4_MM, measure)
    assert [row.name for row in page.rows] == ["phase", "probe out", "dip test"]
    assert (len(page.title), len(page.subtitle)) == (2, 2)
    assert page.plot_height > 0.45 * page.height
    assert page.caption[-1][1] > 10
    heights = [y for _, y in page.title + page.subtitle] + [row.bottom for row in page.rows]
    assert heights == sorted(heights, reverse=True)
    assert page.rows[-1].bottom >= page.plot_bottom + page.plot_height


def test_phase_names_fit_their_blocks_or_stand_above_side_by_side():
    content = content_of(recorded())
    wide = phase_words(content.phases, content.end_s, 640.0, measure)
    assert wide[0].words == "melt, 7 min"
    assert not any(word.above for word in wide)
    narrow = phase_words(content.phases, content.end_s, 60.0, measure)
    above = [word for word in narrow if word.above]
    assert len(above) >= 3
    for one, other in itertools.pairwise(above):
        assert one.x + one.width < other.x


def test_dip_test_words_do_not_overlap():
    for width in (900.0, 640.0, 200.0, 60.0):
        words = sorted(dip_row_words(content_of(recorded()), width, measure), key=lambda w: w.x)
        for one, other in itertools.pairwise(words):
            assert one.x + one.width < other.x


@given(st.text(max_size=200), st.floats(40, 400))
def test_wrapped_lines_fit(text, width):
    lines = wrap(text, width, 11.0, measure)
    assert len(lines) <= 2
    assert all(measure(line, 11.0) <= width for line in lines)


def test_shorten_and_fill():
    assert shorten("couverture", 1000, 11, measure) == "couverture"
    assert shorten("couverture", measure("couve…", 11), 11, measure) == "couve…"
    assert fill(["a", "b", "cc"], " · ", measure("a · b", 11), 11, measure) == ["a · b", "cc"]


@pytest.mark.parametrize(
    ("value", "text"),
    [(30.0, "30"), (31.25, "31.2"), (-0.04, "0"), (-4.5, "−4.5"), (100.0, "100")],
)
def test_degrees(value, text):
    assert degrees(value) == text
