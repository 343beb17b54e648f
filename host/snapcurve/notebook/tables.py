"""The notebook's tables as this version uses them.

The migrations build them step by step; a test compares the two.
"""

import json
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    func,
)

# The latest migration. A notebook that carries a higher one is from a newer version.
SCHEMA = "0003"


class _Json(TypeDecorator[Any]):
    """A value as JSON that is always the same for the same value: keys sorted, no spaces,
    characters as they are."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, _dialect: Dialect) -> str | None:
        if value is None:
            return None
        return json.dumps(
            value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        )

    def process_result_value(self, value: str | None, _dialect: Dialect) -> Any:
        return None if value is None else json.loads(value)


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
    Column("place", Text),
    Column("room_centi_c", Integer),
    Column("mass_mg", BigInteger),
    Column("allergens", _Json),
    Column("calibration", LargeBinary),
    # day and number make the batch code (codes.py)
    UniqueConstraint("day", "day_number"),
)

# The list's order: when a batch began, or was filed if that is not known.
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

# A correction or a note is never a change of a row above; it is a row here.
entries = Table(
    "entries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("batch_id", Integer, ForeignKey("batches.id"), index=True),
    Column("kind", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("at_unix_ms", BigInteger, nullable=False),
    Column("utc_offset_min", Integer, nullable=False),
    Column("payload", _Json, nullable=False),
    Index("ix_entries_kind", "kind", "at_unix_ms"),
)

lots = Table(
    "lots",
    metadata,
    Column("id", Integer, primary_key=True),
    _batch_id(),
    # None for what was filed with the batch, else the entry that added it
    Column("entry_id", Integer, ForeignKey("entries.id"), index=True),
    Column("ingredient", Text, nullable=False),
    Column("supplier", Text, nullable=False),
    Column("lot", Text, nullable=False),
    Column("mass_mg", BigInteger),
    Column("allergens", _Json, nullable=False),
)

# One chain over everything that was filed (hash_chain.py), and where it ends.
seals = Table(
    "seals",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("kind", Text, nullable=False),
    Column("item_id", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("form", Integer, nullable=False),
    Column("late", Boolean, nullable=False),
    Column("sealed_unix_ms", BigInteger, nullable=False),
    Column("digests", Text, nullable=False),
    Column("hash", Text, nullable=False),
    UniqueConstraint("kind", "item_id"),
)

seal_head = Table(
    "seal_head",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, nullable=False),
    Column("hash", Text, nullable=False),
)

# Search keys (search_words.py), which follow from the rows above. Bytes compare alike everywhere
# only under PostgreSQL's collation "C"; the moment stands in the key so that the newest
# batches with a word are found without sorting all that have it.
_KEY = Text().with_variant(Text(collation="C"), "postgresql")
words = Table(
    "words",
    metadata,
    Column("field", _KEY, primary_key=True),
    Column("word", _KEY, primary_key=True),
    Column("newest_unix_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("batch_id", Integer, ForeignKey("batches.id"), primary_key=True, index=True),
)
