"""A couverture as its file describes it."""

from dataclasses import dataclass
from datetime import date

from snapcurve.heat.constants import (
    CRYSTAL_SEED_ABOVE_WINDOW_K,
    CRYSTAL_SEED_C,
    LATENT_HEAT_COCOA_BUTTER_J_PER_G,
)
from snapcurve.heat.kinds import KINDS, crystals_last_to_c


@dataclass(frozen=True, kw_only=True)
class Couverture:
    """One checked couverture; temperatures in °C, shares in percent of mass.

    10 <= cool <= work low < work high < melt < never above <= 110; the aim, where there is one,
    lies within the window, and the highest it is worked at between window and melting. The
    range is that wide so that a trial with water or wax can be described too; whether the
    figures suit chocolate is for the methods to judge.
    """

    id: str
    """What a person types: the file's name without ".toml"."""
    name: str
    """Printable, 1 to 32 bytes of UTF-8: it travels to the board in the profile."""
    kind: str
    """One of heat.kinds.KINDS, or any other word, which is taken for dark."""
    melt_c: float
    """Where no crystal is left."""
    cool_c: float | None = None
    """Low point of three-temperature work; None if the file gives none."""
    work_low_c: float
    work_high_c: float
    aim_c: float | None = None
    """Where in the window it is best worked; None if the file gives none."""
    highest_work_c: float | None = None
    """For long above it the crystals of temper melt; None if the file gives none."""
    never_above_c: float
    """Where it is spoilt."""
    tempering: bool = True
    """False for a coating that needs no temper."""
    cocoa_percent: float | None = None
    fat_percent: float | None = None
    cocoa_butter_percent: float | None = None
    milk_fat_percent: float | None = None
    nut_fat_percent: float | None = None
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

    @property
    def crystals_last_to_c(self) -> float | None:
        """For long above it the crystals of temper melt, °C; None where there is no temper."""
        if not self.tempering:
            return None
        if self.highest_work_c is not None:
            return self.highest_work_c
        shares = self.milk_fat_share, self.nut_fat_share
        return crystals_last_to_c(self.kind, self.work_high_c, *shares)

    @property
    def crystal_seed_c(self) -> float:
        """At which powdered cocoa-butter crystals go in, °C."""
        return min(CRYSTAL_SEED_C, self.work_high_c + CRYSTAL_SEED_ABOVE_WINDOW_K)

    @property
    def milk_fat_share(self) -> float | None:
        """What of all its fat is milk fat, 0 to 1; None if the file does not say."""
        return self._share_of_fat(self.milk_fat_percent)

    @property
    def nut_fat_share(self) -> float | None:
        """What of all its fat is oil of nuts, 0 to 1; None if the file does not say."""
        return self._share_of_fat(self.nut_fat_percent)

    @property
    def all_fat_percent(self) -> float | None:
        """All its fat, or its parts together; None if the file gives neither."""
        if self.fat_percent is not None or self.cocoa_butter_percent is None:
            return self.fat_percent
        parts = self.cocoa_butter_percent, self.milk_fat_percent, self.nut_fat_percent
        return sum(part or 0.0 for part in parts)

    def _share_of_fat(self, percent: float | None) -> float | None:
        if percent is None:
            return None
        usual = KINDS.get(self.kind, KINDS["dark"]).latent_heat_j_per_g
        fat = self.all_fat_percent or 100 * usual / LATENT_HEAT_COCOA_BUTTER_J_PER_G
        return min(1.0, percent / fat)


ORIGIN_BUILT_IN = "built in"
