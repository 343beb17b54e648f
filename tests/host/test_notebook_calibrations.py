"""The history of calibrations: filed in order, by board, never changed."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest
from chart_samples import recorded
from notebook_samples import new_batch

from snapcurve import notebook
from snapcurve.board.client import CurveRow
from snapcurve.calibration.stored import Calibration, Point, build
from snapcurve.collecting import filing
from snapcurve.notebook import records

FIRST = records.Calibration(7, "bench by the window", "ice", "MAX31856", "K", b"\x01\x02", True)


@pytest.fixture
def book(tmp_path):
    with notebook.open_notebook(str(tmp_path / "notebook.db")) as opened:
        yield opened


def test_history_is_kept_in_order_and_by_board(book):
    book.file_calibration(FIRST)
    book.file_calibration(replace(FIRST, step="boil", raw=b"\x03"))
    book.file_calibration(replace(FIRST, board_id=0xFFFF_FFFF, step="clear", raw=b""))
    first, second = book.calibrations(7)
    assert first.filed_unix_ms > 0
    assert replace(first, filed_unix_ms=0) == FIRST
    assert (second.step, second.raw) == ("boil", b"\x03")
    assert [one.step for one in book.calibrations(0xFFFF_FFFF)] == ["clear"]
    assert book.calibrations(8) == []


@pytest.mark.parametrize(
    "change", ["UPDATE calibrations SET raw = x'00'", "DELETE FROM calibrations"]
)
def test_what_was_filed_is_never_changed(book, change):
    book.file_calibration(FIRST)
    with closing(sqlite3.connect(book.path)) as file, pytest.raises(sqlite3.IntegrityError):
        file.execute(change)
    assert len(book.calibrations(7)) == 1


def test_a_batch_keeps_how_far_it_could_be_trusted(book):
    filed = book.file_batch(new_batch(uncertainty_centi_c=26, uncertainty_at_centi_c=3100))
    assert (filed.uncertainty_centi_c, filed.uncertainty_at_centi_c) == (26, 3100)
    assert book.batch("last") == filed


def test_a_batch_is_trusted_in_the_room_it_was_made_in():
    """The board's own temperature is in the curve; far from that of the calibration it counts."""
    gallium = Point(2976, 0, "gallium", 1_700_000_000, 10, 10, 100, 2000)
    raw = build(Calibration((gallium,)))
    row = CurveRow(1, "closed", 3, 1, 1, 7)

    def filed_centi(room_c):
        curve = replace(
            recorded(),
            calibrated_unix_s=gallium.unix_s,
            started_unix_ms=gallium.unix_s * 1000,
            room_c=[(0.0, room_c), (60.0, room_c)],
        )
        known = {"converter": "MAX31856", "raw_calibrations": [raw]}
        return filing.new_batch(curve, b"x", row, "pico", **known).uncertainty_centi_c

    assert filed_centi(20.0) <= 12
    assert filed_centi(38.0) >= 30
