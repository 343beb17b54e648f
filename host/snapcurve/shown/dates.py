"""Days and moments as a person types them, and as files hold them."""

import time
from datetime import date, datetime, timedelta, timezone

from snapcurve.errors import SnapcurveError
from snapcurve.shown.file_lines import one_line
from snapcurve.shown.quantities import DAY_PATTERNS, PLAIN, Style


def parse_day(text: str, style: Style = PLAIN) -> date:
    """A day written as 2026-11-24, as the settings write it, "today" or "yesterday".

    SnapcurveError for anything else.
    """
    word = text.strip().lower()
    if word in ("today", "yesterday"):
        return date.today() - timedelta(days=word == "yesterday")
    for pattern in dict.fromkeys((DAY_PATTERNS["iso"], DAY_PATTERNS[style.dates])):
        try:
            return datetime.strptime(word, pattern).date()
        except ValueError:
            continue
    raise SnapcurveError(f'"{one_line(text)}" is no day; write it like 2026-11-24')


def day_start_ms(day: date) -> int:
    """When `day` begins by the local clock, in ms since 1970 UTC; SnapcurveError for a day
    that no clock of this computer knows."""
    try:
        return int(time.mktime(day.timetuple())) * 1000
    except (OverflowError, ValueError) as error:
        raise SnapcurveError(f"{day} is too far away; choose a nearer day") from error


def day_after(day: date) -> date:
    """The next day, the last one for ever."""
    return day if day == date.max else day + timedelta(days=1)


def iso(unix_ms: int, utc_offset_min: int) -> str:
    """ISO 8601 with seconds and the offset from UTC."""
    zone = timezone(timedelta(minutes=utc_offset_min))
    return datetime.fromtimestamp(unix_ms // 1000, zone).isoformat(timespec="seconds")


def local(unix_ms: int, utc_offset_min: int) -> datetime:
    """The moment with its zone."""
    return datetime.fromtimestamp(unix_ms / 1000, timezone(timedelta(minutes=utc_offset_min)))
