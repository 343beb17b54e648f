"""Words on the chart: none over another, none over the line, none cut off."""

import itertools

import pytest
from chart_samples import HOLDING, MELTING, alarm, plain, profile, recorded
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure

from snapcurve.recording.timeline import timeline_of
from snapcurve.report import chart_content
from snapcurve.report.batch_chart import draw_batch
from snapcurve.report.chart_labels import (
    HEIGHT_PT,
    MANY,
    MARKER_PT,
    Box,
    Plane,
    Room,
    Spot,
    crowded,
    dip_words,
    line_boxes,
    phase_words,
    place_labels,
)
from snapcurve.report.chart_page import LEFT_PT, RIGHT_PT, fill, measure, scale_degrees, shorten
from snapcurve.shown.units import PLAIN, Style, celsius, fahrenheit

A4_MM = (297.0, 210.0)


def content_of(curve):
    return chart_content.content_of(timeline_of(curve), "", PLAIN)


def _labels(content):
    page = draw_batch(content, "A batch", A4_MM, PLAIN)
    plane = Plane(page.width, page.height, content.line.end_s, *content.limits_c)
    return place_labels(content, plane), plane


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
    boxes = [label.box for label in labels]
    assert len(boxes) > 6
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    for piece in content.line.pieces:
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
    for one in labels:
        for other in labels:
            if one.leader and other is not one:
                assert not other.box.crossed_by(*one.leader)


@pytest.mark.parametrize("curve", [recorded(), _busy()], ids=["recorded", "busy"])
def test_every_kind_of_alarm_is_named_somewhere(curve):
    content = content_of(curve)
    labels, _ = _labels(content)
    named = {label.words.split(",")[0] for label in labels}
    assert {marker.words for marker in content.markers} <= named
    assert {level.words for level in content.levels} <= named
    assert {band.words for band in content.bands} <= named


def test_an_alarm_that_came_often_is_named_once_with_its_count():
    content = content_of(_busy())
    assert crowded(content.markers) == {"too_cool": 12, "back": 12}
    assert MANY < 12
    words = [label.words for label in _labels(content)[0]]
    assert words.count("too cool, 12×") == 1
    assert "too cool" not in words


def test_two_of_a_kind_side_by_side_are_named_once():
    events = [alarm(300, "reached", "work", 31.0), alarm(302, "reached", "work", 31.0)]
    labels, _ = _labels(content_of(plain([30.0] * 600, events)))
    assert [label.words for label in labels].count("reached") == 1


def test_without_room_a_label_is_left_out():
    content = content_of(plain([30.0] * 600, [alarm(300, "reached", "work", 30.0)]))
    tiny = Plane(40.0, 20.0, content.line.end_s, *content.limits_c)
    labels = place_labels(content, tiny)
    assert "reached" not in [label.words for label in labels]


@given(
    st.lists(
        st.tuples(st.floats(0, 180), st.floats(0, 90), st.integers(1, 9)),
        max_size=25,
    )
)
def test_taken_spots_never_overlap(wishes):
    room = Room(Box(0, 0, 200, 100), solid=[Box(90, 40, 110, 60)])
    for left, bottom, letters in wishes:
        spots = [Spot(left, bottom), Spot(left / 2, bottom), Spot(left, bottom / 2)]
        room.take("n" * letters, spots)
    boxes = [label.box for label in room.labels]
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    for box in boxes:
        assert box.inside(room.plot)
        assert not box.overlaps(room.solid[0])


def test_soft_things_are_covered_only_on_demand():
    room = Room(Box(0, 0, 100, 20), soft=[Box(0, 0, 50, 20)])
    covering, clear = Spot(5, 2), Spot(60, 2)
    assert room.take("in", [covering, clear])
    assert not room.take("in", [covering], over_soft=False)
    assert room.take("in", [covering])
    assert [label.box.left for label in room.labels] == [60, 5]
    assert room.labels[0].box.top == 2 + HEIGHT_PT


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


@pytest.mark.parametrize("style", [PLAIN, Style(fahrenheit=True)])
@given(low_c=st.floats(-20, 60), span_c=st.floats(2, 300))
def test_ticks_stand_at_a_readable_number_of_round_temperatures(style, low_c, span_c):
    axis = Figure().add_subplot().yaxis
    scale_degrees(axis, low_c, low_c + span_c, style)
    shown = [float(text) for text in axis.get_major_formatter().seq]
    at_c = list(axis.get_major_locator().locs)
    assert 2 < len(shown) <= 11
    steps = [after - before for before, after in itertools.pairwise(shown)]
    assert steps == pytest.approx([steps[0]] * len(steps), abs=1e-6)
    assert all(low_c - 1e-6 <= one <= low_c + span_c + 1e-6 for one in at_c)
    for one, number in zip(at_c, shown, strict=True):
        assert (fahrenheit(one) if style.fahrenheit else one) == pytest.approx(number, abs=1e-6)


def test_the_page_leaves_most_of_its_height_to_the_plot():
    content = content_of(recorded())
    content.caption.append("long caption " * 15)
    page = draw_batch(content, "Long title " * 40, A4_MM, PLAIN)
    words = [(text.get_text(), text.get_position()) for text in page.figure.texts]
    titles = [place for text, place in words if text.startswith("Long title")]
    assert len(titles) == 2
    assert titles[1][1] < titles[0][1] < 1
    high = page.figure.get_figheight() * 72
    assert page.height > 0.45 * high
    strips = [place[1] for text, place in words if text in ("phase", "probe out", "dip test")]
    assert strips == sorted(strips, reverse=True)
    assert len(strips) == 3
    assert titles[1][1] > strips[0]
    assert strips[-1] * high > page.bottom + page.height
    captions = [place[1] for text, place in words if "caption" in text]
    assert len(captions) == 2
    assert all(10 < y * high < page.bottom for y in captions)
    assert page.width == pytest.approx(297 / 25.4 * 72 - LEFT_PT - RIGHT_PT)


def test_phase_names_fit_their_blocks_or_stand_above_side_by_side():
    content = content_of(recorded())
    phases, end_s = content.phases, content.line.end_s
    wide = phase_words(phases, end_s, 640.0)
    assert wide[0].words == "melt, 7 min"
    assert not any(word.above for word in wide)
    narrow = phase_words(phases, end_s, 60.0)
    above = [word for word in narrow if word.above]
    assert len(above) >= 3
    for one, other in itertools.pairwise(above):
        assert one.x + measure(one.words) < other.x


def test_dip_test_words_do_not_overlap():
    content = content_of(recorded())
    for width in (900.0, 640.0, 200.0, 60.0):
        plane = Plane(width, 20.0, content.line.end_s, 0.0, 1.0)
        words = sorted(dip_words(content.dip_tests, plane), key=lambda word: word.x)
        assert len(words) > 1 or width < 640
        for one, other in itertools.pairwise(words):
            assert one.x + measure(one.words) < other.x


@given(st.text(max_size=60), st.floats(40, 400))
def test_filled_lines_fit(text, width):
    assert all(measure(line) <= width for line in fill([text, "last"], " · ", width))


def test_shorten_and_fill():
    assert shorten("couverture", 1000) == "couverture"
    assert shorten("couverture", measure("couve…")) == "couve…"
    assert fill(["a", "b", "cc"], " · ", measure("a · b")) == ["a · b", "cc"]
    assert fill(["a", "bb cc"], " · ", measure("bb c")) == ["a", "bb", "cc"]
