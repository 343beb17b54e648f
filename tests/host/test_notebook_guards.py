"""The ways past the check that need no hashing: guards taken away, altered or outdone by a foreign
trigger, rules and policies of a server, and moments that run backwards."""

import pprint
import time

import pytest
from notebook_samples import START_UNIX_MS, alter, full_batch, new_batch, raw_sql

from snapcurve import notebook
from snapcurve.notebook import guards, rows

NOTES_CHANGED = {
    "sqlite": (
        "CREATE TRIGGER helper AFTER INSERT ON batches BEGIN"
        " UPDATE batches SET operator = 'nobody' WHERE id = NEW.id; END",
    ),
    "postgresql": (
        "CREATE FUNCTION helper() RETURNS trigger LANGUAGE plpgsql AS"
        " $$ BEGIN NEW.operator := 'nobody'; RETURN NEW; END $$",
        "CREATE TRIGGER helper BEFORE INSERT ON batches FOR EACH ROW EXECUTE FUNCTION helper()",
    ),
}


def kind_of(place):
    return "postgresql" if "://" in place else "sqlite"


@pytest.fixture
def filled(any_place):
    with notebook.open_notebook(any_place) as book:
        book.file_batch(full_batch(1))
        assert book.check() == []
    return any_place


def checked(place):
    with notebook.open_notebook(place) as book:
        return book.check()


def test_the_digests_are_those_of_what_the_migrations_make(any_book):
    expected = guards.SQLITE if any_book.path else guards.POSTGRESQL
    with any_book.engine.connect() as connection:
        made = guards.found(connection)
    assert made == expected, f"right is now:\n{pprint.pformat(made)}"


def test_a_missing_guard_is_named(filled):
    on = "" if kind_of(filled) == "sqlite" else " ON marks"
    raw_sql(filled, f"DROP TRIGGER marks_never_{'changed' if on else 'rewritten'}{on}")
    (problem,) = checked(filled)
    assert problem.startswith("The guard marks_never_")
    assert "is missing" in problem


def test_an_altered_guard_is_named(filled):
    if kind_of(filled) == "sqlite":
        raw_sql(
            filled,
            "DROP TRIGGER lots_never_deleted",
            "CREATE TRIGGER lots_never_deleted BEFORE DELETE ON lots BEGIN SELECT 1; END",
        )
        assert ["lots_never_deleted was altered" in one for one in checked(filled)] == [True]
        return
    raw_sql(filled, "ALTER TABLE lots DISABLE TRIGGER lots_never_changed")
    assert ["lots_never_changed was altered" in one for one in checked(filled)] == [True]
    raw_sql(
        filled,
        "ALTER TABLE lots ENABLE TRIGGER lots_never_changed",
        "CREATE OR REPLACE FUNCTION refuse_change_of_curve() RETURNS trigger LANGUAGE plpgsql"
        " AS $$ BEGIN RETURN NULL; END $$",
    )
    assert ["The guard curves_never_" in one for one in checked(filled)] == [True, True]


def test_a_foreign_trigger_is_named_though_every_seal_fits(filled):
    """It changes what is written before the row is sealed: nothing else could find it."""
    planted = NOTES_CHANGED[kind_of(filled)]
    if kind_of(filled) == "sqlite":  # the guard against rewriting would stop it
        raw_sql(filled, "DROP TRIGGER batches_never_rewritten", *planted)
    else:
        raw_sql(filled, *planted)
    with notebook.open_notebook(filled) as book:
        assert book.file_batch(full_batch(2)).operator == "nobody"
        problems = book.check()
    assert ["helper is not the notebook's own" in one for one in problems if "helper" in one] == [
        True
    ]
    assert not [one for one in problems if "Batch" in one]


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("CREATE RULE quiet AS ON INSERT TO marks DO INSTEAD NOTHING", "The rule quiet of marks"),
        ("ALTER TABLE lots ENABLE ROW LEVEL SECURITY", "Rows of lots are hidden"),
        ("ALTER TABLE curves DISABLE TRIGGER ALL", "What holds curves"),
    ],
)
def test_what_else_a_server_can_be_made_to_do(postgresql, statement, said):
    place = postgresql.new_database()
    notebook.open_notebook(place).close()
    raw_sql(place, statement)
    assert any(one.startswith(said) for one in checked(place))


def test_a_moment_that_runs_backwards_is_named(any_place, monkeypatch):
    now_ns = time.time_ns()
    with notebook.open_notebook(any_place) as book:
        book.file_batch(new_batch(1))
        assert book.clock_steps() == []
        if book.path is None:  # a server goes by its own clock
            shift = "sealed_unix_ms + 10800000"
            alter(any_place, f"UPDATE seals SET sealed_unix_ms = {shift} WHERE number = 1")
            assert book.clock_steps()
            return
        monkeypatch.setattr("time.time_ns", lambda: now_ns - 3 * 3600 * 10**9)
        book.file_batch(new_batch(2))
        monkeypatch.undo()
        monkeypatch.setattr(rows, "_now_ms", lambda: START_UNIX_MS)
        book.file_batch(new_batch(3))
        back, apart = book.clock_steps()
        assert book.check() == []
    assert back.startswith("Batch 2026-11-24-02: by the clock it was sealed 3 h before")
    assert apart.startswith("Batch 2026-11-24-03: its moment of filing is ")


def test_altering_for_tests_leaves_the_guards(filled):
    alter(filled, "UPDATE batches SET notes = 'x'")
    assert [one.partition(":")[0] for one in checked(filled)] == ["Batch 2026-11-24-01"] * 1
