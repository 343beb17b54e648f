"""The day that stands on a lot's bag; and the few marks that say which batch goes on in which
record, found without reading all marks."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.add_column("lots", sa.Column("best_before", sa.Text))
    op.create_index("ix_marks_kind", "marks", ["kind"])
