"""Goes with the last caller: see units.py."""

from datetime import date

from snapcurve.shown.units import PLAIN, Style, day_after, day_start_ms, iso, local

__all__ = ["day_after", "day_start_ms", "iso", "local", "parse_day"]


def parse_day(text: str, style: Style = PLAIN) -> date:
    """See Style.parse_day."""
    return style.parse_day(text)
