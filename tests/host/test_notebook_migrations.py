"""The schema: built by migrations, equal to the tables, refused when newer."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from notebook_samples import new_batch, raw_engine, raw_sql
from sqlalchemy import inspect, text

from snapcurve import notebook
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import migrations, queries, records, tables


@pytest.fixture
def place(tmp_path):
    return str(tmp_path / "notebook.db")


def version_in(place):
    return raw_sql(place, "SELECT version_num FROM snapcurve_version")


def test_a_new_notebook_gets_the_latest_schema(new_place):
    notebook.open_notebook(new_place).close()
    assert version_in(new_place) == [(tables.SCHEMA,)]


def test_a_file_without_a_byte_is_a_new_notebook(place):
    Path(place).touch()  # what a program killed before its first write leaves
    notebook.open_notebook(place).close()
    assert version_in(place) == [(tables.SCHEMA,)]


@pytest.mark.filterwarnings("ignore:.*expression-based index")  # compared below instead
def test_migrations_build_exactly_the_tables(any_book):
    book = any_book
    with book.engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"version_table": "snapcurve_version", "compare_type": True}
        )
        assert compare_metadata(context, tables.metadata) == []
        if connection.dialect.name == "postgresql":
            return
        query = str(
            queries.lines(records.Search()).compile(compile_kwargs={"literal_binds": True})
        )
        plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {query}").all()
        assert ["ix_batches_newest" in row.detail for row in plan] == [True]


def test_the_latest_migration_is_the_schema():
    scripts = ScriptDirectory.from_config(migrations.config())
    assert scripts.get_heads() == [tables.SCHEMA]
    numbers = [step.revision for step in scripts.walk_revisions()]
    assert numbers == [f"{number:04d}" for number in range(len(numbers), 0, -1)]


def test_opening_again_changes_no_byte(place):
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch())
    before = Path(place).read_bytes()
    notebook.open_notebook(place).close()
    assert Path(place).read_bytes() == before
    assert [path.name for path in Path(place).parent.iterdir()] == ["notebook.db"]


@pytest.mark.parametrize("newer", ["0099", "9999", "spring"])
def test_a_newer_notebook_is_refused_and_left_alone(place, newer):
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch())
    with closing(sqlite3.connect(place)) as file, file:
        file.execute("UPDATE snapcurve_version SET version_num = ?", (newer,))
    before = Path(place).read_bytes()
    with pytest.raises(SnapcurveError, match=r"^.* newer version of snapcurve .*\.$"):
        notebook.open_notebook(place)
    assert Path(place).read_bytes() == before


def test_a_failed_migration_leaves_nothing(new_place, monkeypatch):
    """Tables, triggers and version number appear together or not at all."""
    execute = migrations.command.upgrade

    def upgrade_then_fail(settings, revision):
        execute(settings, revision)
        raise KeyboardInterrupt

    monkeypatch.setattr(migrations.command, "upgrade", upgrade_then_fail)
    with pytest.raises(KeyboardInterrupt):
        notebook.open_notebook(new_place)
    assert inspect(raw_engine(new_place)).get_table_names() == []
    monkeypatch.undo()
    notebook.open_notebook(new_place).close()
    assert version_in(new_place) == [(tables.SCHEMA,)]


def test_a_notebook_of_the_first_schema_keeps_all_it_holds(new_place, monkeypatch):
    """Made by the first migration alone, with the columns of that time."""
    place = new_place
    upgrade = migrations.command.upgrade
    monkeypatch.setattr(
        migrations.command, "upgrade", lambda settings, _: upgrade(settings, "0001")
    )
    notebook.open_notebook(place).close()
    monkeypatch.undo()
    assert version_in(place) == [("0001",)]
    with raw_engine(place).begin() as connection:
        connection.execute(
            text(
                "INSERT INTO batches (day, day_number, started_unix_ms, utc_offset_min,"
                " couverture, method, profile, rehearsal, created_unix_ms) VALUES ('2026-11-24',"
                " 1, 1795500000000, 60, 'Generic milk', 'seeding', :profile, false, 1)"
            ),
            {"profile": b"\0"},
        )
        connection.execute(
            text(
                "INSERT INTO curves (batch_id, board_id, board_name, boot, curve, generation,"
                " size, crc, raw, collected_unix_ms) VALUES"
                " (1, 7, 'bench', 1, 1, 1, 9, 3421780262, :raw, 1)"
            ),
            {"raw": b"123456789"},
        )
    with notebook.open_notebook(place) as book:
        batch = book.batch("last")
        assert (batch.couverture, batch.uncertainty_centi_c) == ("Generic milk", None)
        assert book.calibrations(7) == []
        assert book.check() == []
        assert (book.chain_end().number, book.chain_end().late) == (1, 1)
        assert [row.id for row in book.search(records.Search(text="generic milk"))] == [1]
    assert version_in(place) == [(tables.SCHEMA,)]
