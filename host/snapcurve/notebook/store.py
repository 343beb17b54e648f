"""The notebook itself: filing batches and reading them back."""

from __future__ import annotations

import zlib
from pathlib import Path
from types import TracebackType

from sqlalchemy import Engine, select
from sqlalchemy.exc import IntegrityError

from snapcurve.errors import RecordError, SnapcurveError

from . import backups, checking, rows, tables
from .boundary import sentences
from .records import Batch, BatchRow, Calibration, NewBatch, NewCurve

# Filing is tried again when another bench took the same number of the day first. Each
# collision means that some bench has succeeded, so this many only meet in a fault.
_TRIES = 20


class Notebook:
    """An open notebook. Every method raises SnapcurveError when the database fails.

    An SQLite file is held open only during a call, so no other program is kept waiting.
    """

    def __init__(self, engine: Engine, name: str, path: Path | None) -> None:
        """`name` is what a person may read; `path` the file of an SQLite notebook."""
        self.name = name
        self.path = path
        self._engine = engine
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
        self._engine.dispose()

    def file_batch(self, new: NewBatch) -> Batch:
        """File a batch in one transaction; when this returns, it is on the disk.

        Filing a curve that is already there, from this or another computer, changes
        nothing and returns the batch that holds it. Raises RecordError when the curve does
        not fit its CRC-32, or when the one filed under the same name has other bytes;
        SnapcurveError for text that no database keeps.
        """
        _refuse_damaged(new.curve)
        _refuse_lossy_text(new)
        with sentences(self.name):
            for _ in range(_TRIES):
                try:
                    with self._writing.begin() as connection:
                        batch_id = rows.insert_batch(connection, new)
                        return rows.read_batch(connection, batch_id)
                except IntegrityError as error:
                    # The unique constraint decides, so two computers cannot both be first.
                    before = self._filed_before(new.curve)
                    if before is not None:
                        return before
                    refusal = error
            raise refusal

    def has_curve(
        self, board_id: int, generation: int, curve: int, crc: int | None = None
    ) -> bool:
        """Whether this curve is filed; with `crc`, whether with these bytes."""
        with sentences(self.name), self._engine.connect() as connection:
            row = connection.execute(rows.same_curve(board_id, generation, curve)).first()
        return row is not None and crc in (None, row.crc)

    def batches(self, limit: int | None = None) -> list[BatchRow]:
        """The newest `limit` batches, or all, newest first.

        A batch of unknown time stands where it was filed.
        """
        with sentences(self.name), self._engine.connect() as connection:
            return [rows.line(row) for row in connection.execute(rows.lines(limit))]

    def batch(self, code_or_id: str) -> Batch:
        """The batch with this code or id, or the newest for "last"."""
        with sentences(self.name), self._engine.connect() as connection:
            return rows.read_batch(connection, rows.find_batch(connection, code_or_id))

    def curve_raw(self, batch_id: int) -> bytes:
        """The batch's curve exactly as it was downloaded.

        Raises RecordError when its bytes no longer fit their CRC-32.
        """
        curves = tables.curves.c
        query = select(curves.raw, curves.crc).where(curves.batch_id == batch_id)
        with sentences(self.name), self._engine.connect() as connection:
            row = connection.execute(query.order_by(curves.id)).first()
        if row is None:
            raise SnapcurveError(f"The notebook has no curve of a batch with id {batch_id}.")
        if zlib.crc32(row.raw) != row.crc:
            raise RecordError(
                f"The stored curve of the batch with id {batch_id} is damaged; restore a backup"
                " of the notebook."
            )
        return bytes(row.raw)

    def file_calibration(self, new: Calibration) -> None:
        """File what a board was calibrated with; nothing filed before is touched."""
        with sentences(self.name), self._writing.begin() as connection:
            rows.insert_calibration(connection, new)

    def calibrations(self, board_id: int) -> list[Calibration]:
        """The history of one board's calibrations, oldest first."""
        with sentences(self.name), self._engine.connect() as connection:
            return rows.read_calibrations(connection, board_id)

    def check(self) -> list[str]:
        """A sentence for everything in the notebook that is not as it was filed."""
        with sentences(self.name), self._engine.connect() as connection:
            return checking.problems(connection)

    def backup(self, path: str) -> None:
        """Copy the notebook to the new file `path`, also while others write to it.

        Raises SnapcurveError when the file exists or cannot be written, and for a notebook
        on a server.
        """
        backups.backup(self._engine, self.path, path)

    def _filed_before(self, new: NewCurve) -> Batch | None:
        """The batch that holds this curve, if one does."""
        with self._engine.connect() as connection:
            query = rows.same_curve(new.board_id, new.generation, new.curve)
            row = connection.execute(query).first()
            if row is None:
                return None
            before = rows.read_batch(connection, row.batch_id)
        if (row.crc, row.size) != (new.crc, len(new.raw)):
            raise RecordError(
                f"Curve {new.curve} of board {new.board_name} was filed before as batch"
                f" {before.code} with other contents; nothing was changed, and the board should"
                " keep its copy."
            )
        return before


def _refuse_damaged(curve: NewCurve) -> None:
    found = zlib.crc32(curve.raw)
    if found != curve.crc:
        raise RecordError(
            f"Curve {curve.curve} of board {curve.board_name} arrived damaged (CRC-32"
            f" {found:08x}, the board's is {curve.crc:08x}) and was not filed; collect it again."
        )


def _refuse_lossy_text(new: NewBatch) -> None:
    """NUL ends a text in some databases; half a surrogate pair has no UTF-8 form."""
    texts = {
        "couverture's name": new.couverture,
        "couverture's file": new.couverture_toml,
        "operator's name": new.operator,
        "notes": new.notes,
        "board's name": new.curve.board_name,
    }
    for what, text in texts.items():
        if any(char == "\0" or "\ud800" <= char <= "\udfff" for char in text or ""):
            raise SnapcurveError(
                f"The {what} contains a character that cannot be stored; type it anew."
            )
