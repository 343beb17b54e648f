"""The notebook's tables as this version uses them.

The migrations build them step by step; a test compares the two.
"""

import json
from typing import Any

import sqlalchemy as sa

# The latest migration. A notebook that carries a higher one is from a newer version.
SCHEMA = "0007"


class _Json(sa.TypeDecorator[Any]):
    """A value as JSON that is always the same for the same value: keys sorted, no spaces,
    characters as they are."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: Any, _dialect: sa.Dialect) -> str | None:
        if value is None:
            return None
        return json.dumps(
            value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        )

    def process_result_value(self, value: str | None, _dialect: sa.Dialect) -> Any:
        return None if value is None else json.loads(value)


# Databases name unnamed constraints each in its own way; later migrations need the names.
metadata = sa.MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

# Written by alembic alone; its name tells a notebook from any other database.
version = sa.Table(
    "snapcurve_version", sa.MetaData(), sa.Column("version_num", sa.Text, primary_key=True)
)


def _table(name: str, *columns: sa.schema.SchemaItem) -> sa.Table:
    """A table whose rows have an id of their own."""
    return sa.Table(name, metadata, sa.Column("id", sa.Integer, primary_key=True), *columns)


batches = _table(
    "batches",
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
    sa.Column("uncertainty_centi_c", sa.Integer),
    sa.Column("uncertainty_at_centi_c", sa.Integer),
    sa.Column("place", sa.Text),
    sa.Column("room_centi_c", sa.Integer),
    sa.Column("mass_mg", sa.BigInteger),
    sa.Column("allergens", _Json),
    sa.Column("calibration", sa.LargeBinary),
    # day and number make the batch code (codes.py)
    sa.UniqueConstraint("day", "day_number"),
)

# The list's order: when a batch began, or was filed if that is not known.
newest_first = sa.func.coalesce(batches.c.started_unix_ms, batches.c.created_unix_ms)
sa.Index("ix_batches_newest", newest_first, batches.c.id)


def _batch_id() -> sa.Column[int]:
    return sa.Column(
        "batch_id", sa.Integer, sa.ForeignKey("batches.id"), nullable=False, index=True
    )


# Boards count with unsigned 32-bit numbers, which need BigInteger.
curves = _table(
    "curves",
    _batch_id(),
    sa.Column("board_id", sa.BigInteger, nullable=False),
    sa.Column("board_name", sa.Text, nullable=False),
    sa.Column("boot", sa.BigInteger, nullable=False),
    sa.Column("curve", sa.Integer, nullable=False),
    sa.Column("generation", sa.BigInteger, nullable=False),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("crc", sa.BigInteger, nullable=False),
    sa.Column("raw", sa.LargeBinary, nullable=False),
    sa.Column("collected_unix_ms", sa.BigInteger, nullable=False),
    # What makes collecting twice, or from two computers, file one batch.
    sa.UniqueConstraint("board_id", "generation", "curve"),
)

marks = _table(
    "marks",
    _batch_id(),
    sa.Column("offset_ms", sa.BigInteger, nullable=False),
    sa.Column("kind", sa.Text, nullable=False, index=True),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("phase", sa.Text, nullable=False),
    sa.Column("estimate_centi_c", sa.Integer),
)

alarms = _table(
    "alarms",
    _batch_id(),
    sa.Column("offset_ms", sa.BigInteger, nullable=False),
    sa.Column("alarm", sa.Text, nullable=False),
    sa.Column("phase", sa.Text, nullable=False),
    sa.Column("estimate_centi_c", sa.Integer),
)

calibrations = _table(
    "calibrations",
    sa.Column("board_id", sa.BigInteger, nullable=False, index=True),
    sa.Column("board_name", sa.Text, nullable=False),
    sa.Column("filed_unix_ms", sa.BigInteger, nullable=False),
    sa.Column("step", sa.Text, nullable=False),
    sa.Column("converter", sa.Text, nullable=False),
    sa.Column("tc_type", sa.Text, nullable=False),
    sa.Column("raw", sa.LargeBinary, nullable=False),
    sa.Column("rehearsal", sa.Boolean, nullable=False),
)

# A correction or a note is never a change of a row above; it is a row here.
entries = _table(
    "entries",
    sa.Column("batch_id", sa.Integer, sa.ForeignKey("batches.id"), index=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("why", sa.Text, nullable=False),
    sa.Column("at_unix_ms", sa.BigInteger, nullable=False),
    sa.Column("utc_offset_min", sa.Integer, nullable=False),
    sa.Column("payload", _Json, nullable=False),
    sa.Index("ix_entries_kind", "kind", "at_unix_ms"),
)

lots = _table(
    "lots",
    _batch_id(),
    # None for what was filed with the batch, else the entry that added it
    sa.Column("entry_id", sa.Integer, sa.ForeignKey("entries.id"), index=True),
    sa.Column("ingredient", sa.Text, nullable=False),
    sa.Column("supplier", sa.Text, nullable=False),
    sa.Column("lot", sa.Text, nullable=False),
    sa.Column("mass_mg", sa.BigInteger),
    sa.Column("allergens", _Json, nullable=False),
    # in ISO 8601, as it stands on the package
    sa.Column("best_before", sa.Text),
)

# The bytes of an entry of kind "picture", as pictures.py makes them.
pictures = _table(
    "pictures",
    sa.Column("entry_id", sa.Integer, sa.ForeignKey("entries.id"), nullable=False, unique=True),
    sa.Column("media_type", sa.Text, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("sha256", sa.Text, nullable=False),
)

# One chain over everything that was filed (hash_chain.py), and where it ends.
seals = sa.Table(
    "seals",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("item_id", sa.Integer, nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("form", sa.Integer, nullable=False),
    sa.Column("late", sa.Boolean, nullable=False),
    sa.Column("sealed_unix_ms", sa.BigInteger, nullable=False),
    sa.Column("digests", sa.Text, nullable=False),
    sa.Column("hash", sa.Text, nullable=False),
    # the login of a server that filed it, by the server's own word; None where there is none
    sa.Column("filed_by", sa.Text),
    sa.UniqueConstraint("kind", "item_id"),
)

seal_head = sa.Table(
    "seal_head",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("hash", sa.Text, nullable=False),
)

# Search keys (search_words.py), which follow from the rows above. Bytes compare alike everywhere
# only under PostgreSQL's collation "C"; the moment stands in the key so that the newest
# batches with a word are found without sorting all that have it.
_KEY = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
words = sa.Table(
    "words",
    metadata,
    sa.Column("field", _KEY, primary_key=True),
    sa.Column("word", _KEY, primary_key=True),
    sa.Column("newest_unix_ms", sa.BigInteger, primary_key=True, autoincrement=False),
    sa.Column("batch_id", sa.Integer, sa.ForeignKey("batches.id"), primary_key=True, index=True),
)
