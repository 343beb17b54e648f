"""The hash chain: one chain of SHA-256 seals over everything a notebook holds.

Each batch (with its curve, marks, alarms and lots), each entry (with the lots and the picture
it adds) and each calibration is an *item*. Filing an item appends one row to `seals`, in the
transaction that files it:

- ``digests``: for every table of the item ``table=HEX``, separated by a space; HEX is the
  SHA-256 of ``snapcurve:FORM:TABLE:ROWS:`` and then `_row_bytes` of each row, the columns as
  listed in FORMS, the rows by their id.
- ``hash``: the SHA-256 of `_row_bytes` of the hash of the seal before (64 zeros for the
  first), ``snapcurve``, and number, kind, item id, name, form, late, moment, digests, and from
  form 4 on the login that filed it.

`seal_head` holds number and hash of the last seal, so that a last item which was deleted
with its seal is missed as well. Hashed is what a SELECT gives back, in the same transaction.

**One chain for the notebook**: chains for each batch would not notice a batch that is gone
altogether. The price is that writers queue: each takes the row of `seal_head` first (SELECT
... FOR UPDATE; on SQLite BEGIN IMMEDIATE has done that) and holds it for some milliseconds.

**On PostgreSQL the database seals** (`migrations/versions/v0006_filed_by.py`), since a bench that
could write seals could spoil the chain for all; a test holds the two against each other.

**What no such chain can find**: somebody who can write to the database and has this source
can change a row, compute every later seal anew, and the head; or cut the chain off and pull the
head back. Against that helps only an end of the chain that is kept elsewhere (`witnesses`: on
sheets, labels, boards, in backups): a later notebook must still contain that hash under that
number.

Items filed before seals existed are sealed by the migration, marked ``late``: their seals
vouch from that moment on.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

from sqlalchemy import (
    Connection,
    Executable,
    Row,
    TextClause,
    bindparam,
    func,
    insert,
    select,
    text,
    update,
)

from snapcurve.errors import RecordError
from snapcurve.notebook import tables
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.records import ChainEnd

NOTHING = "0" * 64

_LOT_COLUMNS = "id batch_id entry_id ingredient supplier lot mass_mg allergens"

# What each kind of item is made of: table, its columns, and the column (after a condition)
# that holds the item's id.
# A form is never changed; a new column is a new form, which new items are sealed with.
FORMS: dict[int, dict[str, tuple[tuple[str, str, str], ...]]] = {
    1: {
        "batch": (
            (
                "batches",
                "id day day_number started_unix_ms utc_offset_min couverture method profile"
                " couverture_toml rehearsal operator notes created_unix_ms"
                " uncertainty_centi_c uncertainty_at_centi_c place room_centi_c mass_mg"
                " allergens calibration",
                "id",
            ),
            (
                "curves",
                "id batch_id board_id board_name boot curve generation size crc raw"
                " collected_unix_ms",
                "batch_id",
            ),
            ("marks", "id batch_id offset_ms kind number phase estimate_centi_c", "batch_id"),
            ("alarms", "id batch_id offset_ms alarm phase estimate_centi_c", "batch_id"),
            ("lots", _LOT_COLUMNS, "entry_id IS NULL AND batch_id"),
        ),
        "entry": (
            ("entries", "id batch_id kind who why at_unix_ms utc_offset_min payload", "id"),
            ("lots", _LOT_COLUMNS, "entry_id"),
        ),
        "calibration": (
            (
                "calibrations",
                "id board_id board_name filed_unix_ms step converter tc_type raw rehearsal",
                "id",
            ),
        ),
    }
}
_ENTRY = FORMS[1]["entry"]
_PICTURES = ("pictures", "id entry_id media_type content sha256", "entry_id")
FORMS[2] = {**FORMS[1], "entry": (*_ENTRY, _PICTURES)}
FORMS[3] = {
    kind: tuple(
        (table, f"{columns} best_before" if table == "lots" else columns, belonging)
        for table, columns, belonging in parts
    )
    for kind, parts in FORMS[2].items()
}
# With it the login that filed an item is sealed too.
FORMS[4] = FORMS[3]
_WITH_LOGIN = 4
FORM = max(FORMS)

ItemRows = dict[str, list[Row[Any]]]


def _row_bytes(values: Iterable[Any]) -> bytes:
    """The values of a row, each with its type and length, so that no two rows are alike.

    None is ``n;``, an integer or truth value ``i12;``, text ``t5:`` and its UTF-8, bytes
    ``b5:`` and themselves, a floating-point number (no column has any; a damaged one may)
    ``f`` and its shortest text.
    """
    whole, said = b"", list[str]()  # texts are joined before they become bytes, which is quicker
    for value in values:
        if type(value) is int or isinstance(value, bool):
            said.append(f"i{value:d};")
        elif value is None:
            said.append("n;")
        elif isinstance(value, str):
            size = len(value) if value.isascii() else len(_bytes_of(value))
            said.append(f"t{size}:{value}")
        elif isinstance(value, float):
            said.append(f"f{value!r};")
        else:
            content = bytes(value)
            whole += _bytes_of("".join(said)) + b"b%d:%b" % (len(content), content)
            said.clear()
    return whole + _bytes_of("".join(said))


def _bytes_of(text: str) -> bytes:
    """In UTF-8. SQLite keeps bytes that are no text in a column of texts; see
    sqlite_file.read_any_text."""
    return text.encode(errors="surrogateescape")


def lock_head(connection: Connection) -> tuple[int, str]:
    """Number and hash of the last seal; until the transaction ends nobody else files."""
    head = tables.seal_head.c
    query: Executable = select(head.number, head.hash).with_for_update()
    if connection.dialect.name == "postgresql":
        query = text("SELECT number, hash FROM snapcurve_lock()")
    row = connection.execute(query).first()
    if row is None:
        raise RecordError(
            "The notebook has lost the end of its chain of seals; run 'snapcurve notebook"
            " check' and restore a backup."
        )
    return row.number, row.hash


def end(connection: Connection) -> ChainEnd:
    """Where the chain ends, and how many of its seals are late."""
    seals = tables.seals.c
    query = select(seals.number, seals.hash).order_by(seals.number.desc())
    row = connection.execute(query.limit(1)).first()
    number, last = (0, NOTHING) if row is None else (row.number, row.hash)
    late = select(func.count(), func.max(seals.sealed_unix_ms)).where(seals.late)
    return ChainEnd(number, last, *connection.execute(late).one())


def hash_at(connection: Connection, number: int) -> str | None:
    """The hash of one seal, None where there is none."""
    if number == 0:
        return NOTHING
    seals = tables.seals.c
    return connection.scalar(select(seals.hash).where(seals.number == number))


def seal(
    connection: Connection, kind: str, item_id: int, name: str, *, late: bool = False
) -> None:
    """Append the seal of an item that was just filed."""
    if connection.dialect.name == "postgresql" and not late:
        connection.execute(
            text("SELECT snapcurve_seal(:kind, :id)"), {"kind": kind, "id": item_id}
        )
        return
    number, previous = lock_head(connection)
    values: dict[str, Any] = {
        "number": number + 1,
        "kind": kind,
        "item_id": item_id,
        "name": name,
        "form": FORM,
        "late": late,
        "sealed_unix_ms": time.time_ns() // 1_000_000,
        "digests": digests_of(FORM, rows_of(connection, FORM, kind, [item_id])[item_id]),
        "filed_by": None,
    }
    new = hash_of(previous, values)
    connection.execute(insert(tables.seals).values(**values, hash=new))
    connection.execute(update(tables.seal_head).values(number=number + 1, hash=new))


def hash_of(previous: str, seal_row: Any) -> str:
    """What the hash of this seal must be after a seal with the hash `previous`."""
    names = ["number", "kind", "item_id", "name", "form", "late", "sealed_unix_ms", "digests"]
    if seal_row["form"] >= _WITH_LOGIN:
        names.append("filed_by")
    content = _row_bytes([previous, "snapcurve", *(seal_row[name] for name in names)])
    return hashlib.sha256(content).hexdigest()


def rows_of(
    connection: Connection, form: int, kind: str, ids: Sequence[int]
) -> dict[int, ItemRows]:
    """Every row of each of these items, table by table, as the driver gives it: no type of
    ours turns a truth value of 2 into 1."""
    parts = FORMS[form][kind]
    found: dict[int, ItemRows] = {one: {name: [] for name, _, _ in parts} for one in ids}
    for name, columns, belonging in parts:
        query = raw_query(name, columns, f"WHERE {belonging} IN :ids ORDER BY id")
        at = columns.split().index(belonging.rpartition(" ")[2])
        for row in connection.execute(query, {"ids": list(ids)}).all():
            found[row[at]][name].append(row)
    return found


def digests_of(form: int, rows: ItemRows) -> str:
    """The digest of every table of an item."""
    return " ".join(f"{name}={_digest(form, name, found)}" for name, found in rows.items())


@cache
def raw_query(name: str, columns: str, rest: str) -> TextClause:
    """A SELECT of these columns without the conversions of their types; ":ids" in `rest` is
    a list."""
    # With its table before it: SQLite takes the quoted name of a column that is gone for a text.
    listed = ", ".join(f'{name}."{one}"' for one in columns.split())
    query = text(f"SELECT {listed} FROM {name} {rest}")
    return query.bindparams(bindparam("ids", expanding=True)) if ":ids" in rest else query


def _digest(form: int, name: str, rows: Sequence[Row[Any]]) -> str:
    digest = hashlib.sha256(b"snapcurve:%d:%b:%d:" % (form, name.encode(), len(rows)))
    for row in rows:
        digest.update(_row_bytes(row))
    return digest.hexdigest()


def seal_what_is_older(connection: Connection) -> None:
    """Seal all that was filed before there were seals, in the order of filing."""
    calibrations, batches = tables.calibrations.c, tables.batches.c
    items = [
        (row.filed_unix_ms, 0, row.id, "calibration", calibration_name(row.board_id))
        for row in connection.execute(
            select(calibrations.filed_unix_ms, calibrations.id, calibrations.board_id)
        )
    ] + [
        (row.created_unix_ms, 1, row.id, "batch", code_of(row.day, row.day_number))
        for row in connection.execute(
            select(batches.created_unix_ms, batches.id, batches.day, batches.day_number)
        )
    ]
    for _, _, item_id, kind, name in sorted(items):
        seal(connection, kind, item_id, name, late=True)


def calibration_name(board_id: int) -> str:
    """What a calibration's seal is called."""
    return f"board {board_id}"
