"""Outcomes from a CSV file: ``batch,released,gloss[,bloom_days]``, yes or no, blank unknown."""

from dataclasses import dataclass
from pathlib import Path

from voluptuous import Schema

from snapcurve.errors import SnapcurveError
from snapcurve.shown.input_files import MIB, read_table
from snapcurve.shown.plain_text import short, visible
from snapcurve.shown.validation import Fault, checked

DAYS_MOST = 365
FILE_BYTES_MAX = MIB  # thirty thousand batches

_ANSWERS = {"yes": True, "no": False, "": None}
# each column with what to write there
_CELLS = {
    "batch": "the code of the batch",
    "released": "yes, no, or nothing if it is not known",
    "gloss": "yes, no, or nothing if it is not known",
    "bloom_days": f"after how many days bloom was seen (0 to {DAYS_MOST}), or nothing",
}


@dataclass(frozen=True)
class NotedOutcome:
    """What a person noted of a batch's trays; None: not noted, and of bloom that none was seen."""

    released: bool | None
    gloss: bool | None
    bloom_days: int | None

    @property
    def good(self) -> bool | None:
        """Released with gloss and without bloom; None while too little is noted."""
        if self.released is False or self.gloss is False or self.bloom_days is not None:
            return False
        return True if self.released and self.gloss else None


def read_outcomes(path: Path) -> dict[str, NotedOutcome]:
    """Outcomes by batch code; SnapcurveError with file and line for what makes no sense, and as
    in read_table."""
    found: dict[str, NotedOutcome] = {}
    for line, cells in read_table(path, "table of outcomes", FILE_BYTES_MAX, tuple(_CELLS), 3):
        place = f"{visible(str(path))}, line {line}"
        batch = cells.pop("batch")
        if batch in found:
            raise SnapcurveError(
                f"{place}, batch: {short(batch)} stands here twice; leave one of them out."
            )
        found[batch] = NotedOutcome(**checked(_SCHEMA, cells, _CELLS, place))
    return found


def _answer(text: str) -> bool | None:
    if text.lower() not in _ANSWERS:
        raise Fault(f'"{short(text)}" is no answer')
    return _ANSWERS[text.lower()]


def _days(text: str) -> int | None:
    if not text:
        return None
    digits = text.isascii() and text.isdecimal() and len(text) <= len(str(DAYS_MOST))
    if not digits or int(text) > DAYS_MOST:
        raise Fault(f'"{short(text)}" is not a number of days')
    return int(text)


_SCHEMA = Schema({"released": _answer, "gloss": _answer, "bloom_days": _days})
