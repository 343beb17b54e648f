"""One button: press and long press, whatever the contact does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.probe.button import Button

AT_ONCE_MS = 150  # so soon that it seems to come with the hand's movement
LONG_MS = 2000  # what README.md promises of a long press
# Two presses of one hand follow each other within 0.6 s; and who waits for the answer to the
# last one waits no longer than a second.
TOGETHER_MS, PATIENCE_MS = 600, 1000
SPIKE_MS = 40  # from a motor or relay nearby; no finger is so quick
STUCK_MS = 10_000  # nobody holds it for so long


def all_told(levels, end_ms=10_000, swallowed=()):
    """``(ms, what, count)`` of a button whose level is ``levels(ms)``, stepped each ms; the
    presses whose numbers are in ``swallowed`` have an effect of their own."""
    now = [0]
    button = Button(lambda: levels(now[0]))
    events, presses = [], 0
    for now[0] in range(end_ms):
        what = button.step(now[0])
        if what:
            events.append((now[0], what, button.count))
        if what == "press":
            presses += 1
            if presses in swallowed:
                button.swallow()
    return events


def told(levels, end_ms=10_000):
    """The same without the ends of patterns."""
    return [(ms, what) for ms, what, _ in all_told(levels, end_ms) if what != "end"]


def between(*spans):
    return lambda ms: any(start <= ms < end for start, end in spans)


def test_a_press_is_told_on_release():
    ((ms, what),) = told(between((1000, 1300)))
    assert what == "press"
    assert 1300 <= ms <= 1300 + AT_ONCE_MS


def test_a_long_press_is_answered_while_it_is_held_and_told_on_release():
    (held_ms, held), (ms, what) = told(between((1000, 9000)))
    assert (held, what) == ("held", "long")
    assert 1000 + LONG_MS <= held_ms <= 1000 + LONG_MS + AT_ONCE_MS
    assert 9000 <= ms <= 9000 + AT_ONCE_MS


def test_one_that_does_not_come_up_is_stuck_and_ends_nothing():
    events = told(between((1000, 60_000)), end_ms=70_000)
    assert [what for _, what in events] == ["held", "stuck"]
    assert 1000 + STUCK_MS <= events[1][0] <= 1000 + STUCK_MS + 1000


@pytest.mark.parametrize("up_ms", [200, 1500, 3000, 30_000])
@pytest.mark.parametrize("start_ms", [0, 30])
def test_down_at_the_start_it_is_stuck_at_once_and_works_when_it_has_come_up(start_ms, up_ms):
    events = told(between((start_ms, up_ms), (40_000, 40_300), (45_000, 48_000)), end_ms=50_000)
    assert [what for _, what in events] == ["stuck", "press", "held", "long"]
    assert events[0][0] <= 200


def test_stuck_is_over_when_it_comes_up():
    now = [0]
    button = Button(lambda: between((0, 5000), (20_000, 40_000))(now[0]))
    spans = []
    for now[0] in range(45_000):
        button.step(now[0])
        if button.stuck != bool(len(spans) % 2):
            spans.append(now[0])
    assert [round(ms, -3) for ms in spans] == [0, 5000, 30_000, 40_000]


@pytest.mark.parametrize("held_ms", [150, 500, 1500, 1900])
@pytest.mark.parametrize("start_ms", range(1000, 1050, 7))
def test_short_of_two_seconds_is_a_press(start_ms, held_ms):
    assert [what for _, what in told(between((start_ms, start_ms + held_ms)))] == ["press"]


@pytest.mark.parametrize("held_ms", [2110, 2500, 8000])
@pytest.mark.parametrize("start_ms", range(1000, 1050, 7))
def test_over_two_seconds_is_long_and_no_press_besides(start_ms, held_ms):
    events = told(between((start_ms, start_ms + held_ms)))
    assert [what for _, what in events] == ["held", "long"]


@pytest.mark.parametrize("start_ms", range(1000, 1050, 3))
def test_a_spike_is_nothing(start_ms):
    assert told(between((start_ms, start_ms + SPIKE_MS))) == []


def test_two_presses():
    events = told(between((1000, 1200), (1500, 1700)))
    assert [what for _, what in events] == ["press", "press"]


@pytest.mark.parametrize("presses", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("gap_ms", [150, 400, 550])
def test_presses_are_counted(presses, gap_ms):
    spans = [(1000 + n * (200 + gap_ms), 1200 + n * (200 + gap_ms)) for n in range(presses)]
    events = all_told(between(*spans))
    assert [what for _, what, _ in events] == ["press"] * presses + ["end"]
    ms, _, count = events[-1]
    assert count == presses
    assert spans[-1][1] + TOGETHER_MS <= ms <= spans[-1][1] + PATIENCE_MS


def test_presses_far_apart_are_two_patterns():
    events = all_told(between((1000, 1200), (1200 + PATIENCE_MS, 2400)))
    assert [(what, count) for _, what, count in events if what == "end"] == [("end", 1)] * 2


def test_a_press_that_has_had_its_effect_ends_in_nothing():
    """Nor do those that follow it; the next pattern counts anew."""
    spans = (1000, 1200), (1500, 1700), (4000, 4200), (4500, 4700)
    ends = [count for _, what, count in all_told(between(*spans), swallowed=[1]) if what == "end"]
    assert ends == [2]
    ends = [count for _, what, count in all_told(between(*spans), swallowed=[2]) if what == "end"]
    assert ends == [2]


def test_a_long_press_ends_a_pattern_without_a_count():
    events = all_told(between((1000, 1200), (1500, 4200)))
    assert [what for _, what, _ in events] == ["press", "held", "long"]


def test_never_pressed():
    assert told(lambda _ms: False) == []


def test_it_wants_to_be_called_each_poll_and_looks_only_then():
    looks = []
    button = Button(lambda: looks.append(1))
    now_ms = 0
    for _ in range(20):
        button.step(now_ms)
        button.step(button.due_ms() - 1)
        assert SPIKE_MS < button.due_ms() - now_ms <= AT_ONCE_MS
        now_ms = button.due_ms()
    assert len(looks) == 20


BOUNCE = st.lists(st.integers(1, 9), max_size=8)


def with_bounces(start_ms, end_ms, closing, opening):
    """Level over time: bouncing up to 50 ms at either end, firm between."""
    edges = [start_ms]
    for length in (*closing, *opening):
        edges.append(edges[-1] + length)

    def level(ms):
        for first_ms, lengths, rest in ((end_ms, opening, False), (start_ms, closing, True)):
            if ms >= first_ms:
                at_ms, now = first_ms, rest
                for length in lengths[: len(lengths) // 2 * 2]:
                    if ms < at_ms + length:
                        return now
                    at_ms += length
                    now = not now
                return rest
        return False

    return level


@given(st.integers(500, 600), st.integers(300, 1700), BOUNCE, BOUNCE)
def test_a_bouncing_press_is_one_press(start_ms, held_ms, closing, opening):
    events = told(with_bounces(start_ms, start_ms + held_ms, closing, opening), end_ms=4000)
    assert [what for _, what in events] == ["press"]


@given(st.integers(500, 600), st.integers(2300, 3000), BOUNCE, BOUNCE)
def test_a_bouncing_long_press_is_one_long_press(start_ms, held_ms, closing, opening):
    events = told(with_bounces(start_ms, start_ms + held_ms, closing, opening), end_ms=5000)
    assert [what for _, what in events] == ["held", "long"]


@given(st.lists(st.tuples(st.integers(1, 400), st.integers(0, 400)), max_size=60))
def test_a_storm_ends_and_each_event_has_its_own_press(spans):
    """Never more events than there were times of being down; nothing once it is up."""
    edges, at_ms = [], 0
    for up_ms, down_ms in spans:
        edges.append((at_ms + up_ms, at_ms + up_ms + down_ms))
        at_ms += up_ms + down_ms
    events = told(between(*edges), end_ms=at_ms + 3000)
    assert len(events) <= len(spans)
    assert all(ms <= at_ms + AT_ONCE_MS for ms, _ in events)
