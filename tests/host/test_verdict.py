"""The sentence about a batch: what the person said of the blade decides."""

import pytest

from snapcurve.curves import Curve, Event
from snapcurve.verdict import verdict

WORKED = [("alarm", "reached", "melt"), ("alarm", "reached", "work"), ("mark", "dip_test", "work")]


def said(*events):
    curve = Curve()
    curve.events = [
        Event(60_000 * minute, kind, name, phase, None, 0)
        for minute, (kind, name, phase) in enumerate([*WORKED, *events], 1)
    ]
    return verdict(curve, "seeding")


@pytest.mark.parametrize(
    ("mark", "words"),
    [("passed", "In temper"), ("failed", "Not in temper"), ("set_early", "too many crystals")],
)
def test_the_result_decides(mark, words):
    assert words in said(("alarm", "test_due", "work"), ("mark", mark, "work"))


def test_the_newest_result_counts():
    assert said(("mark", "failed", "work"), ("mark", "passed", "work")).startswith("In temper")


def test_a_temper_lost_after_the_test_is_said():
    lost = ("alarm", "temper_lost", "work")
    assert "out of its temper" in said(("mark", "passed", "work"), lost)
    assert "out of its temper" not in said(lost, ("mark", "passed", "work"))


def test_without_a_result_it_stays_open():
    assert "result not told" in said(("alarm", "test_due", "work"))
    assert "not waited for" in said()
