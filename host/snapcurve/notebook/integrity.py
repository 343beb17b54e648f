"""Whether the notebook still holds what was filed: all of it, and nothing else.

The chain itself is described in `hash_chain`.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, select
from sqlalchemy.exc import DBAPIError

from snapcurve.notebook import hash_chain, rows, search_words, sqlite_file, tables
from snapcurve.notebook.codes import code_of

_Item = TypeVar("_Item")
_AT_ONCE, _PICTURES_AT_ONCE = 50, 4
_CLOCKS_APART_MS = 120_000  # so far apart clocks of several benches are let be
_SEAL_COLUMNS = "number kind item_id name form late sealed_unix_ms digests hash filed_by"
_SEALS_AT_ONCE = 500  # a database limits how many values a question may name
_SEALS_OF = {
    kind: hash_chain.raw_query(
        "seals", _SEAL_COLUMNS, f"WHERE kind = '{kind}' AND item_id IN :ids ORDER BY number"
    )
    for kind in ("batch", "entry")
}
_PARTS = {
    "batches": "its own fields",
    "curves": "its curve",
    "marks": "its marks",
    "alarms": "its alarms",
    "lots": "its lots",
    "entries": "its own fields",
    "pictures": "its picture",
    "calibrations": "its own fields",
}
_ITEM_TABLES = {
    "batch": tables.batches,
    "entry": tables.entries,
    "calibration": tables.calibrations,
}


def _no_progress(_done: int, _total: int) -> None:
    """Nobody wants to know."""


def problems(
    connection: Connection, progress: Callable[[int, int], None] = _no_progress
) -> list[str]:
    """A sentence for each batch, entry, calibration or seal that is not as it was filed;
    ``progress`` is told how many seals of how many were gone through."""
    if connection.dialect.name != "sqlite":
        return _content_problems(connection, progress)
    structure = sqlite_file.structure_problems(connection)
    sqlite_file.read_any_text(connection)
    # names that were damaged are no text any more
    found = _content_problems(connection, progress)
    return structure + [one.encode(errors="replace").decode() for one in found]


def _content_problems(connection: Connection, progress: Callable[[int, int], None]) -> list[str]:
    found: list[str] = []
    codes = _codes(connection)
    try:
        query = hash_chain.raw_query("seals", _SEAL_COLUMNS, "ORDER BY number")
        seals: Sequence[Row[Any]] = connection.execute(query).all()
    except DBAPIError:
        seals = []
        found.append("The hash chain cannot be read.")
    found += _chain_troubles(connection, seals, codes)
    sealed: dict[str, set[Any]] = {kind: set() for kind in _ITEM_TABLES}
    for row in seals:
        sealed.setdefault(row.kind, set()).add(row.item_id)
    for row, trouble in _item_troubles(connection, seals, progress):
        found.append(f"{_label(connection, row, codes)}: {trouble}.")
    found += _unsealed(connection, sealed, codes)
    return found


def index_troubles(connection: Connection) -> list[str]:
    """A sentence for each batch whose search words are not those of its record: it is found by
    others. They follow from the record, and are none."""
    if connection.dialect.name == "sqlite":
        sqlite_file.read_any_text(connection)
    codes = _codes(connection)
    return [
        f"Batch {codes[one]}: it is not found by the words of its record, because its search"
        " words were altered."
        for some in _parts_of(list(codes))
        for one in sorted(search_words.wrong(connection, some))
        if one in codes
    ]


def not_as_filed(connection: Connection, ids: Sequence[int]) -> dict[int, list[str]]:
    """Of these batches those that are not as they were filed, or an entry of which is not: a
    sentence for each. Whether the chain is whole, `problems` says."""
    entries = tables.entries.c
    query = select(entries.id, entries.batch_id).where(entries.batch_id.in_(ids))
    of = {("entry", row.id): row.batch_id for row in connection.execute(query).all()}
    of |= {("batch", one): one for one in ids}
    seals = [
        row
        for kind in ("batch", "entry")
        for some in _parts_of([one for its, one in of if its == kind], _SEALS_AT_ONCE)
        for row in connection.execute(_SEALS_OF[kind], {"ids": list(some)}).all()
    ]
    found: dict[int, list[str]] = {}

    def say(key: tuple[str, int], name: str, trouble: str) -> None:
        found.setdefault(of[key], []).append(f"{name}: {trouble}.")

    before = _hashes_at(connection, [row.number - 1 for row in seals])
    for row in seals:
        if hash_chain.hash_of(before.get(row.number - 1, ""), row._mapping) != row.hash:
            say((row.kind, row.item_id), _sealed_name(row), "its seal was altered")
    for row, trouble in _item_troubles(connection, seals):
        say((row.kind, row.item_id), _sealed_name(row), trouble)
    for kind, item_id in of.keys() - {(row.kind, row.item_id) for row in seals}:
        code = rows.code_of_id(connection, of[kind, item_id])
        say((kind, item_id), _name(kind, item_id, code, ""), "it was never sealed")
    return found


def _hashes_at(connection: Connection, numbers: Sequence[int]) -> dict[int, str]:
    seals = tables.seals.c
    found = {0: hash_chain.NOTHING}
    for some in _parts_of(sorted(set(numbers)), _SEALS_AT_ONCE):
        query = select(seals.number, seals.hash).where(seals.number.in_(some))
        found |= {row.number: row.hash for row in connection.execute(query).all()}
    return found


def _sealed_name(seal: Row[Any]) -> str:
    return _name(seal.kind, seal.item_id, seal.name, seal.name)


def clock_steps(connection: Connection) -> list[str]:
    """A sentence for each seal with an earlier moment than one before it, and for each batch with
    another moment of filing than its seal: some clock was wrong, or somebody dated it back."""
    seals, batches = tables.seals.c, tables.batches.c
    columns = (seals.number, seals.kind, seals.item_id, seals.name, seals.sealed_unix_ms)
    found, latest_ms = [], 0
    query = select(*columns, seals.late, batches.created_unix_ms).outerjoin(
        tables.batches, (seals.kind == "batch") & (batches.id == seals.item_id)
    )
    for row in connection.execute(query.order_by(seals.number)):
        sealed_ms, name = row.sealed_unix_ms, _name(row.kind, row.item_id, row.name, row.name)
        if latest_ms - sealed_ms > _CLOCKS_APART_MS:
            span = _span(latest_ms - sealed_ms)
            found.append(f"{name}: by the clock it was sealed {span} before what precedes it.")
        latest_ms = max(latest_ms, sealed_ms)
        filed_ms = sealed_ms if row.late else row.created_unix_ms or sealed_ms
        if abs(sealed_ms - filed_ms) > _CLOCKS_APART_MS:
            span = _span(abs(sealed_ms - filed_ms))
            found.append(f"{name}: its moment of filing is {span} from that of its seal.")
    return found


def _span(span_ms: int) -> str:
    minutes = round(span_ms / 60_000)
    if minutes < 120:
        return f"{minutes} min"
    return f"{round(minutes / 60)} h" if minutes < 2880 else f"{round(minutes / 1440)} days"


def _codes(connection: Connection) -> dict[int, str]:
    """The code of each batch, by its id; of those whose code can be read at all."""
    its = tables.batches.c
    unreadable = (DBAPIError, TypeError, ValueError)
    with suppress(*unreadable):
        query = select(its.id, its.day, its.day_number).order_by(its.id)
        return {row.id: code_of(row.day, row.day_number) for row in connection.execute(query)}
    codes = {}
    for batch_id in connection.execute(select(its.id)).scalars().all():
        with suppress(*unreadable):
            codes[batch_id] = rows.code_of_id(connection, batch_id)
    return codes


def _chain_troubles(
    connection: Connection, seals: Sequence[Row[Any]], codes: dict[int, str]
) -> list[str]:
    """Seals that do not follow from the one before, and an end that is not the last one."""
    found = []
    # A seal that was altered does not hide what follows: the next fits either what the
    # altered one holds or what it should hold.
    possible, number = [hash_chain.NOTHING], 0
    for row in seals:
        fitting = [hash_chain.hash_of(previous, row._mapping) for previous in possible]
        trouble = ""
        if row.number != number + 1:
            trouble = f"the seal before its own, number {row.number}, is missing"
        elif row.hash not in fitting:
            trouble = f"its seal, number {row.number}, was altered or does not fit the one before"
        if trouble:
            found.append(f"{_label(connection, row, codes)}: {trouble}.")
        # never many, so that a chain that is spoilt all along is read through as fast
        possible = [row.hash, *fitting][:3] if row.hash not in fitting else [row.hash]
        number = row.number
    head = tables.seal_head.c
    end = connection.execute(select(head.id, head.number, head.hash)).all()
    right_end = (1, number, seals[-1].hash if seals else hash_chain.NOTHING)
    if [tuple(row) for row in end] != [right_end]:
        last = f"its last seal is that of {_label(connection, seals[-1], codes)}" if seals else ""
        found.append(
            "What was filed last is missing, or the end of the chain was altered"
            f"{': ' + last if last else ''}."
        )
    return found


def _name(kind: str, item_id: Any, code: str, board: str) -> str:
    """What a person calls an item."""
    if kind == "batch":
        return f"Batch {code or item_id}"
    if kind == "calibration":
        return f"Calibration {item_id} of {board}"
    return f"Batch {code}, entry {item_id}" if code else f"Entry {item_id}"


def _label(connection: Connection, seal: Row[Any], codes: dict[int, str]) -> str:
    """What the item of a seal is called; both names where they differ."""
    name = _name(seal.kind, seal.item_id, seal.name, seal.name)
    if seal.kind == "calibration":
        return name
    batch_id = seal.item_id
    if seal.kind != "batch":
        its = tables.entries.c
        query = select(its.id, its.batch_id).where(its.id == seal.item_id)
        try:
            entry = connection.execute(query).first()
        except DBAPIError:
            entry = None
        if entry is not None and entry.batch_id is None:  # whatever its seal says
            return _name(seal.kind, seal.item_id, "", "")
        batch_id = None if entry is None else entry.batch_id
    now = codes.get(batch_id, seal.name)
    return name if now == seal.name else f"{name} (now of {now})"


def _item_troubles(
    connection: Connection,
    seals: Sequence[Row[Any]],
    progress: Callable[[int, int], None] = _no_progress,
) -> Iterator[tuple[Row[Any], str]]:
    """Each seal whose item is not as it was sealed, and what is wrong."""
    alike: dict[tuple[int, str], list[Row[Any]]] = {}
    for row in seals:
        known = hash_chain.FORMS.get(row.form, {})
        if isinstance(row.item_id, int) and row.kind in known:
            alike.setdefault((row.form, row.kind), []).append(row)
        else:
            yield row, "its seal cannot be understood"
    done = 0
    for (form, kind), same in alike.items():
        heavy = _with_picture(connection) if kind == "entry" else set()
        light = [row for row in same if row.item_id not in heavy]
        for some in _parts_of(light):
            yield from _troubles_of(connection, form, kind, some)
            done += len(some)
            progress(done, len(seals))
        for some in _parts_of([row for row in same if row.item_id in heavy], _PICTURES_AT_ONCE):
            yield from _troubles_of(connection, form, kind, some)
            done += len(some)
            progress(done, len(seals))


def _with_picture(connection: Connection) -> set[Any]:
    """The entries that have a picture."""
    with suppress(DBAPIError):
        return set(connection.execute(select(tables.pictures.c.entry_id)).scalars())
    return set()


def _troubles_of(
    connection: Connection, form: int, kind: str, seals: Sequence[Row[Any]]
) -> Iterator[tuple[Row[Any], str]]:
    try:
        found = hash_chain.rows_of(connection, form, kind, [row.item_id for row in seals])
    except (DBAPIError, OverflowError):
        if len(seals) == 1:
            yield seals[0], "it cannot be read"
        else:  # which?
            for row in seals:
                yield from _troubles_of(connection, form, kind, [row])
        return
    for row in seals:
        if trouble := _item_trouble(row, found[row.item_id]):
            yield row, trouble


def _item_trouble(seal: Row[Any], found: hash_chain.ItemRows) -> str:
    if not found[_ITEM_TABLES[seal.kind].name]:
        return "it is missing"
    # The curve says more about itself, also of one that was damaged before it was sealed.
    trouble = _curve_trouble(found["curves"]) if seal.kind == "batch" else ""
    now = hash_chain.digests_of(seal.form, found)
    return trouble or ("" if now == seal.digests else _where(now, str(seal.digests)))


def _parts_of(items: Sequence[_Item], most: int = _AT_ONCE) -> Iterator[Sequence[_Item]]:
    """So many at once that memory stays small; one that cannot be read is found among them."""
    for begin in range(0, len(items), most):
        yield items[begin : begin + most]


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


def _curve_trouble(curves: Sequence[Row[Any]]) -> str:
    if not curves:
        return "it has lost its curve"
    row = curves[0]
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
    # what each kind has beside its id, to name it by
    beside = {"batch": "id", "entry": "batch_id", "calibration": "board_id"}
    for kind, its_table in _ITEM_TABLES.items():
        query = select(its_table.c.id, its_table.c[beside[kind]].label("of"))
        for row in connection.execute(query.order_by(its_table.c.id)):
            if row.id in sealed[kind]:
                continue
            name = _name(kind, row.id, codes.get(row.of, ""), f"board {row.of}")
            found.append(f"{name}: it was never sealed.")
    for child in (tables.curves, tables.marks, tables.alarms, tables.lots, tables.words):
        query = select(child.c.batch_id).distinct()
        for batch_id in connection.execute(query).scalars():
            if batch_id not in codes:
                found.append(
                    f"Something in {child.name} belongs to batch number {batch_id}, which is"
                    f" missing."
                )
    query = select(tables.pictures.c.entry_id).outerjoin(tables.entries)
    for entry_id in connection.execute(query.where(tables.entries.c.id.is_(None))).scalars():
        found.append(f"A picture belongs to entry {entry_id}, which is missing.")
    return found
