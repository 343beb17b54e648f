"""The notebook itself: filing batches and reading them back."""

from __future__ import annotations

import dataclasses
import hashlib
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from types import TracebackType

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import IntegrityError

from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import (
    bench_work,
    database,
    guards,
    hash_chain,
    integrity,
    leftovers,
    pictures,
    queries,
    rows,
    tables,
    tracing,
    whole_records,
)
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.checks import check_batch
from snapcurve.notebook.cleaning import MissingCleaning, missing_cleanings
from snapcurve.notebook.database import sentences
from snapcurve.notebook.entries import lot_of
from snapcurve.notebook.location import place_of
from snapcurve.notebook.records import (
    AmendedBatch,
    Batch,
    BatchRow,
    Calibration,
    ChainEnd,
    Entry,
    Leftover,
    NewBatch,
    NewCurve,
    NewEntry,
    Picture,
    Search,
)
from snapcurve.notebook.tracing import Trace
from snapcurve.notebook.vocabulary import WHY_A_MISTAKE
from snapcurve.notebook.whole_records import Piece, Recording
from snapcurve.notebook.wholes import Wholes
from snapcurve.notebook.witnesses import DIGITS, Vouched, Witness, compared

BY_ITSELF = "snapcurve"  # who says so, where no person does


def open_notebook(
    where: str | None = None, *, wait_s: float = 5.0, called: str | None = None
) -> Notebook:
    """As `snapcurve.notebook.open_notebook`; sentences name it `called` when that is given."""
    place = place_of(where)
    engine, name = database.connect(place, wait_s, called)
    return Notebook(engine, name, place if isinstance(place, Path) else None)


class Notebook:
    """An open notebook. Every method raises SnapcurveError when the database fails.

    An SQLite file is held open only during a call, so no other program is kept waiting.
    """

    def __init__(self, engine: Engine, name: str, path: Path | None) -> None:
        """`name` is what a person may read; `path` the file of an SQLite notebook."""
        self.name = name
        self.path = path
        self.engine = engine
        self._writing = engine.execution_options(writes=True)

    def __enter__(self) -> Notebook:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def file_batch(self, new: NewBatch) -> Batch:
        """File a batch in one transaction; when this returns, it is on the disk.

        Filing a curve that is already there changes nothing and returns the batch that holds
        it. Raises RecordError when the curve does not fit its CRC-32, or when the one filed under
        the same name has other bytes; SnapcurveError for text that no database keeps.
        """
        _refuse_damaged(new.curve)
        check_batch(new)
        with self._filing() as connection:
            batch_id = _filed_before(connection, new.curve)
            if batch_id is None:
                batch_id = rows.insert_batch(connection, new)
                if new.mistake:
                    payload = {"field": "mistake", "value": True}
                    entry = NewEntry("amendment", BY_ITSELF, payload, WHY_A_MISTAKE)
                    rows.insert_entry(connection, batch_id, entry)
            return rows.read_batch(connection, batch_id)

    def add_entry(self, new: NewEntry, code_or_id: str | None = None) -> Entry:
        """Add an entry to a batch, or to the bench when none is named; nothing is changed.

        Raises SnapcurveError when the entry says nothing or there is no such batch.
        """
        return self.add_entries([new], code_or_id)[0]

    def add_entries(self, new: Sequence[NewEntry], code_or_id: str | None = None) -> list[Entry]:
        """Add several entries, or none if one of them cannot be; see `add_entry`."""
        # before the transaction: looking at a picture may take a second
        shown = [one.picture if one.kind == "picture" else None for one in new]
        kept = [None if raw is None else pictures.kept(raw) for raw in shown]
        with self._filing() as connection:
            batch_id = None if code_or_id is None else queries.find_batch(connection, code_or_id)
            came: tuple[Leftover, ...] = ()
            if batch_id is not None:
                came = bench_work.Holds(connection, [batch_id]).leftovers(batch_id)
            ids = []
            for one, picture in zip(new, kept, strict=True):
                ids.append(rows.insert_entry(connection, batch_id, one, picture, came))
                if one.kind == "lot" and batch_id is not None:
                    bench_work.refuse_circle(connection, batch_id, lot_of(one.payload))
            return rows.entries_where(connection, tables.entries.c.id.in_(ids))

    def file_calibration(self, new: Calibration) -> None:
        """File what a board was calibrated with; nothing filed before is touched."""
        with self._filing() as connection:
            rows.insert_calibration(connection, new)

    def batch(self, code_or_id: str) -> Batch:
        """The batch with this code or id, or the newest for "last"."""
        with self._reading() as connection:
            return rows.read_batch(connection, queries.find_batch(connection, code_or_id))

    def history(self, code_or_id: str) -> list[Entry]:
        """All entries of a batch, oldest first."""
        with self._reading() as connection:
            return rows.read_entries(connection, [queries.find_batch(connection, code_or_id)])

    def as_amended(self, code_or_id: str) -> AmendedBatch:
        """A batch as filed, as it stands now, and which entries changed what."""
        with self._reading() as connection:
            batch_id = queries.find_batch(connection, code_or_id)
            rows.read_batch(connection, batch_id)  # which refuses one without a curve
            return whole_records.as_amended(connection, [batch_id], self._with_picture)[batch_id]

    def id_of(self, code_or_id: str) -> int:
        """The id of the batch with this code or id, or of the newest for "last"."""
        with self._reading() as connection:
            return queries.find_batch(connection, code_or_id)

    def pieces(self, ids: Sequence[int]) -> dict[int, tuple[Piece, ...]]:
        """Of each of these records all records of its batch, as far as the notebook has them
        without a gap, in the order in which they were recorded, with their curves."""
        with self._reading() as connection:
            return whole_records.pieces_of(connection, ids, self._with_picture)

    def recordings(self, ids: Sequence[int]) -> dict[int, dict[int, Recording]]:
        """The curves alone of what `pieces` gives, by the ids of the records, in the same order:
        far sooner, and nothing is held against the chain."""
        with self._reading() as connection:
            return whole_records.recordings_of(connection, ids)

    def outcomes(self, ids: Sequence[int]) -> dict[int, list[Entry]]:
        """The outcomes of each of these batches, oldest first."""
        found: dict[int, list[Entry]] = {one: [] for one in ids}
        with self._reading() as connection:
            for entry in rows.read_entries(connection, ids, ["outcome"]):
                found[entry.batch_id or 0].append(entry)
        return found

    def unknown(self, codes: Iterable[str]) -> list[str]:
        """Those of these codes that no batch has."""
        every = list(codes)
        with self._reading() as connection:
            known = leftovers.batches_named(connection, every)
            return [one for one in every if one not in known]

    def picture(self, entry_id: int) -> Picture:
        """The picture of an entry, as it is kept.

        Raises RecordError when its bytes no longer fit their SHA-256, or are gone.
        """
        its = tables.pictures.c
        query = select(its.media_type, its.content, its.sha256).where(its.entry_id == entry_id)
        with self._reading() as connection:
            row = connection.execute(query).first()
        if row is None or hashlib.sha256(row.content).hexdigest() != row.sha256:
            raise RecordError(
                f"The picture of entry {entry_id} is missing or damaged; restore a backup of the"
                " notebook."
            )
        return Picture(row.media_type, bytes(row.content))

    def bench_entries(self, kind: str | None = None) -> list[Entry]:
        """The entries that belong to no batch, such as cleanings, or those of this kind, oldest
        first."""
        its = tables.entries.c
        condition = its.batch_id.is_(None)
        with self._reading() as connection:
            return rows.entries_where(
                connection, condition if kind is None else condition & (its.kind == kind)
            )

    def newest_leftover(self, couverture: str) -> tuple[str, int | None] | None:
        """The newest batch of this couverture, and no rehearsal, of whose leftover something is
        there yet: its code, and how much in mg, None if that was not weighed."""
        with self._reading() as connection:
            return tracing.newest_leftover(connection, couverture)

    def best_before(self, lot: str) -> str | None:
        """The day that was last noted for a lot of this number; None: none was."""
        with self._reading() as connection:
            return queries.best_before(connection, lot)

    def batches(self, limit: int | None = None, mistakes: bool = False) -> list[BatchRow]:
        """The newest `limit` batches, or all, newest first.

        A batch of unknown time stands where it was filed. With `mistakes` those too that were
        started by mistake.
        """
        return self.search(Search(mistakes=mistakes), limit)

    def search(self, sought: Search, limit: int | None = None) -> list[BatchRow]:
        """The newest `limit` batches that are as sought, or all, newest first.

        The lines show what was filed; a batch is found by its amendments too. Raises
        SnapcurveError for an outcome that is not in the vocabulary.
        """
        with self._reading() as connection:
            return queries.search(connection, sought, limit)

    def trace(self, name: str, mistakes: bool = False, rehearsals: bool = False) -> Trace:
        """Every batch that has or had this lot, or leftover of this batch, to the end; of a
        batch's code also all that went into it.

        The lot's number is compared without regard to case and to the width of spaces. With
        `mistakes` those too that were started by mistake, with `rehearsals` those as well.
        """
        with self._reading() as connection:
            return tracing.trace(connection, name, mistakes, rehearsals)

    def lots_like(self, lot: str) -> list[str]:
        """Numbers of lots that a person may have meant by one that is not there."""
        with self._reading() as connection:
            return queries.lots_like(connection, lot)

    def lots_spelled_otherwise(self, lot: str) -> list[str]:
        """Numbers of lots that differ from this one in spaces and hyphens alone."""
        with self._reading() as connection:
            return queries.lots_spelled_otherwise(connection, lot)

    def allergens(self, ids: Sequence[int]) -> dict[int, Allergens]:
        """What each of these batches holds, as it stands with its entries."""
        with self._reading() as connection:
            return bench_work.allergens_of_ids(connection, ids)

    def missing_cleanings(
        self, started_unix_ms: Iterable[int | None] | None = None
    ) -> list[MissingCleaning]:
        """Batches that followed an allergen at their bench without a cleaning between.

        All of them, or those around batches that began then, looking back a month.
        Rehearsals are left out, and batches of unknown time, which cannot be put in order.
        """
        span = bench_work.EVER if started_unix_ms is None else bench_work.span_of(started_unix_ms)
        if span is None:
            return []
        with self._reading() as connection:
            return missing_cleanings(*bench_work.worked_and_cleaned(connection, span))

    def has_curve(
        self, board_id: int, generation: int, curve: int, crc: int | None = None
    ) -> bool:
        """Whether this curve is filed; with `crc`, whether with these bytes."""
        with self._reading() as connection:
            row = queries.same_curve(connection, board_id, generation, curve)
        return row is not None and crc in (None, row.crc)

    def parts(self, code_or_id: str) -> list[Batch]:
        """All records of the batch that is in this one, in the order in which they were
        recorded, as far as the notebook has them without a gap."""
        with self._reading() as connection:
            batch_id = queries.find_batch(connection, code_or_id)
            ids = Wholes(connection).of(batch_id)
            return [rows.read_batch(connection, one) for one in ids]

    def curve_raw(self, batch_id: int) -> bytes:
        """The batch's curve exactly as it was downloaded.

        Raises RecordError when its bytes no longer fit their CRC-32.
        """
        curves = tables.curves.c
        query = select(curves.raw, curves.crc).where(curves.batch_id == batch_id)
        with self._reading() as connection:
            row = connection.execute(query.order_by(curves.id)).first()
        if row is None:
            raise SnapcurveError(
                f"The notebook has no curve of a batch with id {batch_id}; name another one."
            )
        if zlib.crc32(row.raw) != row.crc:
            raise RecordError(
                f"The stored curve of the batch with id {batch_id} is damaged; restore a backup"
                " of the notebook."
            )
        return bytes(row.raw)

    def filed_raw(self, board_id: int, generation: int, curve: int) -> bytes:
        """The bytes of a curve that is filed; RecordError when they no longer fit their CRC-32."""
        with self._reading() as connection:
            row = queries.same_curve(connection, board_id, generation, curve)
        return self.curve_raw(row.batch_id)

    def calibrations(self, board_id: int) -> list[Calibration]:
        """The history of one board's calibrations, oldest first."""
        with self._reading() as connection:
            return rows.read_calibrations(connection, board_id)

    def check(self, progress: Callable[[int, int], None] | None = None) -> list[str]:
        """A sentence for everything in the notebook that is not as it was filed.

        Each names the batch, entry or calibration, or the guard that is not as it was made.
        What no check without a witness can find is said in `hash_chain`. `progress` is told how
        many seals of how many were gone through.
        """
        with self._reading() as connection:
            found = guards.problems(connection)
            return found + integrity.problems(connection, *([progress] if progress else ()))

    def index_troubles(self) -> list[str]:
        """A sentence for each batch that is not found by the words of its record."""
        with self._reading() as connection:
            return integrity.index_troubles(connection)

    def clock_steps(self) -> list[str]:
        """A sentence for all that, by its moments, was not filed in the order of the chain."""
        with self._reading() as connection:
            return integrity.clock_steps(connection)

    def chain_end(self) -> ChainEnd:
        """Number and hash of the last seal, to be written down outside the notebook."""
        with self._reading() as connection:
            return hash_chain.end(connection)

    def notebook_number(self) -> int:
        """What tells this notebook from others, 32 bits of the hash of its first seal; 0 while
        there is none."""
        with self._reading() as connection:
            return int(hash_chain.hash_at(connection, 1) or "0", 16) >> 224

    def vouched(self, witnesses: Sequence[Witness]) -> Vouched:
        """What these say of the chain."""
        with self._reading() as connection:
            numbers = {one.number for one in witnesses}
            hashes = {one: hash_chain.hash_at(connection, one) or "" for one in numbers}
        return compared([(one, _begins(hashes[one.number], one.hash)) for one in witnesses])

    def holds(self, number: int, seal_hash: str) -> bool:
        """Whether the chain still has this hash, or one that begins so, under this number, as
        written down once.

        Together with `check` that proves that nothing sealed until then was changed. Raises
        SnapcurveError for what was rather written down or typed wrongly: a number after the
        last, or a hash that is the right one in most of its digits.
        """
        with self._reading() as connection:
            end = hash_chain.end(connection)
            held = hash_chain.hash_at(connection, number)
        if number > end.number:
            raise SnapcurveError(
                f"The chain ends with {end.number}, before {number}; compare that with what was"
                " written down: if it is right, this is another notebook, or lost what came last."
            )
        typed = seal_hash.strip().lower()
        if held is not None and not held.startswith(typed) and _is_slip(typed, held):
            raise SnapcurveError(
                f"The digits after {number} are nearly those of the chain; compare them with what"
                " was written down."
            )
        return held is not None and _begins(held, typed)

    def _with_picture(self, entry: Entry) -> Entry:
        if entry.kind != "picture":
            return entry
        return dataclasses.replace(entry, picture=partial(self.picture, entry.id))

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with sentences(self.name), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def _filing(self) -> Iterator[Connection]:
        """A transaction in which nobody else files, from its first statement on."""
        with sentences(self.name):
            try:
                with self._writing.begin() as connection:
                    hash_chain.lock_head(connection)
                    yield connection
            except IntegrityError as error:
                raise RecordError(
                    f"{self.name} does not fit its own records and was not changed; run"
                    " 'snapcurve notebook check'."
                ) from error


def _begins(held: str, written: str) -> bool:
    return len(written) >= DIGITS and held.startswith(written)


def _is_slip(typed: str, held: str) -> bool:
    """Whether somebody meant this hash; other contents have one in 16 of its digits by chance."""
    alike = sum(one == other for one, other in zip(typed, held, strict=False))
    return 2 * alike > len(typed)


def _filed_before(connection: Connection, new: NewCurve) -> int | None:
    """The id of the batch that holds this curve, if one does."""
    row = queries.same_curve(connection, new.board_id, new.generation, new.curve)
    if row is None:
        return None
    if (row.crc, row.size) != (new.crc, len(new.raw)):
        before = rows.code_of_id(connection, row.batch_id)
        raise RecordError(
            f"Curve {new.curve} of board {new.board_name} was filed before as batch"
            f" {before} with other contents and was not filed again; keep the board's copy."
        )
    return int(row.batch_id)


def _refuse_damaged(curve: NewCurve) -> None:
    found = zlib.crc32(curve.raw)
    if found != curve.crc:
        raise RecordError(
            f"Curve {curve.curve} of board {curve.board_name} arrived damaged (CRC-32"
            f" {found:08x}, the board's is {curve.crc:08x}) and was not filed; collect it again."
        )
