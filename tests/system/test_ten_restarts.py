"""A batch whose board was killed ten times at random instants is one batch, whoever collects
which part of it, when, and in which order."""

import random
import sys
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from boards_with_curves import ROOM_C, talking_to
from running import Bench

from snapcurve.analysis.filed_batch import judge_batch, judged_batches
from snapcurve.collecting.filing import new_batch
from snapcurve.couvertures import load
from snapcurve.couvertures.profile import compile_profile
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.shown.units import PLAIN
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.rehearsal_port import BOARD_NAME

sys.path.append(str(Path(__file__).parents[1] / "host"))
from postgresql_server import Server, require

RESTARTS = 10
LAST_S = 1100
# °C in the bowl at second: melted, cooled into the window of milk, worked there.
COURSE = ((5, 40.0), (120, 46.0), (330, 31.2), (LAST_S, 30.9))
DIP_S, END_S = 520, 1090


class Killed:
    """The bowl; ``breaks_s`` are when ``at_break`` is called."""

    def __init__(self, breaks_s):
        self.breaks_s = sorted(breaks_s)
        self.at_break = None
        self.over = False

    def rows(self, now_ms):
        second = now_ms // 1000
        if self.breaks_s and second >= self.breaks_s[0]:
            self.breaks_s.pop(0)
            self.at_break(len(self.breaks_s))
        if second >= LAST_S:
            self.over = True
            return None
        return [self._row(second + ahead) for ahead in range(second > 0, 3)]

    def _row(self, second):
        probe_c = ROOM_C
        for (from_s, from_c), (to_s, to_c) in pairwise(COURSE):
            if from_s <= second <= to_s:
                probe_c = from_c + (to_c - from_c) * (second - from_s) / (to_s - from_s)
        wave_c = (second % 7 - 3) / 100
        pressed = second == DIP_S or END_S <= second < END_S + 4
        return f"{second},{probe_c + wave_c:.3f},{ROOM_C},0,{int(pressed)}"

    def heard(self, now_ms, words):
        """Nobody listens."""


def breaks(seed):
    """Ten instants at least 70 s apart: shorter pieces hold no whole block."""
    chance = random.Random(seed)
    slots = chance.sample(range(12), RESTARTS)
    return [100 + 80 * slot + chance.uniform(0, 9) for slot in slots]


@pytest.fixture
def wait_over():
    def wait(world, desk):
        while not world.over:
            time.sleep(0.02)
            assert not desk.failure, desk.failure

    return wait


def listed_in(book):
    return judged_batches(book, book.batches(), PLAIN)


def one_batch(found, judgement, parts):
    """It is one, and says what is known and what is not."""
    assert len(judgement.records) == parts
    assert found.filed.code == judgement.records[0]
    holes = [one for one in judgement.timeline.unknown if one.why == "restart"]
    assert len(holes) == len(judgement.timeline.joined.holes) == parts - 1
    assert sum("restarted" in caution for caution in judgement.holes) == parts - 1
    assert "Not in temper" not in judgement.verdict
    assert f"Its record is in {parts} parts: {', '.join(judgement.records)}." in judgement.verdict
    kinds = [phase.kind for phase in judgement.timeline.phases]
    assert kinds == ["melt", "cool", "work"]
    assert judgement.timeline.curve.end_reason == "button"


@pytest.mark.parametrize("seed", [1, 2])
def test_ten_restarts_are_one_batch_in_any_order(bench: Bench, tmp_path, wait_over, seed):
    world = Killed(breaks(seed))
    (tmp_path / "rehearsal").mkdir()
    with DeskBoard(tmp_path / "rehearsal/flash", world, "max", board=BOARD_NAME) as desk:
        with talking_to(desk) as board:
            board.put_profile(compile_profile(load("milk", tmp_path), "seeding"))
        world.at_break = lambda left: desk.restart(bool(left % 2))
        wait_over(world, desk)
    filed = bench.ok_json("collect", "--port", "rehearsal")
    codes = [one["batch"] for one in sorted(filed, key=lambda one: one["curve"])]
    parts = len(codes)
    assert RESTARTS - 1 <= parts <= RESTARTS + 1
    with open_notebook(str(bench.folder / "notebook.db")) as book:
        for code in (*codes, "last"):
            one_batch(*judge_batch(book, code, PLAIN), parts)
        assert [len(one.judgement.records) for one in listed_in(book)] == [parts]
        assert book.check() == []
        pieces = [book.batch(code) for code in codes]
        raws = [book.curve_raw(piece.id) for piece in pieces]
    listed = bench.ok("batches", "--rehearsals").splitlines()
    assert len(listed) == 2
    assert f", {parts} parts)" in listed[1]
    told = bench.ok_json("show", "last")
    assert (told["batch"], len(told["phases"])) == (codes[0], 3)
    assert bench.ok("batches", "--rehearsals", "--output", "-").count("\n") == 2
    bench.ok("sheet", "last", "--output", "one.pdf")
    with open_notebook(str(tmp_path / "backwards.db")) as book:
        for piece, raw in reversed(list(zip(pieces, raws, strict=True))):
            new = new_batch(decode(raw), raw, piece.curve, "desk")
            book.file_batch(replace(new, started_unix_ms=piece.started_unix_ms))
            judge_batch(book, "last", PLAIN)
        one_batch(*judge_batch(book, "last", PLAIN), parts)
        assert [len(one.judgement.records) for one in listed_in(book)] == [parts]
        assert book.check() == []


def test_the_second_half_comes_later_from_another_computer(tmp_path, wait_over):
    """Both share a notebook on PostgreSQL; the first collects while the batch runs."""
    server = Server(require())
    try:
        place = server.new_database()
        benches = [Bench(tmp_path / name) for name in ("first", "second")]
        for bench in benches:
            bench.folder.mkdir()
        world = Killed(breaks(3))
        with DeskBoard(tmp_path / "flash", world, "max", board="1") as desk:
            with talking_to(desk) as board:
                board.put_profile(compile_profile(load("milk", tmp_path), "seeding"))
            early = []

            def at_break(left):
                desk.restart(bool(left % 2))
                early.append(left)

            world.at_break = at_break
            while len(early) < 6:
                time.sleep(0.02)
                assert not desk.failure, desk.failure
            done = benches[0].run(
                "collect", "--port", desk.port, "--json", SNAPCURVE_NOTEBOOK=place
            )
            assert done.returncode == 0, done.stderr
            wait_over(world, desk)
            done = benches[1].run("collect", "--port", desk.port, SNAPCURVE_NOTEBOOK=place)
            assert done.returncode == 0, done.stderr
        with open_notebook(place) as book:
            (one,) = listed_in(book)
            parts = len(one.judgement.records)
            one_batch(*judge_batch(book, "last", PLAIN), parts)
            assert parts == len(book.batches()) >= RESTARTS - 1
            assert book.check() == []
    finally:
        server.stop()
