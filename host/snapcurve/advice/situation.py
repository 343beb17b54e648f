"""The bowl as it stands, and one thing to do with it."""

from dataclasses import dataclass

from snapcurve.advice.course import Course
from snapcurve.advice.inputs import Bench
from snapcurve.heat.bowl import Batch
from snapcurve.heat.constants import CRYSTAL_SHARE_TEMPERED
from snapcurve.heat.guards import require_between, require_not_negative, require_temperature
from snapcurve.heat.transfer import usual_hot_air_w


@dataclass(frozen=True, kw_only=True)
class Situation(Bench):
    """The bowl as it stands.

    temperature_c: the steady reading; hot_air_w: heat that reaches the chocolate, 20 to
    3000 W, None for a usual gun; crystal_share: what of it is crystal, 0 to 0.5;
    corrections_done: tried on this batch.

    Raises SnapcurveError for numbers that cannot be, in one sentence each.
    """

    temperature_c: float
    hot_air_w: float | None = None
    crystal_share: float = CRYSTAL_SHARE_TEMPERED
    corrections_done: int = 0

    def __post_init__(self) -> None:
        style = self.style
        require_temperature("The reading", self.temperature_c, style)
        super().__post_init__()
        if self.hot_air_w is not None:
            require_between("The hot air", self.hot_air_w, 20.0, 3000.0, "W", style)
        require_between("The share of crystals", self.crystal_share, 0.0, 0.5, "", style)
        require_not_negative("The number of corrections", self.corrections_done, "", style)

    @property
    def hot_air_used_w(self) -> float:
        """Heat of hot air in use, W."""
        return self.hot_air_w or usual_hot_air_w(self.mass_g)

    def course(self) -> Course:
        """The bowl as a course starting now.

        Over the melting range no crystal is left, whatever was assumed.
        """
        melted = max(1 - self.crystal_share, self.thermal.melting.melted_share(self.temperature_c))
        return self.course_of(
            Batch(
                self.thermal, self.mass_g, self.temperature_c, melted_share=melted, bowl=self.bowl
            )
        )

    def steps_g(self, mass_g: float) -> float:
        """`mass_g` in whole steps of the scale, at least one."""
        return self.scale_step_g * max(1, round(mass_g / self.scale_step_g))


@dataclass(frozen=True)
class Action:
    """One thing to do. `kind`: warm, pieces, melted, stir, cool, melt again, taste, set aside,
    ganache or cocoa butter.

    Numbers that do not belong to the kind are 0 (temperatures None): warm_first_to_c,
    warm_first_s before anything is added; warm_by_c, hot_air_s at the end; pieces_g; melted_g at
    melted_at_c; other_g (liquid or cocoa butter); stir_min before anything is added or instead
    of it. predicted_c: reading when done; mass_after_g; test_after_min: when to test, from the
    moment it is done (0: no test). stir_on_to_c: where it still reads more when all is stirred
    in, stir on until it reads this.
    """

    kind: str
    sentence: str
    predicted_c: float
    mass_after_g: float
    test_after_min: float = 0.0
    warm_by_c: float = 0.0
    hot_air_s: float = 0.0
    pieces_g: float = 0.0
    melted_g: float = 0.0
    melted_at_c: float | None = None
    other_g: float = 0.0
    stir_min: float = 0.0
    stir_on_to_c: float | None = None
    warm_first_to_c: float | None = None
    warm_first_s: float = 0.0


def stood(start: Course, seconds: float) -> Course:
    """`start` after `seconds` in the room."""
    trial = start.copy()
    trial.stand(seconds)
    return trial


def span_words(seconds: float) -> str:
    """A time nobody keeps to the second: "40 s", "7 min"."""
    if seconds < 90 and seconds != 60:
        return f"{seconds:.0f} s"
    return f"{round(seconds / 60)} min"
