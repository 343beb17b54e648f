"""One tray's fate beside what its batch went through."""

from dataclasses import dataclass


@dataclass(frozen=True)
class TrayOutcome:
    """A batch with its outcome; None: not known.

    ``working_c`` is the median temperature in the window's phase, ``minutes_above`` the
    time above the window after coming into it, ``cooling_rate_c_per_min`` the mean fall from
    the melting temperature into the window (positive), ``test_minutes`` from coming into
    the window to the first test blade. ``bloom_days`` is after how many days bloom was
    seen; None if none was seen.
    """

    batch_code: str
    couverture: str
    working_c: float | None
    minutes_above: float | None
    cooling_rate_c_per_min: float | None
    test_minutes: float | None
    released: bool | None
    gloss: bool | None
    bloom_days: int | None = None

    @property
    def good(self) -> bool | None:
        """Released with gloss and without bloom; None while nobody noted enough."""
        if self.released is False or self.gloss is False or self.bloom_days is not None:
            return False
        if self.released and self.gloss:
            return True
        return None
