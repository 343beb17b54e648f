"""A batch followed in time on a bench: what is done to it and what the probe would read."""

from dataclasses import dataclass
from math import ceil

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch
from snapcurve.heat.constants import (
    BURST_S_PER_KG,
    HOT_AIR_BURST_S,
    HOT_AIR_STIR_S,
    SHORTEST_BURST_S,
    STIR_AFTER_BURST_S,
)
from snapcurve.shown.units import PLAIN, Style

_POINT_EVERY_S = 30.0
_HEATING_STEP_S = 5.0
_MOST_HEATING_STEPS = 60
_MOST_BURSTS = 400
_LONGEST_COOLING_S = 8 * 3600.0


@dataclass(frozen=True)
class Burst:
    """One burst of heat: `tool` "microwave" or "hot air", seconds, minute it starts, and
    the reading expected after stirring."""

    tool: str
    seconds: float
    minute: float
    reads_c: float


@dataclass(frozen=True)
class CoursePoint:
    """A reading, °C, and the minute it is expected."""

    minute: float
    reads_c: float


class Course:
    """The batch with the time since the start; `points` are for a chart. Refusals give their
    numbers in `style`."""

    def __init__(
        self, batch: Batch, room_c: float, loss_w_per_k: float, style: Style = PLAIN
    ) -> None:
        self.batch = batch
        self.room_c = room_c
        self.loss_w_per_k = loss_w_per_k
        self.style = style
        self.seconds = 0.0
        self.points: list[CoursePoint] = []
        self._mark()

    @property
    def minute(self) -> float:
        """Minutes since the start."""
        return self.seconds / 60.0

    def copy(self) -> "Course":
        """An independent course in the same state, without the points before it."""
        twin = Course(self.batch.copy(), self.room_c, self.loss_w_per_k, self.style)
        twin.seconds, twin.points = self.seconds, []
        return twin

    def stand(self, seconds: float) -> None:
        """Stir or stand for `seconds`, losing heat to the room."""
        left_s = seconds
        while left_s > 1e-9:
            step_s = min(left_s, _POINT_EVERY_S)
            self.batch.stand(step_s, self.room_c, self.loss_w_per_k)
            self.seconds += step_s
            left_s -= step_s
            self._mark()

    def cool_to(self, target_c: float) -> None:
        """Stand until the reading is `target_c`; nothing if it already is.

        Raises SnapcurveError if the room can never cool it so far, or not within hours.
        """
        seconds = self.batch.seconds_to_cool_to(target_c, self.room_c, self.loss_w_per_k)
        if seconds == float("inf"):
            raise cannot_cool(self.room_c, target_c, self.style)
        if seconds > _LONGEST_COOLING_S:
            raise SnapcurveError(
                f"This bowl would take {seconds / 3600:.0f} hours to cool to "
                f"{self.style.degrees_words(target_c)}; use a bowl that loses more heat, or more "
                "seed."
            )
        self.stand(seconds)

    def heat(self, power_w: float, seconds: float) -> None:
        """Take up `power_w` for `seconds` while losing heat to the room."""
        longest_s = max(_HEATING_STEP_S, seconds / _MOST_HEATING_STEPS)
        left_s = seconds
        while left_s > 1e-9:
            step_s = min(left_s, longest_s)
            self.batch.give_heat(power_w * step_s)
            self.batch.stand(step_s, self.room_c, self.loss_w_per_k)
            self.seconds += step_s
            left_s -= step_s
        self._mark()

    def add_pieces(self, mass_g: float, temperature_c: float) -> None:
        """Stir in `mass_g` of solid pieces; they take up their heat at once."""
        self.batch.add(mass_g, temperature_c)
        self._mark()

    def _mark(self) -> None:
        self.points.append(CoursePoint(self.minute, self.batch.temperature_c))


def cannot_cool(room_c: float, target_c: float, style: Style) -> SnapcurveError:
    """The refusal for a target under the room's temperature."""
    return SnapcurveError(
        f"A room at {style.degrees_words(room_c)} cannot cool the bowl to "
        f"{style.degrees_words(target_c)}; work in a cooler room."
    )


@dataclass(frozen=True)
class HeatSource:
    """A tool that heats in bursts: power into the chocolate, W; lengths of a full and of
    the shortest burst, s; stirring after each, s."""

    tool: str
    power_w: float
    full_s: float
    shortest_s: float
    stir_s: float


def microwave_source(power_w: float, mass_g: float) -> HeatSource:
    """Microwave bursts of `power_w` into `mass_g`: common practice, scaled with mass."""
    shortest_s = SHORTEST_BURST_S
    by_mass_s = min(60.0, max(15.0, BURST_S_PER_KG * mass_g / 1000.0))
    full_s = shortest_s * round(by_mass_s / shortest_s)
    return HeatSource("microwave", power_w, full_s, shortest_s, STIR_AFTER_BURST_S)


def hot_air_source(power_w: float) -> HeatSource:
    """Blasts of hot air that put `power_w` into the chocolate."""
    return HeatSource("hot air", power_w, HOT_AIR_BURST_S, 1.0, HOT_AIR_STIR_S)


def next_burst_s(need_j: float, lost_w: float, source: HeatSource) -> float:
    """Length of the next burst, a whole number of shortest bursts, s.

    A full one as long as two of them are still needed, then half of what is left, so that
    the last ones are short and hot spots have time to spread; what the bowl loses while it
    is stirred (`lost_w`) comes on top. Common practice, no source.
    """
    need_s = need_j / source.power_w
    if need_s >= 2 * source.full_s:
        return source.full_s
    length_s = max(source.shortest_s, 0.5 * need_s)
    lost_s = max(0.0, lost_w) * (source.stir_s + length_s) / source.power_w
    steps = ceil((length_s + lost_s) / source.shortest_s - 0.25)
    return min(source.full_s, source.shortest_s * steps)


def warm_in_bursts(
    course: Course, target_c: float, ceiling_c: float, source: HeatSource
) -> list[Burst]:
    """Warm the course to `target_c` or just over it, never reading over `ceiling_c`.

    It stops short where a burst that gains anything would pass the ceiling. Raises
    SnapcurveError if the heat cannot win against the room.
    """
    bursts: list[Burst] = []
    while course.batch.temperature_c < target_c:
        lost_w = course.loss_w_per_k * (course.batch.temperature_c - course.room_c)
        full_s = next_burst_s(course.batch.heat_to_reach_j(target_c), lost_w, source)
        length_s, trial = full_s, _after_burst(course, source, full_s)
        while _peak_c(trial) > ceiling_c and length_s > source.shortest_s:
            length_s -= source.shortest_s
            trial = _after_burst(course, source, length_s)
        gains = trial.batch.enthalpy_j > course.batch.enthalpy_j
        if _peak_c(trial) > ceiling_c or (length_s < full_s and not gains):
            return bursts
        if not gains or len(bursts) >= _MOST_BURSTS:
            style = course.style
            raise SnapcurveError(
                f"{source.power_w:.0f} W into the chocolate cannot warm "
                f"{style.mass_words(course.batch.mass_g)} to {style.degrees_words(target_c)} "
                "against the loss to the room; divide the batch."
            )
        bursts.append(Burst(source.tool, length_s, course.minute, trial.batch.temperature_c))
        course.points += trial.points
        course.batch, course.seconds = trial.batch, trial.seconds
    return bursts


def _peak_c(course: Course) -> float:
    return max(point.reads_c for point in course.points)


def _after_burst(course: Course, source: HeatSource, seconds: float) -> Course:
    trial = course.copy()
    trial.heat(source.power_w, seconds)
    trial.stand(source.stir_s)
    return trial
