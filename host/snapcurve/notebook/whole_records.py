"""Batches as they stand, with the curves of all their records: read for a page of batches at once,
so that a list costs one set of questions and not one a batch."""

from __future__ import annotations

import dataclasses
import zlib
from collections.abc import Callable, Sequence

from sqlalchemy import Connection, select

from snapcurve.notebook import bench_work, integrity, leftovers, rows, tables
from snapcurve.notebook.codes import code_of
from snapcurve.notebook.entries import amended
from snapcurve.notebook.records import AmendedBatch, Entry
from snapcurve.notebook.wholes import Wholes


@dataclasses.dataclass(frozen=True)
class Piece:
    """A record of a batch; ``raw`` is its curve as it was downloaded, None if that is missing or
    damaged."""

    batch: AmendedBatch
    raw: bytes | None


@dataclasses.dataclass(frozen=True)
class Recording:
    """The curve of a record as it was downloaded, None if that is missing or damaged, when it
    began, and how far its temperatures may be off."""

    code: str
    started_unix_ms: int | None
    utc_offset_min: int
    uncertainty_centi_c: int | None
    raw: bytes | None


def recordings_of(connection: Connection, ids: Sequence[int]) -> dict[int, dict[int, Recording]]:
    """Of each of these records all records of its batch as `pieces_of`, by their ids: of each
    what was recorded, and nothing else."""
    parts = Wholes(connection).cut(ids)
    every = sorted({one for key in ids for one in parts.get(key, (key,))})
    its = tables.batches.c
    query = select(
        its.id,
        its.day,
        its.day_number,
        its.started_unix_ms,
        its.utc_offset_min,
        its.uncertainty_centi_c,
    )
    raws = curves_of(connection, every)
    found = {
        row.id: Recording(
            code_of(row.day, row.day_number),
            row.started_unix_ms,
            row.utc_offset_min,
            row.uncertainty_centi_c,
            raws.get(row.id),
        )
        for row in connection.execute(query.where(its.id.in_(every)))
    }
    return {key: {one: found[one] for one in parts.get(key, (key,))} for key in ids}


def pieces_of(
    connection: Connection, ids: Sequence[int], with_picture: Callable[[Entry], Entry]
) -> dict[int, tuple[Piece, ...]]:
    """Of each of these records all records of its batch, in the order in which they were
    recorded; the record alone where it is no part of one."""
    parts = Wholes(connection).cut(ids)
    every = sorted({one for key in ids for one in parts.get(key, (key,))})
    found = as_amended(connection, every, with_picture)
    raws = curves_of(connection, every)
    pieces = {one: Piece(found[one], raws.get(one)) for one in every}
    return {key: tuple(pieces[one] for one in parts.get(key, (key,))) for key in ids}


def as_amended(
    connection: Connection, ids: Sequence[int], with_picture: Callable[[Entry], Entry]
) -> dict[int, AmendedBatch]:
    """These batches as filed, as they stand now, and which entries changed what."""
    filed = rows.read_batches(connection, ids)
    entries: dict[int, list[Entry]] = {one: [] for one in ids}
    for entry in rows.read_entries(connection, ids):
        entries[entry.batch_id or 0].append(with_picture(entry))
    holds = bench_work.Holds(connection, ids)
    went = leftovers.went_into(connection, ids)
    altered = integrity.not_as_filed(connection, ids)
    logins = rows.logins_of(connection, ids)
    found = {}
    for one, batch in filed.items():
        whole = amended(batch, entries[one])
        lots = tuple(map(holds.with_allergens, whole.now.lots))
        found[one] = dataclasses.replace(
            whole,
            now=dataclasses.replace(whole.now, lots=lots),
            leftovers=holds.leftovers(one),
            went_into=went[one],
            not_as_filed=tuple(altered.get(one, ())),
            filed_by=logins.get(one),
        )
    return found


def curves_of(connection: Connection, ids: Sequence[int]) -> dict[int, bytes]:
    """The curves of these records that still fit their CRC-32."""
    its = tables.curves.c
    query = select(its.batch_id, its.raw, its.crc).where(its.batch_id.in_(ids)).order_by(its.id)
    found: dict[int, bytes] = {}
    for row in connection.execute(query).all():
        if zlib.crc32(row.raw) == row.crc:
            found.setdefault(row.batch_id, bytes(row.raw))
    return found
