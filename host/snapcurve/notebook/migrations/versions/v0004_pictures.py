"""Pictures of entries, kept as they are and never changed."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

_SQLITE_GUARDS = tuple(
    f"""CREATE TRIGGER pictures_never_{done} BEFORE {change} ON pictures
       BEGIN SELECT RAISE(ABORT, 'what was recorded is never {done}'); END"""
    for change, done in (("UPDATE", "rewritten"), ("DELETE", "deleted"))
)
_POSTGRESQL_GUARDS = (
    """CREATE TRIGGER pictures_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE
       ON pictures FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_record()""",
)


def upgrade() -> None:
    op.create_table(
        "pictures",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("entry_id", sa.Integer, nullable=False),
        sa.Column("media_type", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_pictures"),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_pictures_entry_id"),
        sa.UniqueConstraint("entry_id", name="uq_pictures_entry_id"),
    )
    sqlite = op.get_bind().dialect.name == "sqlite"
    for guard in _SQLITE_GUARDS if sqlite else _POSTGRESQL_GUARDS:
        op.execute(guard)
