"""The schema: built by migrations, equal to the tables, refused when newer."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from notebook_samples import new_batch

from snapcurve import notebook
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import migrations, rows, tables


@pytest.fixture
def place(tmp_path):
    return str(tmp_path / "notebook.db")


def version_in(place):
    with closing(sqlite3.connect(place)) as file:
        return file.execute("SELECT version_num FROM snapcurve_version").fetchall()


@pytest.mark.parametrize("empty_file", [False, True])
def test_a_new_notebook_gets_the_latest_schema(place, empty_file):
    if empty_file:  # what a program killed before its first write leaves
        Path(place).touch()
    notebook.open_notebook(place).close()
    assert version_in(place) == [(tables.SCHEMA,)]


@pytest.mark.filterwarnings("ignore:.*expression-based index")  # compared below instead
def test_migrations_build_exactly_the_tables(place):
    book = notebook.open_notebook(place)
    with book._engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"version_table": "snapcurve_version", "compare_type": True}
        )
        assert compare_metadata(context, tables.metadata) == []
        query = str(rows.lines(5).compile(compile_kwargs={"literal_binds": True}))
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


@pytest.mark.parametrize("newer", ["0003", "9999", "spring"])
def test_a_newer_notebook_is_refused_and_left_alone(place, newer):
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch())
    with closing(sqlite3.connect(place)) as file, file:
        file.execute("UPDATE snapcurve_version SET version_num = ?", (newer,))
    before = Path(place).read_bytes()
    with pytest.raises(SnapcurveError, match=r"^.* newer version of snapcurve .*\.$"):
        notebook.open_notebook(place)
    assert Path(place).read_bytes() == before


def test_a_failed_migration_leaves_nothing(place, monkeypatch):
    """Tables, triggers and version number appear together or not at all."""
    execute = migrations.command.upgrade

    def upgrade_then_fail(settings, revision):
        execute(settings, revision)
        raise KeyboardInterrupt

    monkeypatch.setattr(migrations.command, "upgrade", upgrade_then_fail)
    with pytest.raises(KeyboardInterrupt):
        notebook.open_notebook(place)
    with closing(sqlite3.connect(place)) as file:
        assert file.execute("SELECT name FROM sqlite_master").fetchall() == []
    monkeypatch.undo()
    notebook.open_notebook(place).close()
    assert version_in(place) == [(tables.SCHEMA,)]


def test_a_notebook_of_the_first_schema_keeps_all_it_holds(place, monkeypatch):
    """Made by the first migration alone, with the columns of that time."""
    upgrade = migrations.command.upgrade
    monkeypatch.setattr(
        migrations.command, "upgrade", lambda settings, _: upgrade(settings, "0001")
    )
    notebook.open_notebook(place).close()
    monkeypatch.undo()
    assert version_in(place) == [("0001",)]
    with closing(sqlite3.connect(place)) as file, file:
        file.execute(
            "INSERT INTO batches (day, day_number, started_unix_ms, utc_offset_min, couverture,"
            " method, profile, rehearsal, created_unix_ms) VALUES"
            " ('2026-11-24', 1, 1795500000000, 60, 'Generic milk', 'seeding', x'00', 0, 1)"
        )
        file.execute(
            "INSERT INTO curves (batch_id, board_id, board_name, boot, curve, generation, size,"
            " crc, raw, collected_unix_ms) VALUES"
            " (1, 7, 'bench', 1, 1, 1, 9, 3421780262, x'313233343536373839', 1)"
        )
    with notebook.open_notebook(place) as book:
        batch = book.batch("last")
        assert (batch.couverture, batch.uncertainty_centi_c) == ("Generic milk", None)
        assert book.calibrations(7) == []
        assert book.check() == []
    assert version_in(place) == [(tables.SCHEMA,)]
