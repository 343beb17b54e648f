"""Two computers that collect into one notebook at the same time, with the real command."""

import sys
from pathlib import Path

import pytest
from boards_with_curves import copied, record, standing, talking_to
from running import Bench

from snapcurve.notebook import open_notebook
from tests.patience import LONGEST_S

sys.path.append(str(Path(__file__).parents[1] / "host"))
from postgresql_server import Server, require

CURVES = 2


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Flash images of two boards, and the bytes of their curves."""
    folder = tmp_path_factory.mktemp("recorded")
    return {board: (folder / board, record(folder / board, CURVES, board)) for board in "12"}


@pytest.fixture(params=["sqlite", "postgresql"])
def shared(request, bench: Bench):
    """Where both computers keep their notebook; it is not there yet."""
    if request.param == "sqlite":
        yield str(bench.folder / "shared.db")
        return
    server = Server(require())
    yield server.new_database()
    server.stop()


def test_two_boards_and_then_each_again(bench: Bench, recorded, shared, monkeypatch) -> None:
    monkeypatch.setattr(
        Bench,
        "environment",
        {**bench.environment, "SNAPCURVE_NOTEBOOK": shared},
    )
    with (
        standing(copied(recorded["1"][0], bench.folder / "one"), "1") as one,
        standing(copied(recorded["2"][0], bench.folder / "two"), "2") as two,
    ):
        for words in (("--keep",), ()):
            both = [bench.start("collect", "--port", desk.port, *words) for desk in (one, two)]
            for program in both:
                _, told = program.communicate(timeout=LONGEST_S)
                assert program.returncode == 0, told
        for desk in (one, two):
            with talking_to(desk) as board:
                assert board.curves() == []
    with open_notebook(shared) as book:
        assert book.check() == []
        raws = [book.curve_raw(row.id) for row in book.batches()]
        assert all(book.batch(str(row.id)).calibration == b"" for row in book.batches())
    wanted = [raw for _, curves in recorded.values() for raw in curves.values()]
    assert sorted(raws) == sorted(wanted)
