"""What a batch's chart shows, by its numbers: the line, gaps, spans, limits and caption."""

import dataclasses

import pytest
from chart_samples import (
    COOLING,
    HOLDING,
    MELTING,
    alarm,
    fault,
    mark,
    plain,
    profile,
    recorded,
)
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.errors import SnapcurveError
from snapcurve.recording import dip_tests as dips
from snapcurve.recording.curve import Curve
from snapcurve.recording.event_words import ALARM_WORDS, FAULT_WORDS
from snapcurve.recording.known_spans import out_spans
from snapcurve.recording.line import nearest_reading, split_line
from snapcurve.recording.phases import phase_spans
from snapcurve.recording.timeline import timeline_of
from snapcurve.report import chart_content
from snapcurve.report.chart_content import limits
from snapcurve.shown.units import PLAIN
from snapcurve.wire import catalogue


def content_of(curve):
    return chart_content.content_of(timeline_of(curve), "", PLAIN)


def dip_tests(events, due_after_s, end_s):
    """Beginning, end, too early until, due, and result of each."""
    curve = Curve(events=events)
    return [
        (test.at_s, test.end_s, test.early_s, test.due_s, test.result and test.result.words)
        for test in dips.dip_tests(curve, due_after_s, end_s)
    ]


def _lines(curve, out=()):
    pieces, gaps = split_line(curve.times_s, curve.temperatures_c, list(out))
    return [(piece.times_s, piece.in_air) for piece in pieces], gaps


def test_a_missing_reading_breaks_the_line():
    pieces, gaps = _lines(plain([30.0, 31.0, None, 32.0, 33.0]))
    assert pieces == [([0.0, 1.0], False), ([3.0, 4.0], False)]
    assert gaps == []  # one sample is a break, not a gap to speak of


def test_several_missing_readings_are_a_gap_from_the_last_reading_to_the_next():
    pieces, gaps = _lines(plain([30.0, None, None, 31.0]))
    assert pieces == [([0.0], False), ([3.0], False)]
    assert gaps == [(0.0, 3.0)]


def test_lost_blocks_are_a_gap():
    curve = Curve(times_s=[0, 1, 2, 62, 63], temperatures_c=[30.0] * 5)
    pieces, gaps = _lines(curve)
    assert pieces == [([0, 1, 2], False), ([62, 63], False)]
    assert gaps == [(2, 62)]


def test_gaps_at_both_ends():
    _, gaps = _lines(plain([None, None, 30.0, 30.0, None, None]))
    assert gaps == [(0.0, 2.0), (3.0, 6.0)]


def test_a_curve_without_any_reading_is_one_gap():
    pieces, gaps = _lines(plain([None] * 5))
    assert pieces == []
    assert gaps == [(0.0, 5.0)]


def test_readings_in_the_air_are_pieces_of_their_own_that_meet_the_line():
    pieces, gaps = _lines(plain([30.0] * 6), out=[(2.0, 4.0)])
    assert pieces == [
        ([0.0, 1.0], False),
        ([1.0, 2.0, 3.0], True),
        ([3.0, 4.0, 5.0], False),
    ]
    assert gaps == []


@given(
    st.lists(st.one_of(st.none(), st.floats(20, 60)), min_size=1, max_size=60),
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 10)), max_size=4),
)
def test_every_reading_is_drawn_and_nothing_else(values, spans):
    out = [(float(start), float(start + length)) for start, length in spans]
    curve = plain(values)
    pieces, gaps = split_line(curve.times_s, curve.temperatures_c, out)
    drawn = {
        (at_s, value)
        for piece in pieces
        for at_s, value in zip(piece.times_s, piece.values_c, strict=True)
    }
    read = {(at_s, value) for at_s, value in enumerate(values) if value is not None}
    assert drawn == read
    for piece in pieces:
        steps = {b - a for a, b in zip(piece.times_s, piece.times_s[1:], strict=False)}
        assert steps <= {1.0}
    for start_s, end_s in gaps:
        assert not any(start_s < at_s < end_s for at_s, _ in drawn)


def test_probe_out_spans():
    events = [alarm(10, "probe_out"), alarm(15, "probe_in"), alarm(50, "probe_out")]
    assert out_spans(events, 60) == [(10, 15), (50, 60)]
    assert out_spans([alarm(4, "probe_in"), *events], 60) == [(0, 4), (10, 15), (50, 60)]
    twice = [alarm(10, "probe_out"), alarm(12, "probe_out"), alarm(15, "probe_in")]
    assert out_spans(twice, 60) == [(10, 15)]
    assert out_spans([], 60) == []


def test_phases_of_the_recorded_batch():
    curve = recorded()
    content = content_of(curve)
    at = {(event.phase, event.name): event.offset_ms / 1000 for event in curve.alarms}
    melted, held = at["melt", "reached"], at["cool", "dwell_done"]
    warm = at["rewarm", "reached"]
    assert [(span.kind, span.start_s, span.end_s) for span in content.phases] == [
        ("melt", 0.0, melted),
        ("cool", melted, held),
        ("rewarm", held, warm),
        ("work", warm, content.line.end_s),
    ]
    assert content.line.end_s == len(curve.times_s)
    assert [(level.words, level.start_s) for level in content.levels] == [
        ("melt to 48 °C", 0.0),
        ("cool to 28 °C", melted),
        ("rewarm to 31.3 °C", held),
        ("never above 55 °C", 0.0),
    ]
    (band,) = content.bands
    assert (band.low_c, band.high_c, band.start_s) == (31.0, 32.0, warm)
    assert band.words == "working window 31 to 32 °C"


def test_a_phase_that_was_not_come_to_has_no_target():
    curve = plain([25.0] * 60)
    curve.profile = profile(MELTING, HOLDING)
    content = content_of(curve)
    assert [span.kind for span in content.phases] == ["melt"]
    assert content.bands == []


def test_phases_without_a_profile_come_from_the_events():
    events = [alarm(5, "near", "melt"), alarm(30, "reached", "work")]
    spans = phase_spans(events, [], 60)
    assert [(span.kind, span.start_s, span.end_s) for span in spans] == [
        ("melt", 0.0, 30.0),
        ("work", 30.0, 60),
    ]
    assert phase_spans([], [], 60) == []


def test_a_lost_reached_is_made_up_for_by_the_next_phases_event():
    rows = [MELTING, COOLING, HOLDING]
    spans = phase_spans([alarm(40, "too_cool", "work")], rows, 60)
    assert [(span.kind, span.start_s) for span in spans] == [("melt", 0.0), ("work", 40.0)]


def test_reached_does_not_end_a_phase_with_a_dwell():
    events = [alarm(20, "reached", "cool"), alarm(140, "dwell_done", "cool")]
    spans = phase_spans(events, [COOLING, HOLDING], 200)
    assert [(span.kind, span.start_s) for span in spans] == [("cool", 0.0), ("work", 140.0)]


def test_after_the_last_phase_nothing_runs():
    spans = phase_spans([alarm(20, "reached", "melt")], [MELTING], 60)
    assert [(span.kind, span.end_s) for span in spans] == [("melt", 20.0)]


def test_a_gap_tells_the_fault_that_made_it_and_the_alarms_beside_it_are_dropped():
    values = [31.0] * 10 + [None] * 10 + [31.0] * 10 + [None] * 5 + [31.0] * 5
    events = [
        fault(9.5, "open"),
        alarm(9.5, "probe_fault"),
        fault(19.5, ""),
        alarm(19.5, "probe_ok"),
    ]
    content = content_of(plain(values, events))
    assert content.gap_words == ["no reading: probe wire open", "no reading"]
    assert content.markers == []
    kept = content_of(plain([31.0] * 40, [alarm(9.5, "probe_fault")]))
    assert [marker.words for marker in kept.markers] == ["probe fault"]


def test_markers_stand_at_the_estimate_or_else_on_the_line():
    events = [alarm(2, "reached", estimate_c=31.5), alarm(3, "back"), mark(4, "note", 7)]
    content = content_of(plain([30.0, 30.5, 31.0, 31.25, 31.0], events))
    assert [(m.at_s, m.at_c, m.line_c, m.words) for m in content.markers] == [
        (2, 31.5, 31.0, "reached"),
        (3, 31.25, 31.25, "back in"),
        (4, 31.0, 31.0, "note 7"),
    ]


def test_probe_and_dip_test_alarms_are_spans_and_not_markers():
    content = content_of(recorded())
    names = {marker.name for marker in content.markers}
    assert names == {"near", "reached", "dwell_done", "too_cool", "back"}
    assert len(content.line.out) == 8


def test_dip_tests_of_the_recorded_batch():
    curve = recorded()
    first, second = content_of(curve).dip_tests
    assert first.early_s == pytest.approx(first.at_s + 180)
    assert first.due_s == pytest.approx(first.at_s + 300)
    assert first.end_s == first.due_s
    # The second was still setting when the recording ended.
    assert (second.end_s, second.early_s, second.due_s) == (len(curve.times_s), None, None)


def test_a_dip_test_ends_with_the_next_dip():
    events = [mark(100, "dip_test"), mark(200, "dip_test"), alarm(380, "test_early")]
    assert dip_tests(events, 300, 1000) == [
        (100, 200, None, None, None),
        (200, 500, 380, None, None),
    ]
    late = [mark(100, "dip_test"), alarm(400, "test_due"), alarm(520, "test_late")]
    assert dip_tests(late, 300, 1000) == [(100, 520, None, 400, None)]
    assert dip_tests([mark(100, "dip_test")], 0, 1000) == [(100, 100, None, None, None)]


def test_a_dip_test_has_its_result():
    events = [mark(100, "dip_test"), alarm(400, "test_due"), mark(405, "passed")]
    assert dip_tests(events, 300, 1000) == [(100, 400, None, 400, "set, no mark")]
    early = [mark(100, "dip_test"), alarm(280, "test_early"), mark(290, "set_early")]
    assert dip_tests(early, 300, 1000) == [(100, 290, 280, None, "set too soon")]
    two = [*events, mark(500, "dip_test")]
    assert [test[-1] for test in dip_tests(two, 300, 1000)] == ["set, no mark", None]


def test_each_dip_has_the_result_that_names_it():
    dipped = [mark(100, "dip_test", 1), mark(500, "dip_test", 2), mark(900, "dip_test", 3)]
    told = [mark(1300, "passed", 3), mark(1310, "failed", 1), mark(1320, "set_early", 2)]
    tests = dip_tests([*dipped, *told], 300, 2000)
    assert [test[-1] for test in tests] == ["marked", "set too soon", "set, no mark"]


def test_limits_hold_the_line_and_what_is_not_too_far():
    low_c, high_c = limits([22.0, 46.0], [("never", [50.0]), ("room", [21.0])])
    assert low_c < 21
    assert high_c > 50
    assert high_c - low_c < 1.2 * 29
    # A limit far above a held window would flatten the window.
    low_c, high_c = limits([30.0, 32.0], [("never", [50.0]), ("room", [21.0])])
    assert low_c > 21
    assert high_c < 50
    assert high_c - low_c >= 4


def test_limits_do_not_collapse():
    low_c, high_c = limits([30.0], [])
    assert high_c - low_c == pytest.approx(4 * 1.12)
    low_c, high_c = limits([], [])
    assert low_c < high_c


def test_what_is_beyond_the_chart_is_in_the_caption():
    curve = plain([31.0] * 100)
    curve.profile = profile(HOLDING, method="hold")
    curve.room_c = [(0.0, 21.0), (60.0, 22.5)]
    content = content_of(curve)
    assert content.room == []
    assert [level.kind for level in content.levels] == []
    assert content.caption[-2:] == [
        "never above 50 °C (beyond the chart)",
        "room 21 to 22.5 °C (beyond the chart)",
    ]


def test_caption_of_the_recorded_batch(monkeypatch):
    curve = dataclasses.replace(
        recorded(), board_id=0x0BAD5EED, started_unix_ms=None, calibrated_unix_s=0
    )
    assert content_of(curve).caption == [
        "Dark couverture",
        "three-step",
        "time unknown",
        "board 0bad5eed",
        f"{curve.recorded} samples recorded",
        "ended by the button",
        "calibration: none",
        "too cool 3×",
        "alarms stand at the board's estimate",
        "below the window 31 s, lowest 30.90 °C",
    ]


def test_caption_owns_up_to_what_is_missing():
    curve = plain([31.0, None, 31.0])
    curve.lost_blocks, curve.trailing_bytes = 1, 12
    curve.calibrated_unix_s = 1_767_225_600  # 2026-01-01T00:00:00Z
    assert content_of(curve).caption == [
        "no profile",
        "time unknown",
        "board 00000000",
        "2 samples recorded",
        "1 without a reading",
        "1 block lost",
        "end damaged",
        "end not recorded",
        "calibration: 2026-01-01",
    ]


def test_the_caption_gives_local_time_and_its_distance_from_utc():
    curve = plain([31.0])
    curve.started_unix_ms = 1_767_225_600_000
    (words,) = [part for part in content_of(curve).caption if part.startswith("started")]
    assert words[: len("started 2025-12-31")] in ("started 2025-12-31", "started 2026-01-01")
    hours, minutes = int(words[-7:-4]), int(words[-3:-1])
    clock = int(words[19:21]) * 60 + int(words[22:24])
    offset = hours * 60 + (minutes if hours >= 0 else -minutes)
    assert clock == offset % (24 * 60)


def test_no_samples_is_a_sentence():
    with pytest.raises(SnapcurveError, match="holds no samples"):
        content_of(Curve())


def test_a_curve_in_more_pieces_than_anybody_sees_is_a_sentence():
    """A plug that lets go and holds each second: drawing its thousands of pieces took minutes."""
    loose = [value for _ in range(2000) for value in (31.0, None, None, None)]
    with pytest.raises(SnapcurveError, match="too many to draw"):
        content_of(plain(loose))
    assert len(content_of(plain(loose[:4000])).line.pieces) == 1000


@pytest.mark.parametrize("raw", [b"", b"\x01", b"\xff" * 60])
def test_a_profile_that_cannot_be_read_costs_the_bands_only(raw):
    curve = plain([31.0] * 10)
    curve.profile = raw
    content = content_of(curve)
    assert (content.levels, content.bands) == ([], [])
    assert len(content.line.pieces) == 1


def test_value_at_takes_the_nearest_reading():
    content = content_of(plain([30.0, 31.0, None, None, 32.0]))
    value_at = nearest_reading(content.line.pieces)
    assert value_at(1.9) == 31.0
    assert value_at(3.2) == 32.0
    assert nearest_reading([])(3.2) is None


def test_every_alarm_and_fault_of_the_catalogue_has_words():
    spans = {"probe_out", "probe_in", "test_early", "test_due", "test_late"}
    assert set(ALARM_WORDS) == set(catalogue.ALARMS) - spans
    assert set(FAULT_WORDS) == set(catalogue.FAULTS)
