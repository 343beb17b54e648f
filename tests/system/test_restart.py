"""The desk board, a process of its own, is broken off in mid-batch: it goes on within 3 s, and
the host learns why and which curve continues which."""

import re
import time
from itertools import pairwise
from pathlib import Path

import pytest
from boards_with_curves import ROOM_C, talking_to
from running import Bench

from snapcurve.board.download import download
from snapcurve.board.firmware_files import sources
from snapcurve.couvertures import load
from snapcurve.couvertures.profile import compile_profile
from snapcurve.recording.curve import decode
from snapcurve.simulation.desk_board import DeskBoard, find_micropython
from snapcurve.simulation.rehearsal_port import BOARD_NAME
from snapcurve.wire.catalogue import BLOCK_FIRST_SAMPLES

BREAK_S = 130
LAST_S = 260


class Bowl:
    """In the bowl from the fifth second on; a long press ends the batch. Notes what sounds,
    and calls ``at_break`` once at BREAK_S."""

    END_S = 240

    def __init__(self, at_break=None):
        self.at_break = at_break
        self.tones = []
        self.over = False

    def rows(self, now_ms):
        second = now_ms // 1000
        if second >= BREAK_S and self.at_break is not None:
            at_break, self.at_break = self.at_break, None
            at_break()
        if second >= LAST_S:
            self.over = True
            return None
        return [self._row(second + ahead) for ahead in range(second > 0, 3)]

    def _row(self, second):
        probe_c = 30 + second % 7 / 20 if second > 4 else ROOM_C
        return f"{second},{probe_c},{ROOM_C},0,{int(self.END_S <= second < self.END_S + 4)}"

    def heard(self, now_ms, words):
        if words[0] == "tone" and words[1] != "0":
            self.tones.append(now_ms / 1000)


def broken_off(folder, kind, **more):
    """The curves, the last crash and the world after a batch that was broken off."""
    world = Bowl()
    before = None if kind in ("kill", "power") else Path(__file__).with_name("failing_main.py")
    if before is not None:
        more |= {"fail": f"{BREAK_S * 1000}:{kind}"}
        more["crash"] = "restart"
    with DeskBoard(folder / "flash", world, "max", before=before, **more) as desk:
        world.at_break = {
            "kill": lambda: desk.restart(True),
            "power": lambda: desk.restart(False),
        }.get(kind)
        with talking_to(desk) as board:
            while not world.over:
                time.sleep(0.02)
                assert not desk.failure, desk.failure
            curves = [decode(download(board, row)) for row in board.curves()]
            return curves, board.last_crash(), world


@pytest.mark.parametrize("kind", ["kill", "power", "error", "still"])
def test_it_goes_on(tmp_path, kind):
    assert find_micropython() is not None
    curves, (boot, count, reason), world = broken_off(tmp_path, kind)
    first, second = curves
    assert first.end_reason is None
    assert second.end_reason == "button"
    assert second.continues == first.curve == 1
    assert second.boot == first.boot + 1
    assert second.started_uptime_ms <= 2000, "with the second of the restart itself: 3 s"
    resumed = [at_s for at_s in world.tones if BREAK_S < at_s <= BREAK_S + 14]
    assert resumed, "nothing sounded"
    lost_s = BREAK_S - 8 - len(first.times_s)
    assert lost_s <= (3 if kind == "error" else BLOCK_FIRST_SAMPLES + 2)
    if kind == "power":
        assert (boot, count, reason) == (0, 0, "")
    else:
        assert (boot, count) == (1, 1)
        assert ("ValueError: built in at " if kind == "error" else "watchdog") in reason
    if kind == "error":
        places = re.findall(r"(\w+\.py):(\d+) (\w+)", reason)
        assert places[0][0] == "failing_main.py"
        assert len(places) >= 3
        files = {path.name: path for path in sources("desk").values()}
        for (_, _, called), (file, line, _) in pairwise(places):
            # What the record names is the line in the source that called the place before.
            assert called in files[file].read_text().splitlines()[int(line) - 1]


def test_collected_both_halves_tell_the_one_batch(bench: Bench) -> None:
    folder = bench.folder / "rehearsal"
    folder.mkdir()
    world = Bowl()
    with DeskBoard(folder / "flash", world, "max", board=BOARD_NAME) as desk:
        with talking_to(desk) as board:
            board.put_profile(compile_profile(load("milk", folder), "hold"))
        world.at_break = lambda: desk.restart(False)
        while not world.over:
            time.sleep(0.02)
            assert not desk.failure, desk.failure
    filed = bench.ok_json("collect", "--port", "rehearsal")
    codes = [one["batch"] for one in sorted(filed, key=lambda one: one["curve"])]
    assert len(codes) == 2
    (verdict,) = {one["verdict"] for one in filed}
    assert "Not in temper" not in verdict
    assert f"Its record is in 2 parts: {', '.join(codes)}." in verdict
    for code in codes:
        assert bench.ok_json("show", code)["records"] == codes
        assert " ".join(bench.ok("show", code).split()).count(verdict) == 1
    assert bench.ok_json("show", "last")["batch"] == codes[0]
    assert "2 records, everything as it was filed" in bench.ok("notebook", "check")
