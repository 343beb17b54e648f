"""An installation that is cut off at any point leaves a board that starts, and is repeated."""

import random
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from installing_bench import contents, fill, folders_on, other, put, version_on
from running import Bench
from standin_board import StandIn

from snapcurve import __version__
from snapcurve.installing import release


@pytest.fixture
def board(tmp_path: Path) -> Iterator[StandIn]:
    with StandIn(tmp_path / "board") as board:
        yield board


@pytest.fixture(scope="module")
def ours() -> release.Release:
    return release.build("desk")


@pytest.fixture(scope="module")
def traffic(tmp_path_factory: pytest.TempPathFactory, ours: release.Release) -> int:
    """Bytes over the cable during one upgrade."""
    folder = tmp_path_factory.mktemp("traffic")
    with StandIn(folder / "board") as board:
        put(board, other(ours, "0.0.1", folder))
        assert version_on(board) == "0.0.1"
        board.carried = 0
        put(board, ours)
        return board.carried


@pytest.mark.parametrize("point", range(20))
def test_cut_off_at_a_random_point_and_repeated(
    bench: Bench, board: StandIn, ours: release.Release, tmp_path: Path, traffic: int, point: int
) -> None:
    """Even points: the program is killed. Odd ones: the cable, and with it the power, goes."""
    before = other(ours, "0.0.1", tmp_path)
    put(board, before)
    kept = fill(board, tmp_path)
    started = bench.start("install", "--port", board.port)
    cut = threading.Event()
    board.carried = 0
    board.at_limit = cut.set if point % 2 == 0 else lambda: (board.unplug(), cut.set())
    board.limit = int(traffic * random.Random(point).uniform(0.02, 0.99))
    assert cut.wait(60), started.communicate()
    if point % 2 == 0:
        started.kill()
    _, said = started.communicate(timeout=60)
    if point % 2:
        assert started.returncode == 3, said
        assert len(said.splitlines()) == 1, said
    # Power off and on: whatever was cut off, some release starts, and nothing is lost.
    board.unplug()
    board.plug()
    assert version_on(board) in ("0.0.1", __version__)
    assert contents(board) == kept
    board.unplug()
    board.plug()
    bench.ok("install", "--port", board.port)
    assert version_on(board) == __version__
    assert contents(board) == kept
    assert folders_on(board) == [ours.folder]


def test_killed_and_repeated_without_a_restart(bench: Bench, board: StandIn) -> None:
    """The board is left at its raw prompt in the middle of a command."""
    started = bench.start("install", "--port", board.port)
    cut = threading.Event()
    board.at_limit, board.limit = cut.set, board.carried + 40_000
    assert cut.wait(60)
    started.kill()
    started.communicate(timeout=60)
    out = bench.ok("install", "--port", board.port)
    assert " 0 were there already" not in out
    assert version_on(board) == __version__
