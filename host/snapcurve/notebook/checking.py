"""Whether the notebook still holds what was filed: all of it, and nothing else.

The chain itself is described in `sealing`.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, select, table
from sqlalchemy.exc import DBAPIError

from . import indexing, sealing, sqlite_file, tables
from .codes import code_of

_RESTORE = "restore a backup of the notebook."
_SEAL_COLUMNS = "number kind item_id name form late sealed_unix_ms digests hash"
_PARTS = {
    "batches": "its own fields",
    "curves": "its curve",
    "marks": "its marks",
    "alarms": "its alarms",
    "lots": "its lots",
    "entries": "its own fields",
    "calibrations": "its own fields",
}
_ITEM_TABLES = {
    "batch": tables.batches,
    "entry": tables.entries,
    "calibration": tables.calibrations,
}


def problems(connection: Connection) -> list[str]:
    """A sentence for each batch, entry, calibration or seal that is not as it was filed."""
    found: list[str] = []
    if connection.dialect.name == "sqlite":
        found += sqlite_file.structure_problems(connection)
    codes = _codes(connection)
    try:
        seals: Sequence[Row[Any]] = connection.execute(
            select(*sealing.raw_columns(_SEAL_COLUMNS))
            .select_from(table("seals"))
            .order_by(tables.seals.c.number)
        ).all()
    except DBAPIError:
        seals = []
        found.append(f"The chain of seals cannot be read; {_RESTORE}")
    found += _chain_troubles(connection, seals, codes)
    sealed: dict[str, set[Any]] = {kind: set() for kind in _ITEM_TABLES}
    troubled: set[Any] = set()
    for row in seals:
        sealed.setdefault(row.kind, set()).add(row.item_id)
        trouble = _item_trouble(connection, row)
        if trouble:
            found.append(f"{_label(connection, row, codes)}: {trouble}; {_RESTORE}")
            troubled.add((row.kind, row.item_id))
    found += _unsealed(connection, sealed, codes)
    for batch_id, code in codes.items():
        if ("batch", batch_id) not in troubled and indexing.is_wrong(connection, batch_id):
            found.append(
                f"Batch {code}: it is not found by the words of its record, because its search"
                f" words were altered; {_RESTORE}"
            )
    return found


def _codes(connection: Connection) -> dict[int, str]:
    batches = tables.batches.c
    query = select(batches.id, batches.day, batches.day_number).order_by(batches.id)
    try:
        return {row.id: code_of(row.day, row.day_number) for row in connection.execute(query)}
    except (DBAPIError, TypeError, ValueError):
        return _readable_codes(connection)


def _readable_codes(connection: Connection) -> dict[int, str]:
    """The codes of those batches whose code can be read at all."""
    batches, codes = tables.batches.c, {}
    for batch_id in connection.execute(select(batches.id)).scalars().all():
        query = select(batches.day, batches.day_number).where(batches.id == batch_id)
        try:
            row = connection.execute(query).one()
            codes[batch_id] = code_of(row.day, row.day_number)
        except (DBAPIError, TypeError, ValueError):
            continue
    return codes


def _chain_troubles(
    connection: Connection, seals: Sequence[Row[Any]], codes: dict[int, str]
) -> list[str]:
    """Seals that do not follow from the one before, and an end that is not the last one."""
    found = []
    # A seal that was altered does not hide what follows: the next fits either what the
    # altered one holds or what it should hold.
    possible, number = {sealing.NOTHING}, 0
    for row in seals:
        wanted = {previous: sealing.hash_of(previous, row._mapping) for previous in possible}
        label = _label(connection, row, codes)
        if row.number != number + 1:
            found.append(
                f"{label}: the seal before its own, number {row.number}, is missing; {_RESTORE}"
            )
        elif row.hash not in wanted.values():
            found.append(
                f"{label}: its seal, number {row.number}, was altered or does not fit the one"
                f" before; {_RESTORE}"
            )
        possible, number = {row.hash, *wanted.values()}, row.number
    head = tables.seal_head.c
    end = connection.execute(select(head.id, head.number, head.hash)).all()
    wanted_end = (1, number, seals[-1].hash if seals else sealing.NOTHING)
    if [tuple(row) for row in end] != [wanted_end]:
        last = f"its last seal is that of {_label(connection, seals[-1], codes)}" if seals else ""
        found.append(
            "What was filed last is missing, or the end of the chain of seals was altered"
            f"{': ' + last if last else ''}; {_RESTORE}"
        )
    return found


def _label(connection: Connection, seal: Row[Any], codes: dict[int, str]) -> str:
    """What a person calls the item of a seal; both names where they differ."""
    if seal.kind == "calibration":
        return f"Calibration {seal.item_id} of {seal.name}"
    if seal.kind == "batch":
        now = codes.get(seal.item_id, seal.name)
        return f"Batch {seal.name}" + (f" (now called {now})" if now != seal.name else "")
    query = select(tables.entries.c.batch_id).where(tables.entries.c.id == seal.item_id)
    try:
        now = codes.get(connection.scalar(query) or 0, seal.name)
    except DBAPIError:
        now = seal.name
    batch = f"Batch {seal.name}, entry" if seal.name else "Entry"
    also = f" (now of {now})" if now != seal.name else ""
    return f"{batch} {seal.item_id}{also}"


def _item_trouble(connection: Connection, seal: Row[Any]) -> str:
    if (
        not isinstance(seal.item_id, int)
        or seal.form not in sealing.FORMS
        or seal.kind not in sealing.FORMS[seal.form]
    ):
        return "its seal cannot be understood"
    key = _ITEM_TABLES[seal.kind].c.id
    try:
        if connection.scalar(select(key).where(key == seal.item_id)) is None:
            return "it is missing"
        if seal.kind == "batch" and (trouble := _curve_trouble(connection, seal.item_id)):
            return trouble
        now = sealing.digests(connection, seal.form, seal.kind, seal.item_id)
    except DBAPIError:
        return "it cannot be read"
    return "" if now == seal.digests else _where(now, str(seal.digests))


def _where(now: str, filed: str) -> str:
    """Which parts of an item differ, by the digests of its tables."""
    known = dict(part.partition("=")[::2] for part in filed.split(" "))
    parts = [
        _PARTS[name]
        for name, _, digest in (part.partition("=") for part in now.split(" "))
        if known.get(name) != digest
    ]
    if not parts:
        return "its seal was altered"
    return f"{' and '.join(parts)} differ from what was filed"


def _curve_trouble(connection: Connection, batch_id: int) -> str:
    curves = tables.curves.c
    query = select(curves.raw, curves.size, curves.crc).where(curves.batch_id == batch_id)
    try:
        rows = connection.execute(query.order_by(curves.id)).all()
    except DBAPIError:
        return "its curve cannot be read"
    if not rows:
        return "it has lost its curve"
    row = rows[0]
    if not isinstance(row.raw, bytes | memoryview):
        return "its curve cannot be read"
    if len(row.raw) != row.size:
        return f"its curve has {len(row.raw)} bytes where {row.size} were filed"
    crc = zlib.crc32(row.raw)
    if crc != row.crc:
        filed = f"{row.crc:08x}" if isinstance(row.crc, int) else repr(row.crc)
        return f"its curve's CRC-32 is {crc:08x} where {filed} was filed"
    return ""


def _unsealed(
    connection: Connection, sealed: dict[str, set[Any]], codes: dict[int, str]
) -> list[str]:
    """Rows that no seal knows of."""
    found = []
    for kind, its_table in _ITEM_TABLES.items():
        for item_id in connection.execute(select(its_table.c.id)).scalars():
            if item_id not in sealed[kind]:
                name = codes.get(item_id, item_id) if kind == "batch" else item_id
                found.append(f"{kind.capitalize()} {name}: it was never sealed; {_RESTORE}")
    for child in (tables.curves, tables.marks, tables.alarms, tables.lots, tables.words):
        query = select(child.c.batch_id).distinct()
        for batch_id in connection.execute(query).scalars():
            if batch_id not in codes:
                found.append(
                    f"Something in {child.name} belongs to batch number {batch_id}, which is"
                    f" missing; {_RESTORE}"
                )
    return found
