"""Goes with its last caller: see plain_text.py."""

from snapcurve.shown.plain_text import did_you_mean
from snapcurve.shown.plain_text import short as one_line

__all__ = ["did_you_mean", "one_line"]
