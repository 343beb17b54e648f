"""A couverture as its file describes it."""

from dataclasses import dataclass
from datetime import date

KINDS = ("dark", "milk", "white", "caramelised white")


@dataclass(frozen=True, kw_only=True)
class Couverture:
    """One checked couverture; temperatures in °C, shares in percent of mass.

    10 <= cool <= work low < work high < melt < never above <= 110, and the aim, where there
    is one, lies within the window. The range is that wide so that a trial with water or wax
    can be described too; whether the figures suit chocolate is for the methods to judge.
    """

    id: str
    """What a person types: the file's name without ".toml"."""
    name: str
    """Printable, 1 to 32 bytes of UTF-8: it travels to the board in the profile."""
    kind: str
    """One of KINDS."""
    melt_c: float
    """Where no crystal is left."""
    cool_c: float | None = None
    """Low point of three-temperature work; None if the file gives none."""
    work_low_c: float
    work_high_c: float
    aim_c: float | None = None
    """Where in the window it is best worked; None if the file gives none."""
    never_above_c: float
    """Where it is spoilt."""
    cocoa_percent: float | None = None
    fat_percent: float | None = None
    source: str | None = None
    """Where the figures come from, on one line."""
    set_by: str | None = None
    """Who set these limits for this bench."""
    set_on: date | None = None
    """Since when they are the limits."""
    origin: str
    """ORIGIN_BUILT_IN, or the path of the file."""
    toml_text: str
    """The file as read, for the record of a batch."""


ORIGIN_BUILT_IN = "built in"
