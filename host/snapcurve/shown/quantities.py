"""Goes with its last caller: see units.py."""

from snapcurve.shown.units import MINUS, PLAIN, Style, celsius, fahrenheit

__all__ = ["MINUS", "PLAIN", "Style", "celsius", "fahrenheit"]
