"""A notebook of schema 0004, before lots had a date and traces an end, migrates without loss.

`data/schema_0004.db` was written by that version's own code: `notebook_samples.filled_book` with
8 batches (entries of all kinds, pictures, calibrations), one with lots of all three states and one
with its leftover, and a rehearsal of unknown time that was amended to a mistake. It is never made
anew.
"""

import hashlib
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from test_notebook_first_release import rows_of

from snapcurve import notebook
from snapcurve.notebook import allergens

KEPT = Path(__file__).parent / "data" / "schema_0004.db"
SHA_256 = "0f124a71a4435e4066d1d7a8a5d5b31d92f90f81b6ebaea8b7e3451e51785741"
FIRST, SECOND, MISTAKE = "2026-12-15-01", "2026-12-16-01", "undated-01"


@pytest.fixture
def place(tmp_path):
    assert hashlib.sha256(KEPT.read_bytes()).hexdigest() == SHA_256
    return str(shutil.copy(KEPT, tmp_path / "notebook.db"))


def columns_of(place):
    with closing(sqlite3.connect(place)) as file:
        tables = file.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        return {
            table: [row[1] for row in file.execute(f"PRAGMA table_info({table})")]
            for (table,) in tables
            if table not in ("snapcurve_version", "words", "seals")  # they have no id
        }


def test_every_row_and_byte_is_unchanged_and_the_chain_is_whole(place):
    columns = columns_of(KEPT)
    before = rows_of(KEPT, columns)
    assert len(before["batches"]) == 11
    assert len(before["pictures"]) > 0
    with closing(sqlite3.connect(KEPT)) as file:
        seals = file.execute("SELECT * FROM seals ORDER BY number").fetchall()
        words = file.execute("SELECT * FROM words ORDER BY 1, 2, 3, 4").fetchall()
    with notebook.open_notebook(place) as book:
        assert book.check() == []
        assert (book.chain_end().number, book.chain_end().late) == (len(seals), 0)
    assert rows_of(place, columns) == before
    with closing(sqlite3.connect(place)) as file:
        now = file.execute("SELECT * FROM seals ORDER BY number").fetchall()
        assert now == [(*row, None) for row in seals]  # filed by no login
        assert file.execute("SELECT * FROM words ORDER BY 1, 2, 3, 4").fetchall() == words


def test_what_was_unknown_is_unknown_and_not_none(place):
    with notebook.open_notebook(place) as book:
        lots = {lot.lot: (lot.allergens, lot.best_before) for lot in book.batch(FIRST).lots}
        assert lots == {
            "MC-104": (("milk", "soya"), None),
            "RC-1": ((), None),
            "HZ-77": (None, None),
        }
        holds = allergens.of(book.as_amended(SECOND))
        assert holds.named == ("soya", "milk")
        assert holds.not_known == (
            "couverture",
            f"hazelnut paste HZ-77 in {FIRST}",
            "sea salt S-9",
        )


def test_it_is_traced_and_filed_into_like_a_new_one(place):
    with notebook.open_notebook(place) as book:
        trace = book.trace("MC-104")
        assert [one.batch.code for one in trace.forward] == [SECOND, FIRST]
        assert [one.made for one in trace.forward] == [(), ()]
        assert [one.batch.code for one in book.trace(SECOND).backward] == [FIRST]
        for kind, said in (
            ("lot", {"ingredient": "milk", "lot": "M-2", "best_before": "2027-05-01"}),
            ("made", {"name": "bars", "pieces": 3}),
        ):
            book.add_entry(notebook.records.NewEntry(kind, "Ilka Brandner", said), SECOND)
        assert book.check() == []
