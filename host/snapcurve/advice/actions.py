"""The things one can do to a bowl to bring it to a temperature, each with its numbers.

Every action is worked out on the same heat balance as the plan, with the bowl and the
loss to the room while it is done, and says what the probe should read afterwards.
"""

from dataclasses import dataclass, replace
from functools import partial

from snapcurve.advice.course import Course
from snapcurve.advice.working_temperatures import WorkingTemperatures
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl
from snapcurve.heat.constants import (
    CRYSTAL_SHARE_TEMPERED,
    EDGE_SHARE,
    MELTED_STIR_S,
    MOST_PIECES_SHARE,
    PIECES_STIR_S,
    TEST_MIN,
)
from snapcurve.heat.enthalpy import CouvertureThermal
from snapcurve.heat.guards import (
    require_between,
    require_not_negative,
    require_positive,
    require_temperature,
)
from snapcurve.heat.heating import usual_hot_air_w
from snapcurve.heat.losses import usual_loss_w_per_k
from snapcurve.heat.root_finding import bisect_rising
from snapcurve.shown.figures import degrees_words, difference_words, mass_words

_LONGEST_WAIT_S = 8 * 3600.0
_LONGEST_HEAT_S = 3600.0


@dataclass(frozen=True)
class Situation:
    """The bowl as it stands.

    temperature_c: the steady reading; mass_g: chocolate in the bowl, 50 g to 50 kg;
    stock_c: solid pieces, default as the room; loss_w_per_k: fitted on this bench, None
    for a usual one; hot_air_w: heat that reaches the chocolate, 20 to 3000 W, None
    for a usual gun;
    crystal_share: what of it is crystal, 0 to 0.5; corrections_done: tried on this batch.

    Raises SnapcurveError for numbers that cannot be, in one sentence each.
    """

    temperatures: WorkingTemperatures
    thermal: CouvertureThermal
    temperature_c: float
    mass_g: float
    room_c: float
    bowl: Bowl
    stock_c: float | None = None
    loss_w_per_k: float | None = None
    hot_air_w: float | None = None
    crystal_share: float = CRYSTAL_SHARE_TEMPERED.value
    corrections_done: int = 0

    def __post_init__(self) -> None:
        require_temperature("The reading", self.temperature_c)
        require_between("The mass in the bowl", self.mass_g, 50.0, 50_000.0, "g")
        require_temperature("The room", self.room_c)
        require_temperature("The stock", self.stock_used_c)
        if self.hot_air_w is not None:
            require_between("The hot air", self.hot_air_w, 20.0, 3000.0, "W")
        require_between("The share of crystals", self.crystal_share, 0.0, 0.5, "of the mass")
        require_not_negative("The number of corrections", self.corrections_done, "corrections")
        if self.loss_w_per_k is not None:
            require_positive("The loss coefficient", self.loss_w_per_k, "W/K")
        if self.room_c >= self.temperatures.work_low_c:
            raise SnapcurveError(
                f"In a room at {degrees_words(self.room_c)} the chocolate can neither cool to "
                "its window "
                f"from {degrees_words(self.temperatures.work_low_c)} nor set; work in a room of "
                "about 20 °C."
            )
        if self.stock_used_c >= self.temperatures.work_low_c:
            raise SnapcurveError(
                f"The pieces at {degrees_words(self.stock_used_c)} are as warm as the working "
                "window and "
                "no longer sound seed; let them cool to the room first."
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
    def hot_air_used_w(self) -> float:
        """Heat of hot air in use, W."""
        return self.hot_air_w or usual_hot_air_w(self.mass_g)

    def course(self) -> Course:
        """The bowl as a course starting now.

        Over the melting range no crystal is left, whatever was assumed.
        """
        shares = (1 - self.crystal_share, self.thermal.melting.melted_share(self.temperature_c))
        batch = Batch(
            self.thermal,
            self.mass_g,
            self.temperature_c,
            melted_share=max(shares),
            bowl=self.bowl,
        )
        return Course(batch, self.room_c, self.loss_used_w_per_k)

    @property
    def scale_step_g(self) -> float:
        """5 g, or 1 g where 5 g would move the reading by more than about 0.1 K."""
        return 5.0 if self.mass_g >= 2000 else 1.0


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
    start = course or situation.course()

    def reached(seconds: float) -> Course:
        trial = start.copy()
        trial.heat(situation.hot_air_used_w, seconds)
        return trial

    def reached_c(seconds: float) -> float:
        return reached(seconds).batch.temperature_c

    longest_s = 60.0
    while reached_c(longest_s) < target_c and longest_s < _LONGEST_HEAT_S:
        longest_s *= 2
    if longest_s >= _LONGEST_HEAT_S:
        raise SnapcurveError(
            f"{situation.hot_air_used_w:.0f} W of hot air cannot warm "
            f"{mass_words(situation.mass_g)} to "
            f"{degrees_words(target_c)} against the loss to the room; use a water bath."
        )
    seconds = float(round(bisect_rising(reached_c, 0.0, longest_s, target_c)))
    end = reached(seconds).batch
    by_c = end.temperature_c - start.batch.temperature_c
    return Action(
        "warm",
        f"Warm it by {difference_words(by_c)} to {degrees_words(end.temperature_c)}: about "
        f"{seconds:.0f} s of hot "
        "air in blasts of 10 s at most, stirring and reading between them.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN.value,
        warm_by_c=by_c,
        hot_air_s=seconds,
    )


def pieces_to(situation: Situation, target_c: float, smallest_share: float = 0.0) -> Action:
    """Cool to `target_c` with solid pieces, at most half the mass, waiting first if needed.

    At least `smallest_share` of the mass goes in for its crystals; where that cools under
    the target the action ends with warming back to it.
    """
    start, largest_g = situation.course(), MOST_PIECES_SHARE.value * situation.mass_g

    def stirred(wait_s: float, pieces_g: float) -> Course:
        trial = start.copy()
        trial.batch.stand(wait_s, situation.room_c, situation.loss_used_w_per_k)
        if pieces_g > 0:
            trial.add_pieces(pieces_g, situation.stock_used_c)
        trial.stand(PIECES_STIR_S.value)
        return trial

    def cooling(pieces_g: float) -> float:
        return -stirred(0.0, pieces_g).batch.temperature_c

    def cooling_after(wait_s: float) -> float:
        return -stirred(wait_s, largest_g).batch.temperature_c

    wait_s, step_g = 0.0, situation.scale_step_g
    if -cooling(largest_g) > target_c:
        pieces_g = largest_g
        if -cooling_after(_LONGEST_WAIT_S) > target_c:
            raise SnapcurveError(
                f"Even {mass_words(largest_g)} of pieces and hours of stirring do not bring this "
                "bowl "
                f"to {degrees_words(target_c)}; spread it out or divide it, in a cooler room."
            )
        wait_s = bisect_rising(cooling_after, 0.0, _LONGEST_WAIT_S, -target_c)
    else:
        pieces_g = bisect_rising(cooling, 0.0, largest_g, -target_c)
    pieces_g = max(pieces_g, smallest_share * situation.mass_g, step_g)
    pieces_g = step_g * round(pieces_g / step_g)
    end = stirred(wait_s, pieces_g)
    reads_c = end.batch.temperature_c
    stir_on_to_c = max(situation.temperatures.settled_c, target_c)
    sentence = ""
    if wait_s > 0:
        at_c = _stood(start, wait_s).batch.temperature_c
        sentence = (
            f"Stir for {wait_s / 60:.0f} min until it reads {degrees_words(at_c)}, then stir in "
        )
    action = Action(
        "pieces",
        (sentence or "Stir in ") + f"{mass_words(pieces_g)} of pieces in temper at "
        f"{degrees_words(situation.stock_used_c)}, chopped small, "
        f"and stir until the reading holds still, {PIECES_STIR_S.value / 60:.0f} min or more; it "
        f"should read {degrees_words(reads_c)}. Where it still reads over "
        f"{degrees_words(stir_on_to_c)}, stir on; "
        "lift out what is not melted.",
        reads_c,
        end.batch.mass_g,
        test_after_min=TEST_MIN.value,
        pieces_g=pieces_g,
        stir_min=wait_s / 60.0,
        stir_on_to_c=stir_on_to_c,
    )
    if reads_c >= target_c - EDGE_SHARE.value * situation.temperatures.width_c:
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
    start, melt_c = situation.course(), situation.temperatures.melt_c
    largest_g = situation.mass_g

    def mixed(melted_g: float, at_c: float) -> Course:
        trial = start.copy()
        if melted_g > 0:
            trial.batch.add(melted_g, at_c, 1.0)
        trial.stand(MELTED_STIR_S.value)
        return trial

    def by_mass(melted_g: float) -> float:
        return mixed(melted_g, melt_c).batch.temperature_c

    def by_temperature(melted_g: float, at_c: float) -> float:
        return mixed(melted_g, at_c).batch.temperature_c

    if by_mass(largest_g) < target_c:
        raise SnapcurveError(
            f"Even as much melted chocolate again cannot warm the bowl to "
            f"{degrees_words(target_c)}; "
            "melt it fully again."
        )
    step_g, at_c = situation.scale_step_g, melt_c
    melted_g = step_g * round(bisect_rising(by_mass, 0.0, largest_g, target_c) / step_g)
    smallest_g = max(smallest_share * situation.mass_g, step_g)
    if melted_g < smallest_g:
        melted_g = step_g * max(1, round(smallest_g / step_g))
        at_c = bisect_rising(partial(by_temperature, melted_g), situation.room_c, melt_c, target_c)
        # A probe is read to half a degree in a bowl one carries over.
        at_c = max(situation.temperatures.work_low_c, 0.5 * round(2 * at_c))
    end = mixed(melted_g, at_c).batch
    cooled = "" if at_c == melt_c else f" and then cooled to {degrees_words(at_c)}"
    return Action(
        "melted",
        f"Stir in {mass_words(melted_g)} of chocolate melted fully at "
        f"{degrees_words(melt_c)}{cooled}. It should "
        f"read {degrees_words(end.temperature_c)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN.value,
        melted_g=melted_g,
        melted_at_c=at_c,
    )


def stir_to(situation: Situation, target_c: float) -> Action:
    """Stir in the room until it reads `target_c`, or one minute if it is already there."""
    start = situation.course()
    seconds = start.batch.seconds_to_cool_to(
        target_c, situation.room_c, situation.loss_used_w_per_k
    )
    if seconds == float("inf"):
        raise SnapcurveError(
            f"A room at {degrees_words(situation.room_c)} cannot cool the bowl to "
            f"{degrees_words(target_c)}."
        )
    seconds = seconds or 60.0
    end = _stood(start, seconds).batch
    span = f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
    return Action(
        "stir",
        f"Stir it in the room for {span} until it reads {degrees_words(end.temperature_c)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN.value,
        stir_min=seconds / 60.0,
    )


def melt_again(situation: Situation) -> Action:
    """Melt all crystals and begin the method anew."""
    melt_c = situation.temperatures.melt_c
    return Action(
        "melt again",
        f"Melt it fully again to {degrees_words(melt_c)} and temper it anew.",
        max(melt_c, situation.temperature_c),
        situation.mass_g,
        warm_by_c=max(0.0, melt_c - situation.temperature_c),
    )


def _stood(start: Course, seconds: float) -> Course:
    trial = start.copy()
    trial.stand(seconds)
    return trial
