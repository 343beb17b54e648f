"""What is collected, what stays on the board, and what is said of it."""

import statistics
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from snapcurve.board.client import Board, CurveRow
from snapcurve.board.fitted import Fitted
from snapcurve.calibration.stored import Calibration
from snapcurve.calibration.trust import WORKING_C, trust
from snapcurve.collecting.collection import Collection
from snapcurve.collecting.filing import new_batch
from snapcurve.errors import RecordError, Refused
from snapcurve.notebook import open_notebook
from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store
from snapcurve.recording.curve import decode

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from curve_maker import record
from damaging_wire import Wire


@pytest.fixture
def folder(tmp_path):
    """A board with three curves."""
    board = tmp_path / "board"
    board.mkdir()
    store = record(board, 200, 1)
    for seed in (2, 3):
        record(board, 200, seed, store)
    return board


def collection(folder, book, keep=False, complete=None, erase_damaged=False):
    """One run over a wire of its own; the Collection, its board's store, what it told."""
    wire = Wire(folder)
    board = Board(wire, wire.clock)
    board.hello()
    told = []
    running = Collection(
        board, book, None, lambda row, _: told.append(row.curve), complete=complete
    )
    running.run(keep, erase_damaged)
    return running, wire.store, told


@pytest.fixture
def book(tmp_path):
    with open_notebook(str(tmp_path / "notebook.db")) as notebook:
        yield notebook


def test_a_curve_without_a_beginning_stays_and_hides_no_other(folder, book):
    path = folder / "c00002"
    raw = bytearray(path.read_bytes())
    raw[20] ^= 1
    path.write_bytes(raw)
    running, store, told = collection(folder, book)
    assert told == [1, 3]
    assert [row.curve for row in store.rows] == [2]
    assert path.read_bytes() == raw
    with pytest.raises(RecordError, match=r"Curve 2 .* stays there"):
        running.complain()


def test_a_curve_that_lost_a_part_stays_until_the_person_agrees(folder, book):
    path = folder / "c00002"
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)
    running, store, told = collection(folder, book)
    (said,) = running.damaged
    assert said.startswith("Of curve 2 the board's flash has lost 1 block; it was filed without")
    assert "--erase-damaged" in said
    assert path.read_bytes() == raw
    # asked again it says so again, and files nothing twice
    running, store, told = collection(folder, book)
    assert (running.damaged, told) == ([said], [])
    assert len(book.batches()) == 3
    running, store, told = collection(folder, book, erase_damaged=True)
    assert (told, store.rows) == ([], [])
    assert "was then erased" in running.damaged[0]


def test_a_whole_curve_says_nothing_of_damage(folder, book):
    running, store, _ = collection(folder, book)
    assert (running.damaged, store.rows) == ([], [])


def test_a_curve_with_a_bad_block_is_filed_with_all_that_is_good(folder, book):
    path = folder / "c00002"
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)
    running, store, told = collection(folder, book)
    running.complain()
    assert told == [1, 2, 3]
    assert [row.curve for row in store.rows] == [2]
    assert len(running.damaged) == 1
    (batch,) = [book.batch(str(row.id)) for row in book.batches() if row.code.endswith("02")]
    assert book.curve_raw(batch.id) == bytes(raw)


def test_kept_and_collected_again(folder, book):
    _, store, told = collection(folder, book, keep=True)
    assert told == [1, 2, 3]
    assert len(store.rows) == 3
    _, store, told = collection(folder, book)
    assert told == []
    assert store.rows == []
    assert len(book.batches()) == 3


def test_a_curve_that_is_still_being_recorded_is_left(folder, book, monkeypatch):
    wire = Wire(folder)
    wire.store.rows[1].open = True
    board = Board(wire, wire.clock)
    board.hello()
    running = Collection(board, book, None, lambda row, _: None)
    running.run()
    assert running.recording == [2]
    assert [row.curve for row in wire.store.rows] == [2]
    with pytest.raises(Refused, match="still recording"):
        board.erase(board.curves()[0])


def test_the_board_is_told_only_after_the_notebook_has_it(folder, book, monkeypatch):
    """A notebook that fails leaves every curve on the board."""

    def full(_batch):
        raise RecordError("no room")

    monkeypatch.setattr(book, "file_batch", full)
    wire = Wire(folder)
    board = Board(wire, wire.clock)
    board.hello()
    with pytest.raises(RecordError, match="no room"):
        Collection(board, book, None, lambda row, _: None).run()
    assert [row.curve for row in wire.store.rows] == [1, 2, 3]


@pytest.mark.parametrize(
    ("fitted", "own"),
    [(("N", 60, "MAX31855"), ("MAX31855", "N")), (("K", 60, "MAX31856"), ("MAX31856", "K"))],
)
def test_a_batch_is_judged_by_the_probe_that_its_curve_names(tmp_path, fitted, own):
    """Whatever the board is set for when it is collected, T here; after the restart as well."""
    (tmp_path / "board").mkdir()
    store = Store(str(tmp_path / "board"))
    store.start()
    recorder = Recorder(store, (0, 1, 0), 7, SimpleNamespace(probe=fitted))
    recorder.start(0, (1_795_600_000, 0), 0, b"", False)
    for second in range(200):
        recorder.reading(128 * 31)
        recorder.step(second * 1000, 2100)
    recorder.end(200_000, "button")
    (row,) = store.rows
    raw = (tmp_path / "board" / "c00001").read_bytes()
    curve = decode(raw)
    assert curve.fitted == Fitted(*fitted)
    assert curve.lost_blocks == 0
    listed = CurveRow(1, "closed", row.boot, row.size, row.crc, row.generation)
    batch = new_batch(curve, raw, listed, "pico", converter="MAX31856", tc_type="T")
    room_c = statistics.median(value_c for _, value_c in curve.room_c)
    expected = trust(*own, Calibration(), WORKING_C, 1_795_600_000.0, room_c=room_c)
    assert batch.uncertainty_centi_c == round(expected.expanded_c * 100)
    older = new_batch(
        replace(curve, fitted=None), raw, listed, "pico", converter="MAX31856", tc_type="T"
    )
    assert older.uncertainty_centi_c != batch.uncertainty_centi_c
