"""Offsets of a curve in words: the clock's time where it is known, and minutes in."""

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone


@dataclass(frozen=True)
class Clock:
    """``started_unix_ms`` None if the curve has no known beginning; ``from_later_part``: of a
    batch that was cut, it follows from a later part."""

    started_unix_ms: int | None = None
    utc_offset_min: int = 0
    from_later_part: bool = False

    def at(self, offset_s: float) -> str:
        """ "at 14:05 (12 min in)", or "at 12 min" without a clock."""
        into = f"{offset_s / 60:.0f} min"
        if self.started_unix_ms is None:
            return f"at {into}"
        return f"at {self.time_of_day(offset_s)} ({into} in)"

    def time_of_day(self, offset_s: float) -> str:
        """ "14:05", or "unknown" without a clock."""
        if self.started_unix_ms is None:
            return "unknown"
        zone = timezone(timedelta(minutes=self.utc_offset_min))
        moment = datetime.fromtimestamp(self.started_unix_ms / 1000 + offset_s, zone)
        return f"{moment:%H:%M}"


def minutes(seconds: float) -> str:
    """A length of time in whole minutes, or seconds if it is short."""
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
