"""The temperatures a couverture is worked at, as the arithmetic takes them."""

from dataclasses import dataclass

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import EDGE_SHARE, MELTING_POINT_FORM_V
from snapcurve.heat.guards import require_between
from snapcurve.shown.figures import degrees_words, range_words


@dataclass(frozen=True)
class WorkingTemperatures:
    """Temperatures from the bag, °C.

    melt_c: where no crystal is left; work_low_c, work_high_c: the working window;
    never_above_c: where it scorches; cool_c: low point of three-step work, for the
    methods that have one; aim_c: where in the window to end, None for its middle.
    Order: cool <= work low < work high < 33.8 (form V melts), work high < melt <= never
    above, and the aim in the window. Raises SnapcurveError for another order.
    """

    melt_c: float
    work_low_c: float
    work_high_c: float
    never_above_c: float
    cool_c: float | None = None
    aim_c: float | None = None

    def __post_init__(self) -> None:
        require_between("The melting temperature", self.melt_c, 36.0, 70.0, "°C")
        require_between("The limit never to pass", self.never_above_c, 36.0, 80.0, "°C")
        require_between("The low end of the window", self.work_low_c, 22.0, 33.5, "°C")
        require_between(
            "The high end of the window", self.work_high_c, 22.0, MELTING_POINT_FORM_V.value, "°C"
        )
        if not self.work_low_c < self.work_high_c:
            raise SnapcurveError(
                f"The working window runs from {range_words(self.work_low_c, self.work_high_c)}; "
                "its low end has to be the lower one."
            )
        if self.melt_c > self.never_above_c:
            raise SnapcurveError(
                f"Melting at {degrees_words(self.melt_c)} passes the limit of "
                f"{degrees_words(self.never_above_c)}; "
                "lower the melting temperature."
            )
        if self.cool_c is not None and not 18.0 <= self.cool_c <= self.work_low_c:
            raise SnapcurveError(
                f"The cooling temperature is {degrees_words(self.cool_c)}; it has to lie between "
                "18 °C "
                f"and the low end of the window, {degrees_words(self.work_low_c)}."
            )
        if self.aim_c is not None and not self.contains(self.aim_c):
            raise SnapcurveError(
                f"The aim of {degrees_words(self.aim_c)} lies outside the window of "
                f"{range_words(self.work_low_c, self.work_high_c)}"
                f"."
            )

    @property
    def target_c(self) -> float:
        """The aim if there is one, a little inside the window; else its middle, °C."""
        if self.aim_c is None:
            return 0.5 * (self.work_low_c + self.work_high_c)
        edge_k = EDGE_SHARE.value * self.width_c
        return min(max(self.aim_c, self.work_low_c + edge_k), self.work_high_c - edge_k)

    @property
    def settled_c(self) -> float:
        """Reading at which a bowl that comes from above is surely in the window, °C."""
        return self.work_high_c - EDGE_SHARE.value * self.width_c

    @property
    def width_c(self) -> float:
        """Width of the working window, K."""
        return self.work_high_c - self.work_low_c

    def contains(self, temperature_c: float) -> bool:
        """True inside the working window, its ends included."""
        return self.work_low_c <= temperature_c <= self.work_high_c
