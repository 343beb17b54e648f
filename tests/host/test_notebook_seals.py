"""The chain of seals: whatever is altered, left out or slipped in is found and named."""

import hashlib

import pytest
from notebook_damage import TABLES, Damage
from notebook_samples import alter, filled_book, full_batch, new_batch, raw_engine, unguard
from sqlalchemy import text

from snapcurve import notebook
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import hash_chain, integrity, records, tables
from tests.how_many import cases

BATCHES = 50
# PostgreSQL sees fewer of them: a check there costs some more.
GROUPS, TRIES_EACH = 5, {"sqlite": cases(40, 100), "postgresql": cases(12, 30)}
CHILDREN = ("words", "lots", "alarms", "marks", "curves")


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def filled(request, tmp_path_factory):
    """A notebook of 50 batches whose guards were taken away."""
    if request.param == "sqlite":
        place = str(tmp_path_factory.mktemp("seals") / "notebook.db")
    else:
        place = request.getfixturevalue("postgresql").new_database()
    filled_book(place, BATCHES)
    unguard(place)
    return place


@pytest.fixture
def open_transaction(filled):
    """A connection whose changes are undone afterwards."""
    with raw_engine(filled).connect() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET session_replication_role = replica"))
            connection.commit()
        yield connection
        connection.rollback()


def changed_problems(connection, *statements):
    """What is found after these; they are undone."""
    for statement in statements:
        connection.execute(text(statement))
    found = all_found(connection)
    connection.rollback()
    return found


def all_found(connection):
    """What is wrong with the record, and with the index of words."""
    return integrity.problems(connection) + integrity.index_troubles(connection)


def test_nothing_is_wrong_with_what_was_filed(open_transaction):
    assert integrity.problems(open_transaction) == []


@pytest.mark.parametrize("group", range(GROUPS))
def test_any_altered_byte_is_found_and_named(open_transaction, group):
    """Tries over all columns of all tables, each alone and undone before the next."""
    damage = Damage(open_transaction, group)
    tries, touched, cells = 0, set(), []
    wanted = TRIES_EACH[open_transaction.dialect.name]
    while tries < wanted:
        cells = cells or damage.cells()
        cell = cells.pop()
        named = damage.alter(*cell)
        if named is not None:
            found = all_found(open_transaction)
            assert any(named in problem for problem in found), (cell, named, found)
            touched.add(cell)
            tries += 1
        open_transaction.rollback()
    assert len(touched) >= min(wanted, 60)  # of some 90; a database refuses double keys


def test_every_column_is_under_a_seal_or_checked_by_itself():
    sealed = {
        (name, column)
        for parts in hash_chain.FORMS[hash_chain.FORM].values()
        for name, columns, _ in parts
        for column in columns.split()
    }
    others = {"seals", "seal_head", "words"}
    assert sealed == {
        (table.name, column.name)
        for table in tables.metadata.sorted_tables
        for column in table.columns
        if table.name not in others
    }


@pytest.mark.parametrize("table", TABLES)
def test_a_deleted_row_is_found_and_named(open_transaction, table):
    damage = Damage(open_transaction, 7)
    key = [column.name for column in tables.metadata.tables[table].primary_key]
    for _ in range(5):
        row = damage.row(table)
        named = damage.names(table, row)
        where = " AND ".join(f'"{name}" = :{name}' for name in key)
        query = text(f"DELETE FROM {table} WHERE {where}")
        open_transaction.execute(query, {name: row[name] for name in key})
        found = all_found(open_transaction)
        open_transaction.rollback()
        assert any(named in problem for problem in found), (named, found)


@pytest.mark.parametrize("batch_id", [1, 25, BATCHES])
def test_a_batch_deleted_with_all_it_had_is_named(open_transaction, batch_id):
    statements = [f"DELETE FROM {one} WHERE batch_id = {batch_id}" for one in CHILDREN]
    statements += [
        f"DELETE FROM entries WHERE batch_id = {batch_id}",
        f"DELETE FROM batches WHERE id = {batch_id}",
    ]
    found = changed_problems(open_transaction, *statements)
    assert any(f"Batch 2026-11-24-{batch_id:02d}: it is missing" in one for one in found)


def test_the_last_item_deleted_with_its_seal_is_missed(open_transaction):
    last = "(SELECT max(number) FROM seals)"
    entry = f"(SELECT item_id FROM seals WHERE number = {last} AND kind = 'entry')"
    (problem,) = changed_problems(
        open_transaction,
        f"DELETE FROM entries WHERE id = {entry}",
        f"DELETE FROM seals WHERE number = {last}",
    )
    assert "What was filed last is missing" in problem
    assert "Batch 2026-11-24-50" in problem


def test_what_only_a_hash_written_down_can_find(any_place):
    """Whoever removes the last item, its seal and the head's memory of it leaves a whole
    chain; the end that was written down is not in it any more."""
    with notebook.open_notebook(any_place) as book:
        book.file_batch(new_batch(1))
        before = book.chain_end()
        book.add_entry(records.NewEntry("note", "Ilka Brandner", {"text": "x"}), "1")
        end = book.chain_end()
        assert (end.number, before.number) == (2, 1)
        assert book.holds(end.number, end.hash)
        assert book.holds(0, hash_chain.NOTHING)
    alter(
        any_place,
        "DELETE FROM entries",
        "DELETE FROM words WHERE word IN ('x', 'ilka', 'brandner')",
        "DELETE FROM seals WHERE number = 2",
        f"UPDATE seal_head SET number = 1, hash = '{before.hash}'",
    )
    with notebook.open_notebook(any_place) as book:
        assert book.check() == []
        assert book.holds(before.number, before.hash)
        with pytest.raises(SnapcurveError, match=r"lost what came last\.$"):
            book.holds(end.number, end.hash)
        book.add_entry(records.NewEntry("note", "Ilka Brandner", {"text": "y"}), "1")
        assert not book.holds(end.number, end.hash)


def test_a_slip_in_what_was_written_down_is_no_alteration(any_place):
    with notebook.open_notebook(any_place) as book:
        book.file_batch(new_batch(1))
        end = book.chain_end()
        for slip in (
            ("0" if end.hash[0] != "0" else "1") + end.hash[1:],
            end.hash[:30] + end.hash[30:32][::-1] + end.hash[32:60] + "0000",
        ):
            with pytest.raises(SnapcurveError, match="nearly those of the chain"):
                book.holds(1, slip)
        assert book.holds(1, end.hash.upper())
        assert not book.holds(1, hashlib.sha256(b"another chain").hexdigest())
        with pytest.raises(SnapcurveError, match="The chain ends with 1, before 11;"):
            book.holds(11, end.hash)


def test_rows_slipped_in_are_found(open_transaction):
    batch = "SELECT {} FROM batches WHERE id = 3"
    columns = [column.name for column in tables.batches.columns]
    wanted = {"id": "900", "day_number": "99"}
    values = ", ".join(wanted.get(name, f'"{name}"') for name in columns)
    (first, *_) = changed_problems(open_transaction, f"INSERT INTO batches {batch.format(values)}")
    assert first.startswith("Batch 2026-11-24-99: it was never sealed")
    mark = "INSERT INTO marks (id, batch_id, offset_ms, kind, number, phase)"
    (only,) = changed_problems(open_transaction, f"{mark} VALUES (900, 3, 1, 'note', 1, 'work')")
    assert only.startswith("Batch 2026-11-24-03: its marks differ from what was filed")
    *_, last = changed_problems(open_transaction, f"{mark} VALUES (900, 999, 1, 'a', 1, 'b')")
    assert "marks belongs to batch number 999, which is missing" in last


def test_an_altered_entry_is_named_with_its_batch(open_transaction):
    (first, *_) = changed_problems(
        open_transaction, "UPDATE entries SET why = 'no reason' WHERE id = 12"
    )
    assert first.startswith("Batch 2026-11-24-06, entry 12: its own fields differ")


def test_altered_seals_do_not_blame_their_neighbours(open_transaction):
    found = changed_problems(open_transaction, "UPDATE seals SET hash = 'x' WHERE number = 30")
    assert len(found) == 1
    found = changed_problems(open_transaction, "DELETE FROM seals WHERE number = 30")
    assert len(found) == 2  # the item without a seal, and the gap


def test_a_filed_batch_fills_every_column():
    """Else the tries above would alter less than all of it."""
    batch = full_batch(1)
    assert all(
        value not in (None, (), b"") for value in vars(batch).values() if value is not False
    )
