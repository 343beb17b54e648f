"""The line that says how far long work has come."""

import io

import pytest

from snapcurve.shown.progress import SHOWN_AFTER_S, Progress


class Screen(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def clock():
    return iter(range(1000)).__next__  # a second each time it is asked


def test_short_work_shows_nothing(clock):
    screen = Screen()
    assert list(Progress("reading", 2, screen, lambda: 0.0).over("ab")) == ["a", "b"]
    assert screen.getvalue() == ""


def test_long_work_shows_how_far_and_takes_the_line_away(clock):
    screen = Screen()
    assert list(Progress("reading", 200, screen, clock).over(range(200))) == list(range(200))
    said = screen.getvalue()
    assert "reading: 100 of 200 (50 %)" in said
    assert said.endswith("\r")
    assert said.index("reading") > 0
    assert SHOWN_AFTER_S == 2


def test_without_a_terminal_nothing_is_shown(clock):
    target = io.StringIO()
    list(Progress("reading", 200, target, clock).over(range(200)))
    assert target.getvalue() == ""


def test_the_line_goes_when_the_work_fails(clock):
    screen = Screen()

    def work():
        yield from range(50)
        raise ValueError("failed")

    with pytest.raises(ValueError, match="failed"):
        list(Progress("reading", 200, screen, clock).over(work()))
    assert screen.getvalue().endswith("\r")
