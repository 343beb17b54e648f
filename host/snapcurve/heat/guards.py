"""Checks of a person's numbers: one sentence saying what is wrong and what to do.

Each takes the style in which the sentence gives the number, and raises SnapcurveError.
"""

from math import isfinite

from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import PLAIN, Style


def require_between(
    name: str, value: float, low: float, high: float, unit: str, style: Style = PLAIN
) -> None:
    """Pass a number from ``low`` to ``high`` inclusive, all in ``unit``."""
    if not isfinite(value) or not low <= value <= high:
        raise SnapcurveError(
            f"{name} is {style.quantity(value, unit)}, but it has to lie between "
            f"{style.quantity(low, unit)} and {style.quantity(high, unit)}."
        )


def require_positive(name: str, value: float, unit: str, style: Style = PLAIN) -> None:
    """Pass a finite number above zero."""
    if not isfinite(value) or value <= 0:
        raise SnapcurveError(f"{name} is {style.quantity(value, unit)}; give a number above zero.")


def require_not_negative(name: str, value: float, unit: str, style: Style = PLAIN) -> None:
    """Pass a finite number of zero or more."""
    if not isfinite(value) or value < 0:
        raise SnapcurveError(f"{name} is {style.quantity(value, unit)}; give zero or more.")


def require_temperature(name: str, value_c: float, style: Style = PLAIN) -> None:
    """Pass a temperature met on a bench, -30 to 120 °C."""
    require_between(name, value_c, -30.0, 120.0, "°C", style)
