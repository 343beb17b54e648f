"""The first schema: the tables as `tables` has them, and guards that refuse every change.

No notebook has been released yet. From the first one on, what this step makes stays as it was
then: write its tables out here before `tables` changes, and put the change into a step of its own.
"""

from alembic import op
from sqlalchemy import insert

from snapcurve.notebook import hash_chain, tables

revision = "0001"
down_revision = None

_SQLITE_HEAD = (
    """CREATE TRIGGER seal_head_goes_on BEFORE UPDATE ON seal_head
       WHEN NEW.id <> OLD.id OR NEW.number <> OLD.number + 1
       BEGIN SELECT RAISE(ABORT, 'the chain of seals only grows'); END""",
    """CREATE TRIGGER seal_head_never_deleted BEFORE DELETE ON seal_head
       BEGIN SELECT RAISE(ABORT, 'the chain of seals only grows'); END""",
)
_POSTGRESQL_HEAD = (
    """CREATE FUNCTION refuse_change_of_seal_head() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'the chain of seals only grows'; END $$""",
    """CREATE TRIGGER seal_head_goes_on BEFORE UPDATE ON seal_head FOR EACH ROW
       WHEN (NEW.id <> OLD.id OR NEW.number <> OLD.number + 1)
       EXECUTE FUNCTION refuse_change_of_seal_head()""",
    """CREATE TRIGGER seal_head_never_deleted BEFORE DELETE OR TRUNCATE ON seal_head
       FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_seal_head()""",
    """CREATE FUNCTION refuse_change_of_record() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'what was recorded is never rewritten or deleted'; END $$""",
)


def upgrade() -> None:
    connection = op.get_bind()
    tables.metadata.create_all(connection)
    connection.execute(insert(tables.seal_head).values(id=1, number=0, hash=hash_chain.NOTHING))
    sqlite = connection.dialect.name == "sqlite"
    for guard in _SQLITE_HEAD if sqlite else _POSTGRESQL_HEAD:
        op.execute(guard)
    for table in sorted({*tables.metadata.tables} - {tables.seal_head.name}):
        for guard in _never_changed(table, sqlite):
            op.execute(guard)


def _never_changed(table: str, sqlite: bool) -> list[str]:
    if not sqlite:
        return [
            f"""CREATE TRIGGER {table}_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE
                ON {table} FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_record()"""
        ]
    return [
        f"""CREATE TRIGGER {table}_never_{done} BEFORE {change} ON {table}
            BEGIN SELECT RAISE(ABORT, 'what was recorded is never {done}'); END"""
        for change, done in (("UPDATE", "rewritten"), ("DELETE", "deleted"))
    ]
