"""Lots, masses, room and place; entries; seals over everything; search words; no changes.

What was filed before is sealed and indexed by `migrations.migrate` in the same transaction.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_KEY = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NEVER_CHANGED = ("batches", "marks", "alarms", "entries", "lots", "seals", "words")

_SQLITE_CURVES = (
    "DROP TRIGGER curves_never_rewritten",
    """CREATE TRIGGER curves_never_rewritten BEFORE UPDATE ON curves
       BEGIN SELECT RAISE(ABORT, 'a filed curve is never rewritten'); END""",
)
_SQLITE_HEAD = (
    """CREATE TRIGGER seal_head_goes_on BEFORE UPDATE ON seal_head
       WHEN NEW.id <> OLD.id OR NEW.number <> OLD.number + 1
       BEGIN SELECT RAISE(ABORT, 'the chain of seals only grows'); END""",
    """CREATE TRIGGER seal_head_never_deleted BEFORE DELETE ON seal_head
       BEGIN SELECT RAISE(ABORT, 'the chain of seals only grows'); END""",
)
_POSTGRESQL_CURVES = (
    "DROP TRIGGER curves_never_rewritten ON curves",
    """CREATE TRIGGER curves_never_rewritten BEFORE UPDATE OR TRUNCATE ON curves
       FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_curve()""",
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


def _guards(sqlite: bool) -> list[str]:
    if not sqlite:
        return [
            f"""CREATE TRIGGER {table}_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE
                ON {table} FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_record()"""
            for table in _NEVER_CHANGED
        ]
    return [
        f"""CREATE TRIGGER {table}_never_{done} BEFORE {change} ON {table}
            BEGIN SELECT RAISE(ABORT, 'what was recorded is never {done}'); END"""
        for table in _NEVER_CHANGED
        for change, done in (("UPDATE", "rewritten"), ("DELETE", "deleted"))
    ]


def upgrade() -> None:
    for column in (
        sa.Column("place", sa.Text),
        sa.Column("room_centi_c", sa.Integer),
        sa.Column("mass_mg", sa.BigInteger),
        sa.Column("allergens", sa.Text),
        sa.Column("calibration", sa.LargeBinary),
    ):
        op.add_column("batches", column)
    op.create_table(
        "entries",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("batch_id", sa.Integer),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("at_unix_ms", sa.BigInteger, nullable=False),
        sa.Column("utc_offset_min", sa.Integer, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_entries"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_entries_batch_id"),
    )
    op.create_index("ix_entries_batch_id", "entries", ["batch_id"])
    op.create_index("ix_entries_kind", "entries", ["kind", "at_unix_ms"])
    op.create_table(
        "lots",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("batch_id", sa.Integer, nullable=False),
        sa.Column("entry_id", sa.Integer),
        sa.Column("ingredient", sa.Text, nullable=False),
        sa.Column("supplier", sa.Text, nullable=False),
        sa.Column("lot", sa.Text, nullable=False),
        sa.Column("mass_mg", sa.BigInteger),
        sa.Column("allergens", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lots"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_lots_batch_id"),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_lots_entry_id"),
    )
    op.create_index("ix_lots_batch_id", "lots", ["batch_id"])
    op.create_index("ix_lots_entry_id", "lots", ["entry_id"])
    op.create_table(
        "seals",
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("item_id", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("form", sa.Integer, nullable=False),
        sa.Column("late", sa.Boolean, nullable=False),
        sa.Column("sealed_unix_ms", sa.BigInteger, nullable=False),
        sa.Column("digests", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_seals"),
        sa.UniqueConstraint("kind", "item_id", name="uq_seals_kind"),
    )
    head = op.create_table(
        "seal_head",
        sa.Column("id", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_seal_head"),
    )
    op.bulk_insert(head, [{"id": 1, "number": 0, "hash": "0" * 64}])
    op.create_table(
        "words",
        sa.Column("field", _KEY, nullable=False),
        sa.Column("word", _KEY, nullable=False),
        sa.Column("newest_unix_ms", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("batch_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("field", "word", "newest_unix_ms", "batch_id", name="pk_words"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_words_batch_id"),
    )
    op.create_index("ix_words_batch_id", "words", ["batch_id"])
    sqlite = op.get_bind().dialect.name == "sqlite"
    first = (
        (*_SQLITE_CURVES, *_SQLITE_HEAD) if sqlite else (*_POSTGRESQL_CURVES, *_POSTGRESQL_HEAD)
    )
    for guard in (*first, *_guards(sqlite)):
        op.execute(guard)
