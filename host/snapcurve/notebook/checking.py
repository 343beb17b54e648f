"""Whether the notebook still holds what was filed."""

from __future__ import annotations

import zlib

from sqlalchemy import Connection, select
from sqlalchemy.exc import DBAPIError

from . import sqlite_file, tables
from .codes import code_of


def problems(connection: Connection) -> list[str]:
    """A sentence for each batch or curve that is damaged, and for a damaged file."""
    found: list[str] = []
    if connection.dialect.name == "sqlite":
        found += sqlite_file.structure_problems(connection)
    batches, curves = tables.batches.c, tables.curves.c
    query = (
        select(batches.day, batches.day_number, curves.id.label("curve_id"))
        .select_from(tables.batches.outerjoin(tables.curves))
        .order_by(batches.id, curves.id)
    )
    # Ids first and bytes one curve at a time: memory stays small, and one damaged page does
    # not hide the curves behind it.
    for row in connection.execute(query).all():
        trouble = (
            "it has lost its curve"
            if row.curve_id is None
            else _curve_trouble(connection, row.curve_id)
        )
        if trouble:
            code = code_of(row.day, row.day_number)
            found.append(f"Batch {code}: {trouble}; restore a backup of the notebook.")
    return found


def _curve_trouble(connection: Connection, curve_id: int) -> str:
    curves = tables.curves.c
    query = select(curves.raw, curves.size, curves.crc).where(curves.id == curve_id)
    try:
        row = connection.execute(query).one()
    except DBAPIError:
        return "its curve cannot be read"
    if len(row.raw) != row.size:
        return f"its curve has {len(row.raw)} bytes where {row.size} were filed"
    crc = zlib.crc32(row.raw)
    if crc != row.crc:
        return f"its curve's CRC-32 is {crc:08x} where {row.crc:08x} was filed"
    return ""
