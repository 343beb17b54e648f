"""Measured series from CSV files, checked before they reach the board."""

import math
from dataclasses import dataclass
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.shown.input_files import MIB, read_table
from snapcurve.shown.plain_text import short, visible

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
    read_table.
    """
    rows: list[TapeRow] = []
    for line, cells in read_table(path, "tape", FILE_BYTES_MAX, COLUMNS, 2):
        row = _row(f"{visible(str(path))}, line {line}", cells)
        if rows and row.seconds <= rows[-1].seconds:
            raise SnapcurveError(
                f"{visible(str(path))}, line {line}, seconds: time goes from "
                f"{rows[-1].seconds:g} s to {row.seconds:g} s; put the rows in order."
            )
        rows.append(row)
    if sum(row.probe_c is not None for row in rows) < 2:
        raise SnapcurveError(
            f"{visible(str(path))} has fewer than two temperatures, which is nothing to play: "
            "give a longer series."
        )
    return rows


def _row(place: str, cells: dict[str, str]) -> TapeRow:
    seconds = _number(place, "seconds", cells, 0.0, 1e7)
    if seconds is None:
        raise SnapcurveError(f"{place}, seconds: the cell is empty; give each row its time.")
    return TapeRow(
        seconds,
        _number(place, "probe_c", cells, LOWEST_C, HIGHEST_C),
        _number(place, "ambient_c", cells, -40.0, 80.0),
        _fault(place, cells["fault"]),
    )


def _number(
    place: str, name: str, cells: dict[str, str], lowest: float, highest: float
) -> float | None:
    if not (text := cells[name]):
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lowest <= value <= highest:
        raise SnapcurveError(
            f'{place}, {name}: "{short(text)}" is no number from {lowest:g} to {highest:g}; '
            "put it right or leave the cell empty."
        )
    return value


def _fault(place: str, text: str) -> int:
    from snapcurve.wire.catalogue import FAULTS

    chip_faults = [(1 << bit, name) for bit, name in enumerate(FAULTS)][:8]
    if not text or text == "0":
        return 0
    bits = 0
    for word in text.split("+"):
        known = [bit for bit, name in chip_faults if word in (name, str(bit))]
        if not known:
            names = ", ".join(name for _, name in chip_faults)
            raise SnapcurveError(
                f'{place}, fault: "{short(text)}" is none; use {names}, joined by +.'
            )
        bits |= known[0]
    return bits
