"""An installation that is cut off at any point leaves a board that starts, and is repeated."""

import random
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from installing_bench import Kept, contents, fill, folders_on, other, put, version_on
from running import Bench
from standin_board import StandIn

from snapcurve.board import release
from snapcurve.wire.version import __version__
from tests.how_many import cases
from tests.patience import LONGEST_S

POINTS = cases(10, 20)
BEFORE = "0.0.1"


@dataclass
class Prepared:
    """A board with an older release and recordings, and what an upgrade of it takes."""

    folder: Path
    kept: Kept
    traffic: int  # bytes over the cable
    ours: release.Release


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    """Made once; the tests work on copies."""
    folder = tmp_path_factory.mktemp("prepared")
    ours = release.build("desk")
    with StandIn(folder / "board") as board:
        put(board, other(ours, BEFORE, folder))
        kept = fill(board, folder)
    shutil.copytree(folder / "board", folder / "trial")
    with StandIn(folder / "trial") as board:
        assert version_on(board) == BEFORE
        board.carried = 0
        put(board, ours)
        return Prepared(folder / "board", kept, board.carried, ours)


@pytest.fixture
def board(prepared: Prepared, tmp_path: Path) -> Iterator[StandIn]:
    shutil.copytree(prepared.folder, tmp_path / "board")
    with StandIn(tmp_path / "board") as board:
        assert version_on(board) == BEFORE
        yield board


def cut_off(bench: Bench, board: StandIn, after: int, pulled: bool) -> int:
    """Start an installation and end it after so many bytes: by pulling the cable, and the
    power with it, or by killing the program. The program's exit code."""
    board.carried = 0
    cut = threading.Event()

    def pull() -> None:
        board.unplug()
        cut.set()

    board.at_limit = pull if pulled else cut.set
    board.limit = after
    started = bench.start("install", "--port", board.port)
    assert cut.wait(LONGEST_S), started.communicate()
    if not pulled:
        started.kill()
    _, said = started.communicate(timeout=LONGEST_S)
    if pulled:
        assert len(said.splitlines()) == 1, said
    return started.returncode


@pytest.mark.parametrize("point", range(POINTS))
def test_cut_off_at_a_random_point_and_repeated(
    bench: Bench, board: StandIn, prepared: Prepared, point: int
) -> None:
    pulled = point % 2 == 1
    share = (point + random.Random(point).random()) / POINTS  # all stretches, anywhere in each
    code = cut_off(bench, board, int(prepared.traffic * share * 0.995), pulled)
    assert code == (3 if pulled else -9)
    board.unplug()
    board.plug()
    # Whatever was cut off, some release starts, and nothing recorded is lost.
    assert version_on(board) in (BEFORE, __version__)
    assert contents(board) == prepared.kept
    out = bench.ok("install", "--port", board.port)
    assert "Kept: profile, calibration and 1 curves" in out
    assert version_on(board) == __version__
    assert contents(board) == prepared.kept
    assert folders_on(board) == [prepared.ours.folder]


def test_killed_and_repeated_without_a_restart(
    bench: Bench, board: StandIn, prepared: Prepared
) -> None:
    """The board is left at its raw prompt in the middle of a command."""
    assert cut_off(bench, board, prepared.traffic // 2, False) == -9
    out = bench.ok("install", "--port", board.port)
    assert " 0 were there already" not in out
    assert version_on(board) == __version__
    assert contents(board) == prepared.kept
