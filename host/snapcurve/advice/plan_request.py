"""What is wanted of a plan and what the bench is like, checked."""

from dataclasses import dataclass

from snapcurve.advice.working_temperatures import WorkingTemperatures
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Bowl
from snapcurve.heat.constants import (
    MICROWAVE_COUPLING,
)
from snapcurve.heat.enthalpy import CouvertureThermal
from snapcurve.heat.guards import (
    require_between,
    require_not_negative,
    require_positive,
    require_temperature,
)
from snapcurve.heat.heating import power_into_chocolate_w
from snapcurve.heat.losses import usual_loss_w_per_k
from snapcurve.shown.figures import degrees_words

METHODS = ("seeding", "tabling", "three-step", "hold")


@dataclass(frozen=True)
class PlanRequest:
    """What is wanted and what the bench is like.

    batch_g: finished mass, 50 g to 50 kg; used_g: what of it goes into the moulds
    (default all). room_c and stock_c (default the room's) in °C. microwave_w: power by the
    water test or the plate, None if it is melted in some other way. loss_w_per_k: fitted on
    this bench, None for a usual one. seed_available_g: None for enough. method: one of
    METHODS. coupling: share of the microwave power that chocolate takes, 0.05 to 1.

    Raises SnapcurveError for numbers that cannot be, in one sentence each.
    """

    temperatures: WorkingTemperatures
    thermal: CouvertureThermal
    batch_g: float
    room_c: float
    bowl: Bowl
    method: str = "seeding"
    used_g: float | None = None
    stock_c: float | None = None
    microwave_w: float | None = None
    coupling: float = MICROWAVE_COUPLING.value
    loss_w_per_k: float | None = None
    seed_available_g: float | None = None

    def __post_init__(self) -> None:
        temperatures = self.temperatures
        if self.method not in METHODS:
            raise SnapcurveError(
                f'There is no method "{self.method}"; use one of {", ".join(METHODS)}.'
            )
        require_between("The finished mass", self.batch_g, 50.0, 50_000.0, "g")
        require_temperature("The room", self.room_c)
        require_temperature("The stock", self.stock_start_c)
        if self.room_c >= temperatures.work_low_c:
            raise SnapcurveError(
                f"In a room at {degrees_words(self.room_c)} the chocolate cannot cool to its "
                "window from "
                f"{degrees_words(temperatures.work_low_c)}, nor set; work in a room of about 20 "
                "°C."
            )
        if self.stock_start_c >= temperatures.work_low_c:
            raise SnapcurveError(
                f"The stock at {degrees_words(self.stock_start_c)} is as warm as the working "
                "window and "
                "no longer sound seed; let it cool to the room first."
            )
        if self.used_g is not None:
            require_between("The mass used", self.used_g, 0.0, self.batch_g, "g")
        if self.loss_w_per_k is not None:
            require_positive("The loss coefficient", self.loss_w_per_k, "W/K")
        if self.seed_available_g is not None:
            require_not_negative("The seed at hand", self.seed_available_g, "g")
        if self.microwave_w is not None:
            power_into_chocolate_w(self.microwave_w, self.coupling)
            if not self.bowl.microwave_safe:
                raise SnapcurveError(
                    "A metal bowl must not go into the microwave oven; use plastic, glass or "
                    "ceramic, or plan without the oven."
                )
        if self.method in ("tabling", "three-step") and temperatures.cool_c is None:
            raise SnapcurveError(
                f"The method {self.method} needs the couverture's cooling temperature; "
                "add it, or use seeding."
            )
        if self.method == "three-step" and self.room_c >= (temperatures.cool_c or 0.0):
            raise SnapcurveError(
                f"A room at {degrees_words(self.room_c)} cannot cool the bowl to "
                f"{degrees_words(temperatures.cool_c or 0.0)}"
                "; work in a cooler room or use seeding."
            )

    @property
    def stock_start_c(self) -> float:
        """Temperature of stock and seed, °C."""
        return self.room_c if self.stock_c is None else self.stock_c

    @property
    def loss_used_w_per_k(self) -> float:
        """Loss coefficient the plan uses, W/K."""
        return self.loss_w_per_k or usual_loss_w_per_k(self.batch_g)

    @property
    def scale_step_g(self) -> float:
        """Answers are rounded to 5 g, small batches to 1 g."""
        return 5.0 if self.batch_g >= 500 else 1.0
