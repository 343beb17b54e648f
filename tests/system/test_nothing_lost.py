"""Disks, cables and boards that fail while curves are brought home: one sentence each, and
every curve is there afterwards."""

import resource
import signal
import sqlite3
from pathlib import Path

import pytest
from boards_with_curves import ROOM_C, Cable, copied, record, standing, talking_to
from running import Bench

from snapcurve.board import connection
from snapcurve.board.download import download
from snapcurve.board.ports import AttachedPort
from snapcurve.collecting.collection import Collection
from snapcurve.commands import chosen_board
from snapcurve.errors import LinkError
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.simulation.desk_run import desk_run
from snapcurve.wire.catalogue import BLOCK_FIRST_SAMPLES

CURVES = 2


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[int, bytes]]:
    """A flash image with curves, and their bytes."""
    flash = tmp_path_factory.mktemp("recorded") / "flash"
    return flash, record(flash, CURVES)


@pytest.fixture
def desk(bench: Bench, recorded):
    """A board with these curves."""
    # A number of its own: the name of a port that was pulled out may be given to the board of
    # another test at once.
    with standing(copied(recorded[0], bench.folder / "board"), bench.folder.name) as running:
        yield running


def on_board(desk) -> list[int]:
    with talking_to(desk) as board:
        return [row.curve for row in board.curves()]


def in_notebook(bench: Bench) -> list[int]:
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        assert notebook.check() == []
        return sorted(notebook.batch(str(row.id)).curve.curve for row in notebook.batches())


def all_home(bench: Bench, desk) -> None:
    """One more collection brings home whatever is still missing."""
    bench.ok("collect", "--port", desk.port)
    assert in_notebook(bench) == [1, 2]
    assert on_board(desk) == []


def _no_file_grows() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


def test_the_disk_is_full(bench: Bench, desk) -> None:
    bench.ok("batches")  # makes the notebook
    sentence = bench.refused("collect", "--port", desk.port, before=_no_file_grows)
    assert "notebook.db" in sentence
    assert on_board(desk) == [1, 2]
    all_home(bench, desk)


def test_another_program_has_the_notebook_locked(bench: Bench, desk) -> None:
    bench.ok("batches")
    other = sqlite3.connect(bench.folder / "notebook.db", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    sentence = bench.refused("collect", "--port", desk.port)
    assert "notebook.db" in sentence
    assert "locked by another program" in sentence
    other.execute("ROLLBACK")
    other.close()
    assert on_board(desk) == [1, 2]
    all_home(bench, desk)


def test_the_notebook_was_cut_off(bench: Bench, desk) -> None:
    bench.ok("batches")
    place = bench.folder / "notebook.db"
    whole = place.read_bytes()
    place.write_bytes(whole[: len(whole) // 2])
    assert "notebook.db" in bench.refused("collect", "--port", desk.port)
    assert place.read_bytes() == whole[: len(whole) // 2]
    assert on_board(desk) == [1, 2]
    place.write_bytes(whole)
    all_home(bench, desk)


def test_unplugged_in_mid_read(bench: Bench, desk) -> None:
    with Cable(desk, longest=600) as cable:
        sentence = bench.refused("collect", "--port", cable.port)
        assert cable.port in sentence
    assert on_board(desk)[-1] == 2
    all_home(bench, desk)


@pytest.mark.parametrize("longest", [80, 200, 350, 500, 700, 900])
def test_back_under_another_name(bench: Bench, desk, recorded, monkeypatch, longest) -> None:
    """--port left out: the board is found again by its number, and the rest is fetched."""
    port = [""]
    monkeypatch.setattr(connection, "attached", lambda: [AttachedPort(port[0], "", "")])
    told: list[int] = []
    with Cable(desk, longest) as cable, open_notebook(str(bench.folder / "notebook.db")) as book:
        port[0] = cable.port
        rest = None
        try:
            with chosen_board.open_board(None) as board:
                rest = Cable(desk)
                port[0] = rest.port
                Collection(board, book, None, lambda row, _: told.append(row.curve)).run()
        except LinkError:
            # The greeting or the list itself did not get through; a second go does.
            if rest is not None:
                rest.pull()  # or two of them read from the board
            rest = Cable(desk)
            port[0] = rest.port
            with chosen_board.open_board(None) as board:
                Collection(board, book, None, lambda row, _: told.append(row.curve)).run()
        rest.pull()
        for number, raw in recorded[1].items():
            batch = book.batch(str(number))
            assert book.curve_raw(batch.id) == raw
    assert told == [1, 2]
    assert on_board(desk) == []


def test_another_board_on_the_old_name_is_not_taken_for_it(tmp_path, recorded, desk) -> None:
    image = copied(recorded[0], tmp_path / "other")
    with standing(image, board="2") as other, talking_to(desk) as board:
        board.port.name = other.port
        assert not connection.reconnect(board, other.port, wait_s=0.1)


class Interrupted:
    """A bowl in which the probe stands until the board loses its power."""

    LAST_S = 200

    def rows(self, now_ms: int) -> list[str] | None:
        """See Simulator."""
        second = now_ms // 1000
        if second >= self.LAST_S:
            return None
        return [
            f"{second + ahead},{30.5 if second + ahead > 4 else ROOM_C},{ROOM_C},0,0"
            for ahead in range(second > 0, 6)
        ]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


def test_the_board_loses_power_in_mid_profile(bench: Bench) -> None:
    """What was flushed comes home as a batch that says its end was not recorded; the board
    keeps its profile and records again."""
    from snapcurve.couvertures import load, user_folder
    from snapcurve.couvertures.profile import compile_profile

    flash = bench.folder / "flash"
    profile = compile_profile(load("milk", user_folder()), "hold")
    with desk_run(Interrupted(), profile, "max", flash) as running:
        running.run()
        (row,) = running.board.curves()
        assert row.state == "open"
    with standing(flash) as desk, talking_to(desk) as board:
        (row,) = board.curves()
        assert row.state == "closed"
        curve = decode(download(board, row))
        assert board.profile() == profile
    assert curve.profile == profile
    assert curve.end_reason is None
    # Recording began within ten seconds; the stated loss is one block.
    assert len(curve.times_s) >= Interrupted.LAST_S - 10 - BLOCK_FIRST_SAMPLES
    assert record(flash, 1).keys() == {1, 2}
    with standing(flash) as desk:
        bench.ok("collect", "--port", desk.port)
    assert in_notebook(bench) == [1, 2]


def test_the_board_restarts_in_mid_download(bench: Bench, recorded) -> None:
    """The cable stays, the board behind it starts anew: the download goes on."""
    image = copied(recorded[0], bench.folder / "board")
    with standing(image) as first, talking_to(first) as board:
        (row, _) = board.curves()
        first.close()
        with pytest.raises(LinkError) as refusal:
            download(board, row)
        assert "\n" not in str(refusal.value)
        with standing(image) as second:
            board.port.name = second.port
            assert connection.reconnect(board, second.port)
            assert download(board, row) == recorded[1][row.curve]


def test_two_computers(bench: Bench, desk) -> None:
    """With one notebook, collecting twice gives one batch; with two, whoever comes first
    and erases has it, and whoever keeps leaves it to the other."""
    bench.ok("collect", "--port", desk.port, "--keep")
    bench.ok("collect", "--port", desk.port, "--keep")
    assert in_notebook(bench) == [1, 2]
    other = str(bench.folder / "other.db")
    bench.ok("collect", "--port", desk.port, "--notebook", other)
    assert "Nothing new" in bench.ok("collect", "--port", desk.port)
    with open_notebook(other) as book:
        assert len(book.batches()) == 2
