"""Checks of a person's numbers: one sentence saying what is wrong and what to do."""

from math import isfinite

from snapcurve.errors import SnapcurveError


def require_between(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Raise SnapcurveError unless `value` is a number from `low` to `high` inclusive."""
    if not isfinite(value) or not low <= value <= high:
        raise SnapcurveError(
            f"{name} is {value:g} {unit}, but it has to lie between {low:g} and {high:g} {unit}."
        )


def require_positive(name: str, value: float, unit: str) -> None:
    """Raise SnapcurveError unless `value` is a finite number above zero."""
    if not isfinite(value) or value <= 0:
        raise SnapcurveError(f"{name} is {value:g} {unit}; give a number above zero, in {unit}.")


def require_not_negative(name: str, value: float, unit: str) -> None:
    """Raise SnapcurveError unless `value` is a finite number of zero or more."""
    if not isfinite(value) or value < 0:
        raise SnapcurveError(f"{name} is {value:g} {unit}; give zero or more, in {unit}.")


def require_temperature(name: str, value_c: float) -> None:
    """Raise SnapcurveError unless `value_c` is a temperature met on a bench, -30 to 120 °C."""
    require_between(name, value_c, -30.0, 120.0, "°C")
