"""Files that a person names: the one place where they are opened for reading.

A device may never end, a pipe may never begin, and a wrong file may be larger than the memory:
only an ordinary file of a sensible size is read.
"""

import csv
import io
import logging
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.plain_text import visible

_log = logging.getLogger(__name__)

KIB, MIB = 1024, 1024 * 1024
_KINDS = (
    (stat.S_ISDIR, "it is a folder"),
    (stat.S_ISFIFO, "it is a pipe"),
    (stat.S_ISSOCK, "it is a socket"),
    (stat.S_ISCHR, "it is a device"),
    (stat.S_ISBLK, "it is a device"),
)


class NoSuchFile(SnapcurveError):
    """There is nothing of that name."""


def read_bytes(path: Path, what: str, most: int) -> bytes:
    """The bytes of ``path``, which messages call ``what`` ("tape").

    NoSuchFile if there is none, SnapcurveError if it is no ordinary file or has more than
    ``most`` bytes, RecordError if the computer refuses.
    """
    with _opened(path, what, most) as file:
        raw = file.read(most + 1)
    if len(raw) > most:
        raise _too_large(path, what, most)
    return raw


def read_text(path: Path, what: str, most: int) -> str:
    """The text of ``path``, UTF-8 with or without a byte order mark; else as read_bytes, and
    SnapcurveError with the line that is no UTF-8."""
    return text_of(read_bytes(path, what, most), path)


def text_of(raw: bytes, path: Path) -> str:
    """The text that was read from ``path`` as ``raw``; errors as in read_text."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # the decoder counts from behind a byte order mark
        line = error.object.count(b"\n", 0, error.start) + 1
        raise SnapcurveError(
            f"{visible(str(path))}, line {line}: this is not UTF-8 text; save the file as UTF-8."
        ) from error


def read_table(
    path: Path, what: str, most: int, columns: tuple[str, ...], fewest: int
) -> Iterator[tuple[int, dict[str, str]]]:
    """The rows of a CSV file under its head: the line of each, and its cells by column.

    Blanks around cells are removed, rows of nothing else left out. Of ``columns`` those after
    the first ``fewest`` may be missing; their cells are empty then. Errors as in read_text, and
    SnapcurveError for another head and for a stray quotation mark.
    """
    rows = _rows(path, what, most)
    _, head = next(rows, (1, []))
    names = tuple(cell.lower() for cell in head)
    if len(names) < fewest or names != columns[: len(names)]:
        raise SnapcurveError(
            f"{visible(str(path))}, line 1: these are not the columns of a {what}; name them "
            f"{','.join(columns)} ({' and '.join(columns[fewest:])} may be left out)."
        )
    for line, cells in rows:
        if any(cells):
            yield line, dict(zip(columns, cells + [""] * len(columns), strict=False))


def _rows(path: Path, what: str, most: int) -> Iterator[tuple[int, list[str]]]:
    text = read_text(path, what, most)
    reader = csv.reader(io.StringIO(text, newline=None), strict=True)  # any kind of line end
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise _unclosed(path, line) from error
        if reader.line_num != line:
            raise _unclosed(path, line)
        yield line, [cell.strip() for cell in cells]


@contextmanager
def _opened(path: Path, what: str, most: int) -> Iterator[BinaryIO]:
    if "\0" in str(path):
        raise SnapcurveError(f"{visible(str(path))} cannot be the name of a file: check it.")
    with file_errors(f"read the {what} {visible(str(path))}"):
        try:
            # Looked at before it is opened, which wakes some devices, and once more after.
            _refuse_odd(path, what, most, os.stat(path))
            with open(path, "rb", opener=_without_waiting) as file:
                _refuse_odd(path, what, most, os.fstat(file.fileno()))
                _log.debug("reading the %s %s", what, path)
                yield file
        except FileNotFoundError as error:
            raise NoSuchFile(
                f"There is no {what} {visible(str(path))}: check the name."
            ) from error


def _without_waiting(name: str, flags: int) -> int:
    """A pipe that took the file's place meanwhile must not hold us up."""
    return os.open(name, flags | getattr(os, "O_NONBLOCK", 0))


def _refuse_odd(path: Path, what: str, most: int, found: os.stat_result) -> None:
    if not stat.S_ISREG(found.st_mode):
        kind = next((words for is_it, words in _KINDS if is_it(found.st_mode)), "it is odd")
        raise SnapcurveError(
            f"{visible(str(path))} cannot be read as a {what}: {kind}; name an ordinary file."
        )
    if found.st_size > most:
        raise _too_large(path, what, most)


def _too_large(path: Path, what: str, most: int) -> SnapcurveError:
    size = f"{most // MIB} MiB" if most >= MIB else f"{most // KIB} KiB"
    return SnapcurveError(
        f"{visible(str(path))} is larger than {size}, too large for a {what}: check that it is "
        "the right file."
    )


def _unclosed(path: Path, line: int) -> SnapcurveError:
    return SnapcurveError(
        f"{visible(str(path))}, line {line}: there is a stray quotation mark; remove it."
    )
