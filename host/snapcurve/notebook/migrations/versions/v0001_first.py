"""The first schema: batches, curves, marks, alarms; curves that refuse to be rewritten."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_SQLITE_GUARDS = (
    """CREATE TRIGGER curves_never_rewritten
       BEFORE UPDATE OF batch_id, board_id, boot, curve, generation, size, crc, raw ON curves
       BEGIN SELECT RAISE(ABORT, 'a filed curve is never rewritten'); END""",
    """CREATE TRIGGER curves_never_deleted BEFORE DELETE ON curves
       BEGIN SELECT RAISE(ABORT, 'a filed curve is never deleted'); END""",
)
_POSTGRESQL_GUARDS = (
    """CREATE FUNCTION refuse_change_of_curve() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'a filed curve is never rewritten or deleted'; END $$""",
    """CREATE TRIGGER curves_never_rewritten
       BEFORE UPDATE OF batch_id, board_id, boot, curve, generation, size, crc, raw ON curves
       FOR EACH ROW EXECUTE FUNCTION refuse_change_of_curve()""",
    """CREATE TRIGGER curves_never_deleted BEFORE DELETE ON curves
       FOR EACH ROW EXECUTE FUNCTION refuse_change_of_curve()""",
)


def upgrade() -> None:
    op.create_table(
        "batches",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("day", sa.Text, nullable=False),
        sa.Column("day_number", sa.Integer, nullable=False),
        sa.Column("started_unix_ms", sa.BigInteger),
        sa.Column("utc_offset_min", sa.Integer, nullable=False),
        sa.Column("couverture", sa.Text, nullable=False),
        sa.Column("method", sa.Text, nullable=False),
        sa.Column("profile", sa.LargeBinary, nullable=False),
        sa.Column("couverture_toml", sa.Text),
        sa.Column("rehearsal", sa.Boolean, nullable=False),
        sa.Column("operator", sa.Text),
        sa.Column("notes", sa.Text),
        sa.Column("created_unix_ms", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_batches"),
        sa.UniqueConstraint("day", "day_number", name="uq_batches_day"),
    )
    op.create_index(
        "ix_batches_newest",
        "batches",
        [sa.text("coalesce(started_unix_ms, created_unix_ms)"), "id"],
    )
    op.create_table(
        "curves",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("batch_id", sa.Integer, nullable=False),
        sa.Column("board_id", sa.BigInteger, nullable=False),
        sa.Column("board_name", sa.Text, nullable=False),
        sa.Column("boot", sa.BigInteger, nullable=False),
        sa.Column("curve", sa.Integer, nullable=False),
        sa.Column("generation", sa.BigInteger, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("crc", sa.BigInteger, nullable=False),
        sa.Column("raw", sa.LargeBinary, nullable=False),
        sa.Column("collected_unix_ms", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_curves"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_curves_batch_id"),
        sa.UniqueConstraint("board_id", "generation", "curve", name="uq_curves_board_id"),
    )
    op.create_table(
        "marks",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("batch_id", sa.Integer, nullable=False),
        sa.Column("offset_ms", sa.BigInteger, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("phase", sa.Text, nullable=False),
        sa.Column("estimate_centi_c", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_marks"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_marks_batch_id"),
    )
    op.create_table(
        "alarms",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("batch_id", sa.Integer, nullable=False),
        sa.Column("offset_ms", sa.BigInteger, nullable=False),
        sa.Column("alarm", sa.Text, nullable=False),
        sa.Column("phase", sa.Text, nullable=False),
        sa.Column("estimate_centi_c", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_alarms"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_alarms_batch_id"),
    )
    for table in ("curves", "marks", "alarms"):
        op.create_index(f"ix_{table}_batch_id", table, ["batch_id"])
    sqlite = op.get_bind().dialect.name == "sqlite"
    for guard in _SQLITE_GUARDS if sqlite else _POSTGRESQL_GUARDS:
        op.execute(guard)
