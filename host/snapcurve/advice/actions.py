"""The things one can do to a bowl to bring it to a temperature, each with its numbers.

Every action is worked out on the same heat balance as the plan, with the bowl and the
loss to the room while it is done, and says what the probe should read afterwards.
"""

from dataclasses import dataclass, replace
from functools import partial

from snapcurve.advice.course import Course, cannot_cool
from snapcurve.advice.inputs import Bench
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch
from snapcurve.heat.constants import (
    CRYSTAL_SHARE_TEMPERED,
    MELTED_STIR_S,
    MOST_PIECES_SHARE,
    PIECES_STIR_S,
    TEST_MIN,
)
from snapcurve.heat.guards import require_between, require_not_negative, require_temperature
from snapcurve.heat.root_finding import bisect_rising
from snapcurve.heat.transfer import usual_hot_air_w

_LONGEST_WAIT_S = 8 * 3600.0
_LONGEST_HEAT_S = 3600.0


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

    @property
    def scale_step_g(self) -> float:
        """5 g, or 1 g where 5 g would move the reading by more than about 0.1 K."""
        return 5.0 if self.mass_g >= 2000 else 1.0

    def steps_g(self, mass_g: float) -> float:
        """`mass_g` in whole steps of the scale, at least one."""
        return self.scale_step_g * max(1, round(mass_g / self.scale_step_g))


@dataclass(frozen=True)
class Action:
    """One thing to do. `kind`: warm, pieces, melted, stir, melt again, set aside, strain,
    ganache or cocoa butter.

    Numbers that do not belong to the kind are 0 (temperatures None): warm_by_c, hot_air_s;
    pieces_g; melted_g at melted_at_c; other_g (liquid or cocoa butter); stir_min before
    anything is added or instead of it. predicted_c: reading when done; mass_after_g;
    test_after_min: when to test, from the moment it is done (0: no test). stir_on_to_c: where
    it still reads more when all is stirred in, stir on until it reads this.
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


def warm_to(situation: Situation, target_c: float, course: Course | None = None) -> Action:
    """Warm to `target_c` with hot air while stirring; whole seconds."""
    start, style = course or situation.course(), situation.style

    def reached(seconds: float) -> Course:
        trial = start.copy()
        trial.heat(situation.hot_air_used_w, seconds)
        return trial

    def reached_c(seconds: float) -> float:
        return reached(seconds).batch.temperature_c

    if reached_c(_LONGEST_HEAT_S) < target_c:
        raise SnapcurveError(
            f"{situation.hot_air_used_w:.0f} W of hot air cannot warm "
            f"{style.mass_words(situation.mass_g)} to {style.degrees_words(target_c)} against "
            "the loss to the room; use a water bath."
        )
    seconds = float(round(bisect_rising(reached_c, 0.0, _LONGEST_HEAT_S, target_c)))
    end = reached(seconds).batch
    by_c = end.temperature_c - start.batch.temperature_c
    return Action(
        "warm",
        f"Warm it by {style.difference_words(by_c)} to {style.degrees_words(end.temperature_c)}: "
        f"about {seconds:.0f} s of hot air in blasts of 10 s at most, stirring and reading "
        "between them.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        warm_by_c=by_c,
        hot_air_s=seconds,
    )


def pieces_to(situation: Situation, target_c: float, smallest_share: float = 0.0) -> Action:
    """Cool to `target_c` with solid pieces, at most half the mass, waiting first if needed.

    At least `smallest_share` of the mass goes in for its crystals; where that cools under
    the target the action ends with warming back to it.
    """
    start, style = situation.course(), situation.style
    largest_g = MOST_PIECES_SHARE * situation.mass_g

    def stirred(wait_s: float, pieces_g: float) -> Course:
        trial = start.copy()
        trial.batch.stand(wait_s, situation.room_c, situation.loss_used_w_per_k)
        if pieces_g > 0:
            trial.add_pieces(pieces_g, situation.stock_used_c)
        trial.stand(PIECES_STIR_S)
        return trial

    def cooling(wait_s: float, pieces_g: float) -> float:
        return -stirred(wait_s, pieces_g).batch.temperature_c

    wait_s = 0.0
    if -cooling(0.0, largest_g) > target_c:
        pieces_g = largest_g
        if -cooling(_LONGEST_WAIT_S, largest_g) > target_c:
            raise SnapcurveError(
                f"Even {style.mass_words(largest_g)} of pieces and hours of stirring do not "
                f"bring this bowl to {style.degrees_words(target_c)}; spread it out or divide "
                "it, in a cooler room."
            )
        wait_s = bisect_rising(lambda s: cooling(s, largest_g), 0.0, _LONGEST_WAIT_S, -target_c)
    else:
        pieces_g = bisect_rising(partial(cooling, 0.0), 0.0, largest_g, -target_c)
    pieces_g = situation.steps_g(max(pieces_g, smallest_share * situation.mass_g))
    end = stirred(wait_s, pieces_g)
    reads_c = end.batch.temperature_c
    stir_on_to_c = max(situation.temperatures.settled_c, target_c)
    begin = "Stir in"
    if wait_s > 0:
        at_c = _stood(start, wait_s).batch.temperature_c
        begin = (
            f"Stir for {wait_s / 60:.0f} min until it reads {style.degrees_words(at_c)}, then "
            "stir in"
        )
    action = Action(
        "pieces",
        f"{begin} {style.mass_words(pieces_g)} of pieces in temper at "
        f"{style.degrees_words(situation.stock_used_c)}, chopped small, and stir until the "
        f"reading holds still, {PIECES_STIR_S / 60:.0f} min or more; it should read "
        f"{style.degrees_words(reads_c)}. Where it still reads over "
        f"{style.degrees_words(stir_on_to_c)}, stir on; lift out what is not melted.",
        reads_c,
        end.batch.mass_g,
        test_after_min=TEST_MIN,
        pieces_g=pieces_g,
        stir_min=wait_s / 60.0,
        stir_on_to_c=stir_on_to_c,
    )
    if reads_c >= target_c - situation.temperatures.edge_k:
        return action
    warm = warm_to(situation, target_c, end)
    return replace(
        action,
        sentence=f"{action.sentence} {warm.sentence}",
        predicted_c=warm.predicted_c,
        warm_by_c=warm.warm_by_c,
        hot_air_s=warm.hot_air_s,
    )


def melted_to(situation: Situation, target_c: float, smallest_share: float = 0.0) -> Action:
    """Bring to `target_c` with fully melted chocolate.

    At the melting temperature if warmth is what is missing; if that is less than
    `smallest_share` of the mass, that share at a lower temperature, so that crystals are
    diluted without passing the target.
    """
    start, style = situation.course(), situation.style
    melt_c = situation.temperatures.melt_c
    largest_g, step_g = situation.mass_g, situation.scale_step_g

    def mixed(at_c: float, melted_g: float) -> Batch:
        trial = start.copy()
        if melted_g > 0:
            trial.batch.add(melted_g, at_c, 1.0)
        trial.stand(MELTED_STIR_S)
        return trial.batch

    def mixed_c(at_c: float, melted_g: float) -> float:
        return mixed(at_c, melted_g).temperature_c

    if mixed_c(melt_c, largest_g) < target_c:
        raise SnapcurveError(
            "Even as much melted chocolate again cannot warm the bowl to "
            f"{style.degrees_words(target_c)}; melt it fully again."
        )
    at_c = melt_c
    needed_g = bisect_rising(partial(mixed_c, melt_c), 0.0, largest_g, target_c)
    melted_g = step_g * round(needed_g / step_g)
    smallest_g = max(smallest_share * situation.mass_g, step_g)
    if melted_g < smallest_g:
        melted_g = situation.steps_g(smallest_g)
        at_c = bisect_rising(
            lambda trial_c: mixed_c(trial_c, melted_g), situation.room_c, melt_c, target_c
        )
        # A probe is read to half a degree in a bowl one carries over.
        at_c = max(situation.temperatures.work_low_c, 0.5 * round(2 * at_c))
    end = mixed(at_c, melted_g)
    cooled = "" if at_c == melt_c else f" and then cooled to {style.degrees_words(at_c)}"
    return Action(
        "melted",
        f"Stir in {style.mass_words(melted_g)} of chocolate melted fully at "
        f"{style.degrees_words(melt_c)}{cooled}. It should read "
        f"{style.degrees_words(end.temperature_c)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        melted_g=melted_g,
        melted_at_c=at_c,
    )


def stir_to(situation: Situation, target_c: float) -> Action:
    """Stir in the room until it reads `target_c`, or one minute if it is already there."""
    start, style = situation.course(), situation.style
    seconds = situation.seconds_to_cool(start.batch, target_c)
    if seconds == float("inf"):
        raise cannot_cool(situation.room_c, target_c, style)
    seconds = seconds or 60.0
    end = _stood(start, seconds).batch
    span = f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
    return Action(
        "stir",
        f"Stir it in the room for {span} until it reads {style.degrees_words(end.temperature_c)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        stir_min=seconds / 60.0,
    )


def melt_again(situation: Situation) -> Action:
    """Melt all crystals and begin the method anew."""
    melt_c = situation.temperatures.melt_c
    return Action(
        "melt again",
        f"Melt it fully again to {situation.style.degrees_words(melt_c)} and temper it anew.",
        max(melt_c, situation.temperature_c),
        situation.mass_g,
        warm_by_c=max(0.0, melt_c - situation.temperature_c),
    )


def _stood(start: Course, seconds: float) -> Course:
    trial = start.copy()
    trial.stand(seconds)
    return trial
