"""When a curve began: proven, or unknown. Board and host are the real ones, in virtual time."""

import os
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from snapcurve.board.client import Board, CurveRow
from snapcurve.collecting.collection import Collection
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import open_notebook
from snapcurve.notebook.codes import utc_offset_min
from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store
from snapcurve.recording.curve import Curve, decode
from snapcurve.recording.dating import Starts

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from damaging_wire import Wire

UNIX_S = 1_800_000_000
BOARD = 7
# European summer time begins and ends at 01:00 UTC (directive 2000/84/EC) on the last Sundays
# of March and October.
SUMMER = int(datetime(2026, 3, 29, 1, tzinfo=UTC).timestamp())
WINTER = int(datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp())


def record(folder, uptime_ms, clock=(0, 0), later=(), seconds=100):
    """One start of the board and a curve that begins at ``uptime_ms`` of it.

    ``later``: ``(second of the curve, unix seconds)`` at which the clock is set.
    """
    store = Store(str(folder))
    store.start()
    recorder = Recorder(store, (0, 1, 0), BOARD)
    recorder.start(uptime_ms, clock, 0, b"", False)
    for second in range(seconds):
        recorder.reading(4000)
        recorder.step(uptime_ms + second * 1000, 2100)
        for at, unix_s in later:
            if at == second:
                recorder.clock_set(uptime_ms + second * 1000, unix_s, 0)
    recorder.end(uptime_ms + seconds * 1000, "button")
    return store


def collect(folder, place, boot=None, uptime_s=1000):
    """Collect by the real code; ``{curve: started_unix_ms}``."""
    wire = Wire(folder)
    wire.now_ms = uptime_s * 1000.0
    if boot is not None:
        wire.store.boot = boot
    board = Board(wire, wire.clock)
    board.hello()
    with open_notebook(str(place)) as notebook:
        Collection(board, notebook, None, lambda row, code: None).run()
        batches = [notebook.batch(str(row.id)) for row in notebook.batches(mistakes=True)]
    return {batch.curve.curve: batch.started_unix_ms for batch in batches}


def test_each_kind_of_proof_and_none(tmp_path):
    """Boot 1 never had the time; boot 2 had it for its second curve; boot 3 is now."""
    board = tmp_path / "board"
    board.mkdir()
    record(board, 50_000)
    record(board, 60_000)
    store = Store(str(board))
    store.start()
    store.boot = 2  # the same start goes on
    recorder = Recorder(store, (0, 1, 0), BOARD)
    recorder.start(500_000, (UNIX_S, 250), 0, b"", False)
    recorder.end(501_000, "button")
    store.boot = 3
    recorder.start(30_000, (0, 0), 0, b"", False)
    recorder.end(31_000, "button")
    before_s = time.time()
    found = collect(board, tmp_path / "notebook.db", boot=3, uptime_s=100)
    after_s = time.time()
    assert found[1] is None
    assert found[3] == UNIX_S * 1000 + 250
    assert found[2] == UNIX_S * 1000 + 250 - (500_000 - 60_000)
    # 70 seconds before the host said hello, to within how long that took.
    assert (before_s - 70.2) * 1000 <= found[4] <= (after_s - 69.8) * 1000
    assert [path.name for path in board.iterdir()] == ["counters"]


def test_nothing_is_placed_by_another_start_or_board():
    starts = Starts(BOARD)
    starts.seen(9, 100_000, 5_000_000)
    for board, boot, uptime_ms in ((BOARD, 8, 50_000), (8, 9, 50_000), (BOARD, 9, 100_001)):
        curve = Curve(board_id=board, boot=boot, started_uptime_ms=uptime_ms)
        assert not starts.date(curve)
        assert curve.started_unix_ms is None
    starts.learn(Curve(board_id=8, boot=8, started_unix_ms=1, started_uptime_ms=0))
    assert not starts.date(Curve(board_id=BOARD, boot=8))
    curve = Curve(board_id=BOARD, boot=9, started_uptime_ms=40_000)
    assert starts.date(curve)
    assert curve.started_unix_ms == 5_000_000 - 60_000


def test_its_own_time_goes_before_all_others():
    starts = Starts(BOARD)
    starts.seen(9, 100_000, 5_000_000)
    curve = Curve(board_id=BOARD, boot=9, started_uptime_ms=0, started_unix_ms=123)
    assert starts.date(curve)
    assert curve.started_unix_ms == 123


@pytest.mark.parametrize("step_s", [3600, -3600, 86_400, -7])
def test_a_clock_that_steps_moves_no_sample(tmp_path, step_s):
    """Set at second 10 and again, stepped, at second 50: the first counts, times stay even."""
    store = record(tmp_path, 5000, later=[(10, UNIX_S), (50, UNIX_S + 40 + step_s)], seconds=120)
    curve = decode((tmp_path / "c00001").read_bytes())
    assert store.rows[0].blocks > 4
    assert curve.started_unix_ms == (UNIX_S - 10) * 1000
    assert curve.times_s == [float(second) for second in range(120)]


@pytest.fixture
def berlin(monkeypatch):
    monkeypatch.setitem(os.environ, "TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("unix_s", "offset_min"),
    [
        (WINTER - 1, 120),  # 02:59:59 summer time
        (WINTER, 60),  # one second later, 02:00:00 winter time
        (SUMMER - 1, 60),
        (SUMMER, 120),
    ],
)
def test_around_the_change_of_daylight_saving(tmp_path, berlin, unix_s, offset_min):
    """The offset is that of the batch's beginning; its length is the board's alone."""
    assert utc_offset_min(unix_s) == offset_min
    record(tmp_path, 5000, clock=(unix_s, 0), seconds=7200)
    raw = (tmp_path / "c00001").read_bytes()
    curve = decode(raw)
    row = CurveRow(1, "closed", 1, len(raw), 0, 0)
    batch = new_batch(curve, raw, row, "fake")
    assert (batch.started_unix_ms, batch.utc_offset_min) == (unix_s * 1000, offset_min)
    assert curve.times_s[-1] == 7199.0
