"""Outcomes from a CSV file: ``batch,released,gloss[,bloom_days]``, yes or no, blank unknown."""

from dataclasses import dataclass
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.shown.file_lines import one_line
from snapcurve.shown.input_files import MIB, read_table

COLUMNS = ("batch", "released", "gloss", "bloom_days")
WORDS = {"yes": True, "no": False, "": None}
DAYS_MOST = 365
FILE_BYTES_MAX = MIB  # thirty thousand batches


@dataclass(frozen=True)
class NotedOutcome:
    """What a person noted of a batch's trays; None: not noted."""

    released: bool | None
    gloss: bool | None
    bloom_days: int | None


def read_outcomes(path: Path) -> dict[str, NotedOutcome]:
    """Outcomes by batch code; SnapcurveError with file and line for what makes no sense, and as
    in outside_files."""
    table = read_table(path, "table of outcomes", FILE_BYTES_MAX)
    names = tuple(cell.lower() for cell in next(table, (1, []))[1])
    if len(names) < 3 or names != COLUMNS[: len(names)]:
        raise SnapcurveError(
            f"{path}, line 1: the columns must be {','.join(COLUMNS)} (the last may be left out)"
        )
    found: dict[str, NotedOutcome] = {}
    for line, cells in table:
        row = cells + [""] * (len(COLUMNS) - len(cells))
        if not any(row):
            continue
        where = f"{path}, line {line}"
        if row[0] in found:
            raise SnapcurveError(f"{where}: batch {one_line(row[0])} stands here twice")
        found[row[0]] = NotedOutcome(
            _yes(where, "released", row[1]), _yes(where, "gloss", row[2]), _days(where, row[3])
        )
    return found


def _yes(where: str, name: str, text: str) -> bool | None:
    if text.lower() not in WORDS:
        raise SnapcurveError(
            f"{where}: {name} is {one_line(text)}; write yes, no, or nothing if it is not known"
        )
    return WORDS[text.lower()]


def _days(where: str, text: str) -> int | None:
    if not text:
        return None
    digits = text.isascii() and text.isdecimal() and len(text) <= len(str(DAYS_MOST))
    if not digits or int(text) > DAYS_MOST:
        raise SnapcurveError(
            f"{where}: bloom_days is {one_line(text)}; write after how many days bloom was "
            f"seen (0 to {DAYS_MOST}), or nothing"
        )
    return int(text)
