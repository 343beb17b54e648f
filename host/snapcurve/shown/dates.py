"""Goes with its last caller: see units.py."""

from snapcurve.shown.units import day_start_ms, iso, local

__all__ = ["day_start_ms", "iso", "local"]
