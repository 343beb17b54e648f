"""Files that are damaged, cut off or no notebook at all: found, named and left alone."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from notebook_samples import alter, assert_one_sentence, new_batch, raw_sql

from snapcurve import notebook
from snapcurve.errors import RecordError, SnapcurveError


@pytest.fixture
def place(tmp_path):
    return str(tmp_path / "notebook.db")


@pytest.fixture
def filled(place):
    with notebook.open_notebook(place) as book:
        for number in range(1, 6):
            book.file_batch(new_batch(number, size=20_000))
    return place


@pytest.mark.parametrize("content", [b"xy", b"seconds,probe_c\n0,31.2\n" * 90, b"\x89PNG" * 2000])
def test_a_file_that_is_no_database(place, content):
    Path(place).write_bytes(content)
    with pytest.raises(RecordError, match="is not a notebook") as caught:
        notebook.open_notebook(place)
    assert_one_sentence(caught.value)
    assert Path(place).read_bytes() == content


def test_a_notebook_cut_off_anywhere(filled):
    whole = Path(filled).read_bytes()
    cut = random.Random(5)
    # one byte counts as empty, like none: SQLite itself may leave that in a new file
    lengths = [2, 15, 16, 99, 100, 511, 512, 4095, 4096, 4097, len(whole) - 4096, len(whole) - 1]
    lengths += [cut.randrange(2, len(whole)) for _ in range(30)]
    for length in lengths:
        Path(filled).write_bytes(whole[:length])
        with pytest.raises(RecordError, match="damaged or cut off") as caught:
            notebook.open_notebook(filled)
        assert_one_sentence(caught.value)
        assert Path(filled).read_bytes() == whole[:length]


def test_damaged_bytes_are_found_or_harmless(filled):
    """A byte changed anywhere gives a sentence or the right curves, never a wrong one."""
    whole = Path(filled).read_bytes()
    rng = random.Random(6)
    found = 0
    for _ in range(150):
        damaged = bytearray(whole)
        damaged[rng.randrange(len(whole))] ^= rng.randrange(1, 256)
        Path(filled).write_bytes(damaged)
        try:
            with notebook.open_notebook(filled) as book:
                found += bool(book.check())
                for number in range(1, 6):
                    raw = book.curve_raw(number)
                    assert raw == new_batch(number, size=20_000).curve.raw
        except SnapcurveError as error:
            assert_one_sentence(error)
            found += 1
    assert found > 100  # nine tenths of the file are curves


def test_check_tells_of_a_column_whose_name_was_damaged(filled):
    with closing(sqlite3.connect(filled)) as file, file:
        file.execute("PRAGMA writable_schema = ON")
        changed = "replace(sql, 'crc BIGINT', 'crd BIGINT') WHERE name = 'curves'"
        file.execute(f"UPDATE sqlite_master SET sql = {changed}")
    with notebook.open_notebook(filled) as book:
        assert "Batch 2026-11-24-03: it cannot be read." in book.check()


def test_check_names_the_batch_of_a_changed_curve(filled):
    raw = bytearray(raw_sql(filled, "SELECT raw FROM curves WHERE id = 3")[0][0])
    raw[1000] ^= 0x10
    alter(
        filled,
        f"UPDATE curves SET raw = x'{raw.hex()}' WHERE id = 3",
        "UPDATE curves SET raw = x'01' WHERE id = 4",
    )
    with notebook.open_notebook(filled) as book:
        problems = book.check()
        assert len(problems) == 2
        assert problems[0].startswith("Batch 2026-11-24-03: its curve's CRC-32 is")
        assert problems[1].startswith("Batch 2026-11-24-04: its curve has 1 bytes where 20000")
        with pytest.raises(RecordError, match="damaged"):
            book.curve_raw(3)


def test_check_names_a_batch_without_its_curve(filled):
    alter(filled, "DELETE FROM curves WHERE id = 2")
    with notebook.open_notebook(filled) as book:
        (problem,) = book.check()
        assert problem.startswith("Batch 2026-11-24-02: it has lost its curve")
        with pytest.raises(RecordError, match="2026-11-24-02 has lost its curve"):
            book.batch("2026-11-24-02")


def test_another_programs_database_is_left_alone(place):
    with closing(sqlite3.connect(place)) as file, file:
        file.execute("CREATE TABLE recipes (name TEXT)")
    before = Path(place).read_bytes()
    with pytest.raises(SnapcurveError, match="another program's data") as caught:
        notebook.open_notebook(place)
    assert_one_sentence(caught.value)
    assert Path(place).read_bytes() == before
