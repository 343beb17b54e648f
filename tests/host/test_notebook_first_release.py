"""A notebook of the first released schema, kept as it was made, migrates without loss.

`data/first_release.db` was written by that version's own code (schema 0002): three
calibrations filed with `file_calibration`, five batches of `notebook_samples.new_batch`
with `file_batch` (a recorded curve, `three_step.curve`; quotes, newlines, right-to-left
text and 300 characters; a rehearsal; an unknown time; a moment before 1970; an empty
curve). It is never made anew: what it holds is compared with its own bytes.
"""

import hashlib
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from snapcurve import notebook
from snapcurve.notebook import tables

KEPT = Path(__file__).parent / "data" / "first_release.db"
SHA_256 = "58a1c0d2ca0f80e24815799b38efeabb8148da3031fa14190b9986af755abc44"
ROWS = {"batches": 5, "curves": 5, "marks": 8, "alarms": 8, "calibrations": 3}


def rows_of(place: Path | str, columns: dict[str, list[str]]) -> dict[str, list[tuple]]:
    """Every value of these columns with its storage class, in the order of the ids."""
    found = {}
    with closing(sqlite3.connect(place)) as file:
        for table, names in columns.items():
            wanted = ", ".join(f'"{name}", typeof("{name}")' for name in names)
            found[table] = file.execute(f"SELECT {wanted} FROM {table} ORDER BY id").fetchall()
    return found


def columns_of_the_first_release() -> dict[str, list[str]]:
    with closing(sqlite3.connect(KEPT)) as file:
        return {
            table: [row[1] for row in file.execute(f"PRAGMA table_info({table})")]
            for table in ROWS
        }


@pytest.fixture
def place(tmp_path):
    return str(shutil.copy(KEPT, tmp_path / "notebook.db"))


def test_the_kept_file_is_the_one_that_was_made():
    assert hashlib.sha256(KEPT.read_bytes()).hexdigest() == SHA_256
    with closing(sqlite3.connect(KEPT)) as file:
        assert file.execute("SELECT version_num FROM snapcurve_version").fetchall() == [("0002",)]


def test_every_row_and_byte_is_kept(place):
    columns = columns_of_the_first_release()
    before = rows_of(KEPT, columns)
    assert {table: len(rows) for table, rows in before.items()} == ROWS
    with notebook.open_notebook(place) as book:
        assert len(book.batches()) == ROWS["batches"]
        assert book.check() == []
    assert rows_of(place, columns) == before
    with closing(sqlite3.connect(place)) as file:
        found = file.execute("SELECT version_num FROM snapcurve_version").fetchall()
    assert found == [(tables.SCHEMA,)]


def test_it_reads_as_it_was_filed(place):
    with notebook.open_notebook(place) as book:
        first = book.batch("2026-11-24-01")
        assert first.operator == "Ilka Brandner"
        assert first.couverture_toml == 'name = "Generic milk"\nkind = "milk"\n'
        recorded = Path(__file__).parent / "data" / "three_step.curve"
        assert book.curve_raw(first.id) == recorded.read_bytes()
        assert [mark.kind for mark in first.marks] == ["dip_test", "note"]
        assert book.batch("2").notes == "'; DROP TABLE batches; -- \n=cmd()|' /C calc'!A0"
        assert book.batch("3").couverture == "\u202eשוקולד חלב\u202c"
        assert book.batch("undated-01").started_unix_ms is None
        assert (book.batch("5").couverture, book.curve_raw(5)) == ("x" * 300, b"")
        assert [one.step for one in book.calibrations(7)] == ["ice", "boil"]
        assert [one.raw for one in book.calibrations(0xFFFF_FFFE)] == [b""]
