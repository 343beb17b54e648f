"""Five million bytes of random and mutated frames into the board's parser, and as many into
the host's: no exception, and memory stays what it was."""

import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest

from snapcurve.board.client import LIVE_READINGS_MAX, Board
from snapcurve.errors import SnapcurveError
from snapcurve.simulation.desk_board import HEAP_KIB
from snapcurve.wire import catalogue
from tests.benchmarks.compiled import Room, compile_into, run_script
from tests.how_many import cases
from tests.patience import LONGEST_S

HERE = Path(__file__).parent
sys.path.append(str(HERE.parent / "wire"))
from mutations import stream  # noqa: E402

BYTES = cases(2_500_000, 5_000_000)
SHARES = 4
GROWTH_MAX = 2048  # an answer on its way, an open file: what comes and goes


@pytest.mark.parametrize("share", range(SHARES))
def test_the_board_within_its_memory(tmp_path, share):
    """The whole firmware, compiled as it is installed, with the heap of the desk board: what is in
    use does not grow.
    """
    line = tmp_path / "line"
    with line.open("wb") as file:
        for piece in stream(share, BYTES // SHARES, answers=False):
            file.write(piece)
    compile_into(tmp_path, HERE / "fuzz_script.py")
    run = run_script(
        tmp_path,
        "fuzz_script",
        [str(line), "speed=max", f"flash={tmp_path / 'flash'}"],
        HEAP_KIB,
        Room(60),
        stderr=subprocess.PIPE,
        timeout=LONGEST_S,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    words = run.stdout.split()
    found = dict(zip(words[::2], map(int, words[1::2]), strict=True))
    assert found["taken"] >= BYTES // SHARES
    assert min(found["good"], found["damaged"], found["oversize"]) > 100
    assert found["memory"] - found["first"] <= GROWTH_MAX


class Line:
    """A port that gives what it was told to, in pieces as they come."""

    name = "/dev/line"

    def __init__(self, pieces):
        self._pieces = iter(pieces)

    def read(self):
        return next(self._pieces, b"")

    def write(self, data):
        pass

    def close(self):
        pass


def pour(board, share):
    """All pieces of one share through the host's board; how many answers were for us."""
    taken = 0
    sequence = board.send("hello")
    while True:
        before = board.heard
        board.pump()
        if board.heard == before:
            return taken
        for name in ("hello", "curve_read", "curves_list"):
            sequence = (sequence + 1) & 0xFF
            try:
                taken += board.take(sequence, name) is not None
            except SnapcurveError as error:
                taken += "\n" not in str(error)
                board._other_version = -1  # go on listening
        assert len(board._answers) <= 256
        assert len(board._live) <= LIVE_READINGS_MAX


@pytest.mark.parametrize("share", range(SHARES))
def test_the_host(share):
    board = Board(Line(stream(100 + share, BYTES // SHARES, answers=True)))
    taken = pour(board, share)
    assert board.heard >= BYTES // SHARES
    assert taken > 100
    reader = board._reader
    assert min(reader.good, reader.damaged, reader.oversize) > 100


def test_the_hosts_memory_is_bounded():
    """Twice as many bytes take no more memory."""
    peaks = []
    for count in (150_000, 300_000):
        board = Board(Line(stream(7, count, answers=True)))
        tracemalloc.start()
        pour(board, 0)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] <= 256 * (catalogue.PAYLOAD_MAX + 4000)
    assert peaks[1] < 1.3 * peaks[0]
