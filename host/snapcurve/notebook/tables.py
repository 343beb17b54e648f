"""The notebook's tables as this version uses them.

The migrations build them step by step; a test compares the two.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    func,
)

# The latest migration. A notebook that carries a higher one is from a newer version.
SCHEMA = "0002"

# Databases name unnamed constraints each in its own way; later migrations need the names.
metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

# Written by alembic alone; its name tells a notebook from any other database.
version = Table("snapcurve_version", MetaData(), Column("version_num", Text, primary_key=True))

batches = Table(
    "batches",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("day", Text, nullable=False),
    Column("day_number", Integer, nullable=False),
    Column("started_unix_ms", BigInteger),
    Column("utc_offset_min", Integer, nullable=False),
    Column("couverture", Text, nullable=False),
    Column("method", Text, nullable=False),
    Column("profile", LargeBinary, nullable=False),
    Column("couverture_toml", Text),
    Column("rehearsal", Boolean, nullable=False),
    Column("operator", Text),
    Column("notes", Text),
    Column("created_unix_ms", BigInteger, nullable=False),
    Column("uncertainty_centi_c", Integer),
    Column("uncertainty_at_centi_c", Integer),
    # day and number make the batch code (codes.py)
    UniqueConstraint("day", "day_number"),
)

# The list's order: when a batch began, or was filed where nobody knows when it began.
newest_first = func.coalesce(batches.c.started_unix_ms, batches.c.created_unix_ms)
Index("ix_batches_newest", newest_first, batches.c.id)


def _batch_id() -> Column[int]:
    return Column("batch_id", Integer, ForeignKey("batches.id"), nullable=False, index=True)


# Boards count with unsigned 32-bit numbers, which need BigInteger.
curves = Table(
    "curves",
    metadata,
    Column("id", Integer, primary_key=True),
    _batch_id(),
    Column("board_id", BigInteger, nullable=False),
    Column("board_name", Text, nullable=False),
    Column("boot", BigInteger, nullable=False),
    Column("curve", Integer, nullable=False),
    Column("generation", BigInteger, nullable=False),
    Column("size", BigInteger, nullable=False),
    Column("crc", BigInteger, nullable=False),
    Column("raw", LargeBinary, nullable=False),
    Column("collected_unix_ms", BigInteger, nullable=False),
    # What makes collecting twice, or from two computers, file one batch.
    UniqueConstraint("board_id", "generation", "curve"),
)

marks = Table(
    "marks",
    metadata,
    Column("id", Integer, primary_key=True),
    _batch_id(),
    Column("offset_ms", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("phase", Text, nullable=False),
    Column("estimate_centi_c", Integer),
)

alarms = Table(
    "alarms",
    metadata,
    Column("id", Integer, primary_key=True),
    _batch_id(),
    Column("offset_ms", BigInteger, nullable=False),
    Column("alarm", Text, nullable=False),
    Column("phase", Text, nullable=False),
    Column("estimate_centi_c", Integer),
)

calibrations = Table(
    "calibrations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("board_id", BigInteger, nullable=False, index=True),
    Column("board_name", Text, nullable=False),
    Column("filed_unix_ms", BigInteger, nullable=False),
    Column("step", Text, nullable=False),
    Column("converter", Text, nullable=False),
    Column("tc_type", Text, nullable=False),
    Column("raw", LargeBinary, nullable=False),
    Column("rehearsal", Boolean, nullable=False),
)
