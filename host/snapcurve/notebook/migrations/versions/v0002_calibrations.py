"""The history of calibrations, and how far each batch's temperatures could be trusted."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_SQLITE_GUARDS = (
    """CREATE TRIGGER calibrations_never_rewritten BEFORE UPDATE ON calibrations
       BEGIN SELECT RAISE(ABORT, 'a filed calibration is never rewritten'); END""",
    """CREATE TRIGGER calibrations_never_deleted BEFORE DELETE ON calibrations
       BEGIN SELECT RAISE(ABORT, 'a filed calibration is never deleted'); END""",
)
_POSTGRESQL_GUARDS = (
    """CREATE FUNCTION refuse_change_of_calibration() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'a filed calibration is never rewritten or deleted'; END $$""",
    """CREATE TRIGGER calibrations_never_changed BEFORE UPDATE OR DELETE ON calibrations
       FOR EACH ROW EXECUTE FUNCTION refuse_change_of_calibration()""",
)


def upgrade() -> None:
    op.create_table(
        "calibrations",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("board_id", sa.BigInteger, nullable=False),
        sa.Column("board_name", sa.Text, nullable=False),
        sa.Column("filed_unix_ms", sa.BigInteger, nullable=False),
        sa.Column("step", sa.Text, nullable=False),
        sa.Column("converter", sa.Text, nullable=False),
        sa.Column("tc_type", sa.Text, nullable=False),
        sa.Column("raw", sa.LargeBinary, nullable=False),
        sa.Column("rehearsal", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_calibrations"),
    )
    op.create_index("ix_calibrations_board_id", "calibrations", ["board_id"])
    op.add_column("batches", sa.Column("uncertainty_centi_c", sa.Integer))
    op.add_column("batches", sa.Column("uncertainty_at_centi_c", sa.Integer))
    sqlite = op.get_bind().dialect.name == "sqlite"
    for guard in _SQLITE_GUARDS if sqlite else _POSTGRESQL_GUARDS:
        op.execute(guard)
