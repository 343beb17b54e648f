"""The one rule for leaving a working window and coming back.

The board sounds by it and the host finds a batch's excursions by it. It is no rule of the trade:
it keeps noise and cold patches from sounding, and an edge from being crossed to and fro.
"""

from .const import const

# Chocolate has left its window when it is so far beyond an edge, for so long.
OUTSIDE_C = const(0.07)
OUTSIDE_MS = const(8000)
# It is back when it is well inside for so long: by RETURN_C, or by RETURN_PART of the window's
# width if that is less.
RETURN_C = const(0.4)
RETURN_PART = const(0.3)
BACK_MS = const(4000)
# Above where the crystals of temper last they melt the faster the further above: so many kelvin
# times seconds take the temper. No source: an own assumption, so that a touch costs nothing and
# some minutes do.
CRYSTALS_MELT_K_S = const(120)


def low_limit_c(low_c, high_c, state, doubt_c=0.0):
    """Below this it is too cool, in °C; ``low_c`` and ``high_c`` are the window.

    ``state`` is "inside", "too_warm" or "too_cool" as of the reading before; ``doubt_c`` is added
    to OUTSIDE_C while a reading is less sure than usual.
    """
    if state == "too_cool":
        return low_c + min(RETURN_C, RETURN_PART * (high_c - low_c))
    return low_c - OUTSIDE_C - doubt_c


def high_limit_c(low_c, high_c, state, doubt_c=0.0):
    """Above this it is too warm; see ``low_limit_c``."""
    if state == "too_warm":
        return high_c - min(RETURN_C, RETURN_PART * (high_c - low_c))
    return high_c + OUTSIDE_C + doubt_c
