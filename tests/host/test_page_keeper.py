"""The thread that keeps a board: readings and their age, presses, lending, a board that goes."""

import threading
import time

import pytest
from page_board import PageBoard

from snapcurve.errors import LinkError
from snapcurve.page.keeper import Keeper
from snapcurve.shown.units import PLAIN
from snapcurve.wire.catalogue import SOUNDS
from tests.patience import LONGEST_S


class Kept:
    """A keeper of a board of ours, and what it showed."""

    def __init__(self):
        self.board = PageBoard()
        self.news = threading.Event()
        self.keeper = Keeper("/dev/bench", self.board.connect, PLAIN, self.news.set)

    def until(self, true):
        """Wait for what has to come."""
        end_s = time.monotonic() + LONGEST_S
        while not true(self.keeper.standing):
            assert time.monotonic() < end_s, self.keeper.standing
            self.news.wait(0.2)
            self.news.clear()
        return self.keeper.standing

    def press(self, word, turn=0):
        """Press a button for the ``turn``-th time in this run of the page."""
        return self.keeper.press(word, self.keeper.standing.first_turn + turn)

    def show(self, **fields):
        self.board.show(**fields)

    def second(self, uptime_s, **fields):
        """A reading of that second, shown."""
        self.show(uptime_s=uptime_s, **fields)
        return self.until(lambda now: now.reading and now.reading.uptime_ms == uptime_s * 1000)


@pytest.fixture
def kept():
    found = Kept()
    found.keeper.start()
    yield found
    found.keeper.end()
    found.keeper.join(LONGEST_S)
    assert not found.keeper.is_alive()


def test_a_reading_reaches_the_screen_with_profile_and_trust(kept):
    found = kept.second(601, estimate_centi_c=3090)
    assert found.condition(time.monotonic()) == "good"
    assert found.shown_c == 30.9
    assert found.profile.couverture == "Milk couverture"
    assert 1.5 < found.uncertainty_c < 3  # an uncalibrated type K, IEC 60584-1 class 1
    assert "not been calibrated" in found.remark
    assert found.curve.startswith("<svg")


def test_the_same_measurement_again_and_again_grows_old(kept):
    """A board that is alive and sends one value for ever, its age by its own word always new."""
    first = kept.second(601)
    for centi in (3105, 3106):
        kept.show(estimate_centi_c=centi)
        again = kept.until(lambda now, centi=centi: now.shown_c == centi / 100)
        assert again.measured_s == first.measured_s
    later = kept.second(602)
    assert later.measured_s > first.measured_s


def test_an_age_that_the_board_states_counts(kept):
    kept.second(601)
    found = kept.second(602, age_ms=9000)
    assert found.condition(time.monotonic()) == "silent"


def test_a_press_is_done_once_however_often_it_is_sent(kept):
    kept.second(601)
    press = kept.press
    assert press("dip_test", 0).done
    assert press("dip_test", 0).done  # sent again
    assert kept.board.marks == ["dip_test"]
    assert kept.keeper.standing.turn("dip_test") == kept.keeper.standing.first_turn + 1
    assert not press("dip_test", 7).done
    assert not press("dip_test", -3).done  # of an earlier run of the page
    assert not press("passed", 0).done  # not of this moment: the blade is wet
    assert not press("note", 0).done
    assert kept.board.marks == ["dip_test"]
    kept.second(601 + 310)
    assert press("passed", 0).done
    assert kept.board.marks == ["dip_test", "passed"]
    assert kept.keeper.standing.dip.result == "passed"


def test_two_people_press_the_same_button_at_once(kept):
    kept.second(601)
    done = []
    both = [
        threading.Thread(target=lambda: done.append(kept.press("dip_test", 0))) for _ in range(8)
    ]
    for one in both:
        one.start()
    for one in both:
        one.join(LONGEST_S)
    assert [one.done for one in done] == [True] * 8
    assert kept.board.marks == ["dip_test"]


def test_a_mark_whose_answers_are_lost_is_noted_once(kept):
    kept.board.deaf = 1  # the board takes it, and its answer is lost
    kept.second(601)
    assert kept.press("dip_test", 0).done
    assert kept.board.marks == ["dip_test"]


def test_silence_takes_its_own_button_away(kept):
    kept.second(601, sounding=SOUNDS.index("too_warm"))
    found = kept.until(lambda now: now.heard is not None)
    assert found.heard.name == "too_warm"
    assert kept.press("silence", 0).done
    assert "silence" not in kept.keeper.standing.actions()


def test_a_blade_marked_at_the_board_itself_starts_the_clock(kept):
    kept.second(601, sounding=SOUNDS.index("mark"))
    found = kept.second(662, sounding=0)
    assert found.dip_s == 61
    found = kept.second(700, sounding=SOUNDS.index("failed"))
    assert found.dip.result == "failed"
    kept.second(701, sounding=0)
    found = kept.second(702, sounding=SOUNDS.index("temper_lost"))
    assert found.dip is None  # what an earlier blade proved no longer holds


def test_the_port_is_lent_and_taken_back(kept):
    kept.second(601)
    with kept.keeper.lent("The curve is collected."):
        assert kept.board.closed == 1
        assert kept.keeper.standing.condition(time.monotonic()) == "lent"
    kept.until(lambda now: now.link == "up")
    assert kept.board.opened == 2


def test_what_was_collected_meanwhile_is_asked_for_no_longer(kept):
    """The end of a recording is heard; then somebody borrows the board and collects it."""
    kept.second(601)
    ended = kept.second(602, curve=0, sounding=SOUNDS.index("stopped"))
    assert ended.to_collect
    kept.show(sounding=0)
    with kept.keeper.lent("The curves are collected."):
        pass
    found = kept.until(lambda now: now.link == "up" and now.reading is not None)
    assert (found.ended, found.to_collect) == (True, False)  # the board has no curve any more
    kept.second(603, sounding=SOUNDS.index("stopped"))
    assert kept.keeper.standing.to_collect  # of another recording


def test_an_end_whose_sound_was_missed_is_to_collect_too(kept):
    """At the speed of a practice bowl it may pass between two readings."""
    kept.second(601)
    assert not kept.keeper.standing.ended
    kept.second(602, sounding=SOUNDS.index("stopped"))  # while it still records
    assert kept.second(603, curve=0, sounding=0).to_collect
    assert kept.second(604, curve=0, sounding=0).to_collect
    assert not kept.second(605, curve=4, sounding=0).ended
    assert kept.second(606, curve=0, sounding=0).to_collect


def test_an_end_while_the_board_was_away_is_to_collect_too(kept):
    kept.second(601)
    kept.show(curve=0)
    with kept.keeper.lent("meanwhile"):
        pass
    assert kept.until(lambda now: now.link == "up" and now.reading is not None).ended


@pytest.mark.parametrize(("boot", "ended"), [(5, True), (4, False)])
def test_an_end_before_the_page_was_there_is_to_collect_too(boot, ended):
    """The page starts anew and a recording lies on the board: of this run of the board it has
    just ended; of an earlier one it says nothing about what the probe does now."""
    kept = Kept()
    kept.board.boot = 5
    kept.board.rows = [{"curve": 9, "state": "closed", "boot": boot, "size": 4096}]
    kept.board.fields["curve"] = 0
    kept.keeper.start()
    found = kept.until(lambda now: now.link == "up" and now.reading is not None)
    kept.keeper.end()
    kept.keeper.join(LONGEST_S)
    assert found.to_collect is ended


def test_a_board_whose_list_of_curves_makes_no_sense_is_shown_all_the_same():
    kept = Kept()
    kept.board.total = 5
    kept.board.fields["curve"] = 0
    kept.keeper.start()
    found = kept.until(lambda now: now.link == "up" and now.reading is not None)
    kept.keeper.end()
    kept.keeper.join(LONGEST_S)
    assert (found.ended, kept.board.opened) == (False, 1)


def test_a_board_that_fails_is_found_again_by_itself(kept):
    kept.second(601)
    real = kept.board.read

    def gone():
        raise LinkError("The board on /dev/bench went away.")

    kept.board.read = gone
    found = kept.until(lambda now: now.link == "seeking")
    assert found.why == "The board on /dev/bench went away."
    assert not kept.press("dip_test", 0).done
    with kept.keeper.lent("meanwhile"):
        pass  # a port that is not open can be lent
    kept.board.read = real
    kept.until(lambda now: now.link == "up")


def test_a_failure_that_nobody_foresaw_does_not_end_the_reading(kept):
    kept.second(601)
    real = kept.board.read

    def odd():
        raise ValueError("<odd>")

    kept.board.read = odd
    found = kept.until(lambda now: now.link == "seeking")
    assert "ValueError" in found.why
    kept.board.read = real
    kept.until(lambda now: now.link == "up")
