"""Batch codes: the local day the batch began and a running number within that day.

A batch of unknown time gets the word "undated" in place of the day: a code with a guessed
day would be read as a record of when it was made.
"""

import time
from datetime import UTC, datetime, timedelta

UNDATED = "undated"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_offset_min(unix_s: float) -> int:
    """What local clocks were ahead of UTC at `unix_s`, in minutes."""
    return round(time.localtime(unix_s).tm_gmtoff / 60)


def day_of(started_unix_ms: int | None, utc_offset_min: int) -> str:
    """The local day, such as "2026-11-24", on which a batch began."""
    if started_unix_ms is None:
        return UNDATED
    local = _EPOCH + timedelta(milliseconds=started_unix_ms, minutes=utc_offset_min)
    return local.date().isoformat()


def code_of(day: str, day_number: int) -> str:
    """The code, such as "2026-11-24-03"; numbers begin at 1."""
    return f"{day}-{day_number:02d}"


def parts_of(code: str) -> tuple[str, int] | None:
    """Day and number within the day, or None when `code` is not a batch code."""
    day, dash, number = code.strip().lower().rpartition("-")
    if not dash or not day or not _is_number(number):
        return None
    return day, int(number)


def id_of(text: str) -> int | None:
    """The batch's number in the notebook when `text` is one, else None."""
    text = text.strip()
    return int(text) if _is_number(text) else None


def _is_number(text: str) -> bool:
    # nine digits fit every database's integer; int() alone would also take "1_0" and "٣"
    return text.isascii() and text.isdigit() and len(text) <= 9
