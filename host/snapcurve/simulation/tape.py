"""Measured series from CSV files, checked before they reach the board."""

import math
from dataclasses import dataclass
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.shown.file_lines import one_line
from snapcurve.shown.input_files import MIB, read_table

COLUMNS = ("seconds", "probe_c", "ambient_c", "fault")
# The names of the converter's faults and its fault status bits (wire.catalogue.FAULTS).
LOWEST_C, HIGHEST_C = -200.0, 250.0
FILE_BYTES_MAX = 16 * MIB  # two days of four readings a second


@dataclass(frozen=True)
class TapeRow:
    """One row; ``probe_c`` None where the logger missed the sample, ``fault`` bits."""

    seconds: float
    probe_c: float | None
    ambient_c: float | None
    fault: int


def read_tape(path: Path) -> list[TapeRow]:
    """The rows of the CSV file ``path``: ``seconds,probe_c[,ambient_c[,fault]]``.

    Blanks are allowed behind the first column. SnapcurveError with file and line for
    text in a number column, times that do not go forward, or nothing to play; and as in
    outside_files.
    """
    rows: list[TapeRow] = []
    table = read_table(path, "tape", FILE_BYTES_MAX)
    names = tuple(next(table, (1, []))[1])
    if len(names) < 2 or names != COLUMNS[: len(names)]:
        raise SnapcurveError(
            f"{path}, line 1: the columns must be {','.join(COLUMNS)} "
            "(the last two may be left out)"
        )
    for line, cells in table:
        if not any(cells):
            continue
        row = _row(path, line, cells)
        if rows and row.seconds <= rows[-1].seconds:
            raise SnapcurveError(
                f"{path}, line {line}: time goes from {rows[-1].seconds:g} s to "
                f"{row.seconds:g} s; each row must be later than the one before"
            )
        rows.append(row)
    if sum(row.probe_c is not None for row in rows) < 2:
        raise SnapcurveError(f"{path} holds fewer than two temperatures: there is nothing to play")
    return rows


def _row(path: Path, line: int, cells: list[str]) -> TapeRow:
    padded = cells + [""] * (len(COLUMNS) - len(cells))
    seconds = _number(path, line, "seconds", padded[0], 0.0, 1e7)
    if seconds is None:
        raise SnapcurveError(f"{path}, line {line}: seconds is empty; each row needs its time")
    return TapeRow(
        seconds,
        _number(path, line, "probe_c", padded[1], LOWEST_C, HIGHEST_C),
        _number(path, line, "ambient_c", padded[2], -40.0, 80.0),
        _fault(path, line, padded[3]),
    )


def _number(
    path: Path, line: int, name: str, text: str, lowest: float, highest: float
) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        raise SnapcurveError(
            f"{path}, line {line}: {name} is {one_line(text)!r}, which is no number"
        ) from None
    if not math.isfinite(value) or not lowest <= value <= highest:
        raise SnapcurveError(
            f"{path}, line {line}: {name} is {one_line(text)}; it must be between {lowest:g} and "
            f"{highest:g}"
        )
    return value


def _fault(path: Path, line: int, text: str) -> int:
    from snapcurve.wire.catalogue import FAULTS

    chip_faults = [(1 << place, name) for place, name in enumerate(FAULTS)][:8]
    if not text or text == "0":
        return 0
    bits = 0
    for word in text.split("+"):
        known = [bit for bit, name in chip_faults if word in (name, str(bit))]
        if not known:
            names = ", ".join(name for _, name in chip_faults)
            raise SnapcurveError(
                f"{path}, line {line}: fault is {one_line(text)!r}; known are {names} "
                "(joined by +)"
            )
        bits |= known[0]
    return bits
