"""A button that is down when the board starts: pressed on purpose, or stuck. The whole of main.py,
on the desk board."""

import time

import pytest
from boards_with_curves import ROOM_C, Still, talking_to

from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.desk_run import desk_run

# A small bowl loses a degree a minute; what falls faster may be a probe on its way out.
IN_S, COOL_S, LAST_S = 20, 60, 240
ROW_MS = 20


class Batch:
    """In the bowl from IN_S on, below its window from COOL_S on; the button is down where
    ``down(ms)`` says so. Notes what sounds and what is told."""

    def __init__(self, down):
        self.down = down
        self.tones, self.alarms = [], []
        self.over = False

    def rows(self, now_ms):
        if now_ms >= LAST_S * 1000:
            self.over = True
            return None
        return [self._row(now_ms + ROW_MS * number) for number in range(now_ms > 0, 25)]

    def _row(self, ms):
        second = ms / 1000
        probe_c = ROOM_C if second < IN_S else 31.0 - min(2.0, max(0.0, (second - COOL_S) / 60))
        return f"{second:.3f},{probe_c},{ROOM_C},0,{int(self.down(ms))}"

    def heard(self, now_ms, words):
        if words[0] == "alarm":
            self.alarms.append((now_ms / 1000, words[1]))
        elif words[1] != "0":
            self.tones.append(now_ms / 1000)

    def told(self):
        return [name for _, name in self.alarms]


@pytest.fixture
def flash(tmp_path):
    """A board's flash with a profile on it."""
    profile = compile_profile(load("milk", user_folder()), "hold")
    with desk_run(Still(), profile, "max", tmp_path / "flash"):
        pass
    return tmp_path / "flash"


def batch(flash, down):
    """The batch with such a button, the board's curves and its last reading; the last two are
    None where the board has given the interpreter's prompt instead."""
    world = Batch(down)
    with DeskBoard(flash, world, "max") as desk:
        while not world.over and desk._process.poll() is None:
            time.sleep(0.02)
            assert not desk.failure, desk.failure
        if not world.over:
            assert desk._process.poll() == 0
            return world, None, None
        with talking_to(desk) as board:
            return world, board.curves(), board.reading()


def until(end_ms):
    return lambda ms: ms < end_ms


def bouncing(level, *edges_ms):
    """``level``, which bounces for 30 ms at each of ``edges_ms``."""

    def down(ms):
        since_ms = next((ms - edge for edge in edges_ms if 0 <= ms - edge < 30), None)
        return level(ms) if since_ms is None else since_ms % 20 < 10

    return down


@pytest.mark.parametrize("down", [until(1e9), bouncing(until(1e9), 0)], ids=["firm", "bouncing"])
def test_held_for_ever_the_batch_is_guided_all_the_same(flash, down):
    """It says that the button is stuck, hears the bowl, repeats its alarm, ends nothing."""
    world, curves, reading = batch(flash, down)
    assert world.told() == ["button_stuck", "reached", "too_cool"]
    assert world.alarms[0][0] < 6
    assert len([at_s for at_s in world.tones if at_s > LAST_S - 60]) >= 2
    assert [row.state for row in curves] == ["open"]
    assert reading.troubles == ("button",)


def test_held_for_five_seconds_the_batch_is_guided_and_the_button_works(flash):
    presses = [(0, 5000), (130_000, 130_300), (200_000, 203_000)]
    world, curves, reading = batch(
        flash, lambda ms: any(start <= ms < end for start, end in presses)
    )
    assert world.told() == ["button_stuck", "reached", "too_cool"]
    assert not [at_s for at_s in world.tones if 132 < at_s < 200], "a press silences"
    assert [row.state for row in curves] == ["closed"]
    assert reading.troubles == ()


@pytest.mark.parametrize(
    "down", [until(1000), bouncing(until(1000), 0, 1000)], ids=["firm", "bouncing"]
)
def test_held_for_a_second_the_batch_is_guided(flash, down):
    world, curves, reading = batch(flash, down)
    assert world.told() == ["reached", "too_cool"]
    assert [row.state for row in curves] == ["open"]
    assert reading.troubles == ()


@pytest.mark.parametrize("edges_ms", [(), (0, 1000, 1800, 2100)], ids=["firm", "bouncing"])
def test_let_go_and_pressed_again_it_is_the_prompt(flash, edges_ms):
    twice = bouncing(lambda ms: ms < 1000 or 1800 <= ms < 2100, *edges_ms)
    world, curves, _ = batch(flash, twice)
    assert curves is None
    assert world.told() == world.tones == []


@pytest.mark.parametrize("spark_ms", [20, 60])
def test_a_spark_of_the_contact_is_no_press(flash, spark_ms):
    world, curves, reading = batch(flash, until(spark_ms))
    assert world.told() == ["reached", "too_cool"]
    assert len(curves) == 1
    assert reading.troubles == ()


def test_stuck_in_mid_batch_it_ends_nothing_and_silences_nothing_that_comes(flash):
    world, curves, reading = batch(flash, lambda ms: ms >= 60_000)
    assert world.told() == ["reached", "button_stuck", "too_cool"]
    assert len([at_s for at_s in world.tones if at_s > LAST_S - 60]) >= 2
    assert [row.state for row in curves] == ["open"]
    assert reading.troubles == ("button",)
