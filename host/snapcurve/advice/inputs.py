"""What a couverture file and a person say about chocolate, bowl and room, checked.

Each check takes the style in which it words a refusal.
"""

from dataclasses import InitVar, dataclass
from math import inf

from snapcurve.advice.course import Course
from snapcurve.couvertures import Couverture, methods
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl, bowl_of
from snapcurve.heat.constants import (
    BOWL_MATERIALS_STATUS,
    CRYSTAL_SEED_C,
    EDGE_SHARE,
    LOSS_STATUS,
    MELTING_POINT_FORM_V_C,
    MELTING_POINTS_STATUS,
    SETTING_BELOW_WINDOW_K,
    USUAL_BOWL_G_AT_1_KG,
)
from snapcurve.heat.enthalpy import CouvertureThermal, couverture_thermal
from snapcurve.heat.guards import (
    require_between,
    require_not_negative,
    require_positive,
    require_temperature,
)
from snapcurve.heat.kinds import crystals_last_to_c
from snapcurve.heat.transfer import power_into_chocolate_w, surface_scale, usual_loss_w_per_k
from snapcurve.shown.units import PLAIN, Style

METHODS = tuple(method for method in methods.METHODS if method != "cup")
GOOD_ROOM_C = 20.0


@dataclass(frozen=True)
class WorkingTemperatures:
    """Temperatures from the bag, °C.

    melt_c: where no crystal is left; work_low_c, work_high_c: the working window;
    never_above_c: where it scorches; cool_c: low point of three-step work, for the
    methods that have one; aim_c: where in the window to end, None for its middle; lost_c: the
    highest working temperature, None as far above the window as it is known to be;
    crystal_seed_c: where crystal seed goes in; tempering: False for a coating. Order: cool <=
    work low < work high < 33.8 (form V melts, unless it is a coating), work high < melt <= never
    above, and the aim in the window. Raises SnapcurveError for another order.
    """

    melt_c: float
    work_low_c: float
    work_high_c: float
    never_above_c: float
    cool_c: float | None = None
    aim_c: float | None = None
    lost_c: float | None = None
    crystal_seed_c: float = CRYSTAL_SEED_C
    tempering: bool = True
    style: InitVar[Style] = PLAIN

    def __post_init__(self, style: Style) -> None:
        highest_c = MELTING_POINT_FORM_V_C if self.tempering else self.melt_c
        for name, value_c, low_c, high_c in (
            ("The melting temperature", self.melt_c, 36.0, 70.0),
            ("The limit never to pass", self.never_above_c, 36.0, 80.0),
            ("The low end of the window", self.work_low_c, 22.0, highest_c - 0.3),
            ("The high end of the window", self.work_high_c, 22.0, highest_c),
        ):
            require_between(name, value_c, low_c, high_c, "°C", style)
        window = style.window(self.work_low_c, self.work_high_c)
        if not self.work_low_c < self.work_high_c:
            raise SnapcurveError(
                f"The working window runs from {window}; its low end has to be the lower one."
            )
        if self.melt_c > self.never_above_c:
            raise SnapcurveError(
                f"Melting at {style.degrees_words(self.melt_c)} passes the limit of "
                f"{style.degrees_words(self.never_above_c)}; lower the melting temperature."
            )
        if self.cool_c is not None:
            require_between(
                "The cooling temperature", self.cool_c, 18.0, self.work_low_c, "°C", style
            )
        if self.aim_c is not None and not self.contains(self.aim_c):
            raise SnapcurveError(
                f"The aim of {style.degrees_words(self.aim_c)} lies outside the window of "
                f"{window}; aim inside it."
            )

    @property
    def crystals_last_to_c(self) -> float:
        """For long above it the crystals of temper melt, °C."""
        if self.lost_c is not None:
            return self.lost_c
        if not self.tempering:
            return inf
        return crystals_last_to_c("dark", self.work_high_c)

    @property
    def target_c(self) -> float:
        """The aim if there is one, a little inside the window; else its middle, °C."""
        if self.aim_c is None:
            return 0.5 * (self.work_low_c + self.work_high_c)
        return min(max(self.aim_c, self.work_low_c + self.edge_k), self.settled_c)

    @property
    def settled_c(self) -> float:
        """Reading at which a bowl that comes from above is surely in the window, °C."""
        return self.work_high_c - self.edge_k

    @property
    def setting_c(self) -> float:
        """Under it a bowl is setting, and warming it saves nothing, °C."""
        return self.work_low_c - SETTING_BELOW_WINDOW_K

    @property
    def edge_k(self) -> float:
        """How far inside the window's ends work should stay, K."""
        return EDGE_SHARE * (self.work_high_c - self.work_low_c)

    def contains(self, temperature_c: float) -> bool:
        """True inside the working window, its ends included."""
        return self.work_low_c <= temperature_c <= self.work_high_c


def temperatures_of(couverture: Couverture, style: Style = PLAIN) -> WorkingTemperatures:
    """The temperatures on the bag; SnapcurveError if chocolate cannot be worked at them."""
    return WorkingTemperatures(
        melt_c=couverture.melt_c,
        work_low_c=couverture.work_low_c,
        work_high_c=couverture.work_high_c,
        never_above_c=couverture.never_above_c,
        cool_c=couverture.cool_c,
        aim_c=couverture.aim_c,
        lost_c=couverture.crystals_last_to_c,
        crystal_seed_c=couverture.crystal_seed_c,
        tempering=couverture.tempering,
        style=style,
    )


def thermal_of(couverture: Couverture) -> CouvertureThermal:
    """Its heat by kind, and by the fat on the bag where the file gives it."""
    fat = couverture.all_fat_percent
    shares = couverture.milk_fat_share, couverture.nut_fat_share
    return couverture_thermal(couverture.kind, None if fat is None else fat / 100, *shares)


def usual_bowl(
    material: str, mass_g: float, bowl_g: float | None = None, style: Style = PLAIN
) -> Bowl:
    """A bowl of `material` for `mass_g` of chocolate; `bowl_g` None for a usual one.

    The usual one grows with the surface. SnapcurveError for an unknown material, or a bowl far
    too heavy or light for what is in it.
    """
    bowl = bowl_of(material, bowl_g or 0.0)
    usual_g = USUAL_BOWL_G_AT_1_KG[material] * surface_scale(max(mass_g, 50.0))
    if bowl_g is None:
        return bowl_of(material, 10.0 * round(usual_g / 10.0))
    if not usual_g / 20 <= bowl_g <= 20 * usual_g:
        raise SnapcurveError(
            f"A {material} bowl of {style.mass_words(bowl_g)} is far too "
            f"{'heavy' if bowl_g > usual_g else 'light'} for {style.mass_words(mass_g)} of "
            "chocolate; check both weights."
        )
    return bowl


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Chocolate, bowl and room.

    mass_g: chocolate, 50 g to 50 kg; stock_c: solid pieces, None as the room; loss_w_per_k:
    fitted on this bench, None for a usual one; style: how sentences give their numbers.

    Raises SnapcurveError for numbers that cannot be, in one sentence each.
    """

    temperatures: WorkingTemperatures
    thermal: CouvertureThermal
    mass_g: float
    room_c: float
    bowl: Bowl
    stock_c: float | None = None
    loss_w_per_k: float | None = None
    style: Style = PLAIN

    def __post_init__(self) -> None:
        style = self.style
        low_c = self.temperatures.work_low_c
        require_between("The mass of chocolate", self.mass_g, 50.0, 50_000.0, "g", style)
        require_temperature("The room", self.room_c, style)
        require_temperature("The stock", self.stock_used_c, style)
        if self.loss_w_per_k is not None:
            require_positive("The loss coefficient", self.loss_w_per_k, "W/K", style)
        if self.room_c >= low_c:
            raise SnapcurveError(
                f"In a room at {style.degrees_words(self.room_c)} the chocolate can neither cool "
                f"to its window from {style.degrees_words(low_c)} nor set; work in a room of "
                f"about {style.degrees_words(GOOD_ROOM_C)}."
            )
        if self.stock_used_c >= low_c:
            raise SnapcurveError(
                f"Pieces at {style.degrees_words(self.stock_used_c)} are as warm as the working "
                "window and no longer sound seed; let them cool to the room first."
            )

    @property
    def stock_used_c(self) -> float:
        """Temperature of solid pieces, °C."""
        return self.room_c if self.stock_c is None else self.stock_c

    @property
    def loss_used_w_per_k(self) -> float:
        """Loss coefficient in use, W/K."""
        return self.loss_w_per_k or usual_loss_w_per_k(self.mass_g)

    @property
    def scale_step_g(self) -> float:
        """Answers are rounded to 5 g, small batches to 1 g."""
        return 5.0 if self.mass_g >= 500 else 1.0

    def course_of(self, batch: Batch) -> Course:
        """`batch` in this room, at the start."""
        return Course(batch, self.room_c, self.loss_used_w_per_k, self.style)

    def seconds_to_cool(self, batch: Batch, target_c: float) -> float:
        """Seconds until `batch` reads `target_c` in this room; infinity if it never does."""
        return batch.seconds_to_cool_to(target_c, self.room_c, self.loss_used_w_per_k)


def bench_assumptions(bench: Bench) -> tuple[str, ...]:
    """What was taken for granted of chocolate, room and bowl."""
    thermal, bowl, style = bench.thermal, bench.bowl, bench.style
    loss = f"scaled from a usual bowl ({LOSS_STATUS})"
    if bench.loss_w_per_k is not None:
        loss = "as given for this bench"
    return (
        "Specific heat "
        f"{style.heat_per_mass(thermal.specific_heat_solid_j_per_g_k, 2, 'K')} solid and "
        f"{style.heat_per_mass(thermal.specific_heat_liquid_j_per_g_k, 2, 'K')} molten, latent "
        f"heat {style.heat_per_mass(thermal.latent_heat_j_per_g, 1)}.",
        f"Melting spread from {style.window(thermal.melting.start_c, thermal.melting.end_c)} "
        f"({MELTING_POINTS_STATUS}).",
        f"Pieces at {style.degrees_words(bench.stock_used_c)}, room at "
        f"{style.degrees_words(bench.room_c)} all the time.",
        f"Bowl of {style.mass_words(bowl.mass_g)}, "
        f"{style.heat_per_mass(bowl.specific_heat_j_per_g_k, 2, 'K')} "
        f"({BOWL_MATERIALS_STATUS}), {100 * bowl.touching_share:.0f} % of it as warm as the "
        "chocolate.",
        f"Loss to the room {style.number(bench.loss_used_w_per_k, 2)} W/K, {loss}.",
    )


@dataclass(frozen=True, kw_only=True)
class PlanRequest(Bench):
    """What is asked of a plan.

    mass_g: finished mass; used_g: what of it goes into the moulds (default all). microwave_w:
    power by the water test or the plate, None if it is melted in some other way.
    seed_available_g: None for enough. method: one of METHODS.

    Raises SnapcurveError for numbers that cannot be, in one sentence each.
    """

    method: str = "seeding"
    used_g: float | None = None
    microwave_w: float | None = None
    seed_available_g: float | None = None

    def __post_init__(self) -> None:
        if self.method == "cup":
            raise SnapcurveError(
                "A sample in a cup needs no plan: 'snapcurve load --help' says how to take one."
            )
        if self.method not in METHODS:
            raise SnapcurveError(
                f'There is no method "{self.method}"; use one of {", ".join(METHODS)}.'
            )
        super().__post_init__()
        style = self.style
        if self.used_g is not None:
            require_between("The mass used", self.used_g, 0.0, self.mass_g, "g", style)
        if self.seed_available_g is not None:
            require_not_negative("The seed at hand", self.seed_available_g, "g", style)
        if self.microwave_w is not None:
            power_into_chocolate_w(self.microwave_w, style)
            if not self.bowl.microwave_safe:
                raise SnapcurveError(
                    "A metal bowl must not go into the microwave oven; use plastic, glass or "
                    "ceramic, or plan without the oven."
                )
        cool_c = self.temperatures.cool_c
        if self.method in methods.WITH_LOW_POINT and cool_c is None:
            raise SnapcurveError(
                f"The method {self.method} needs the couverture's cooling temperature; "
                "add it, or use seeding."
            )
