"""What to do with a bowl after a test: one recommendation, one alternative, in sentences."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from snapcurve.advice import correction_remarks as remarks
from snapcurve.advice.actions import (
    cool_outside,
    melt_again,
    melted_to,
    stir_to,
    warm_to,
    work_on,
)
from snapcurve.advice.pieces import cool_then_seed, pieces_to, touch_of_seed
from snapcurve.advice.situation import Action, Situation
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    COCOA_BUTTER_SHARE,
    CORRECTIONS_BEFORE_MELTING,
    DILUTION_SHARE,
    GANACHE_LIQUID_SHARE,
    LEAST_TOUCH_SHARE,
    LONGEST_STIR_MIN,
    MANY_PIECES_SHARE,
    MELT_REST_MIN,
    RESEED_SHARE,
    TEST_MIN,
)


@dataclass(frozen=True)
class Correction:
    """The answer: what was seen, what to do, what else would do, when to stop trying."""

    observation: str
    recommended: Action
    alternative: Action
    give_up: str
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]


Pair = tuple[Action, Action]  # recommended, alternative


def correct(situation: Situation, observation: str) -> Correction:
    """Advice for one of OBSERVATIONS. Raises SnapcurveError for another observation, or
    one the reading contradicts."""
    if observation not in _RULES:
        raise SnapcurveError(
            f'"{observation}" is not something a test shows here; use one of '
            f"{', '.join(OBSERVATIONS)}."
        )
    temperatures, reads_c, style = situation.temperatures, situation.temperature_c, situation.style
    too_warm = observation == "too warm" and reads_c <= temperatures.work_high_c
    too_cool = observation == "too cool" and reads_c >= temperatures.work_low_c
    if too_warm or too_cool:
        raise SnapcurveError(
            f"It reads {style.degrees_words(reads_c)}, which is not {observation} for a window "
            f"of {style.window(temperatures.work_low_c, temperatures.work_high_c)}; say what the "
            "test showed."
        )
    if reads_c > temperatures.never_above_c:
        recommended, alternative = _taste(situation)
    elif observation != "seized" and temperatures.tempering and _tired(situation):
        # Beyond the limits of correcting, melting again comes first.
        recommended, alternative = melt_again(situation), _RULES[observation](situation)[0]
        if alternative.kind == "melt again":
            alternative = _set_aside(situation)
    elif observation != "seized" and not temperatures.tempering:
        recommended, alternative = _coating(situation)
    else:
        recommended, alternative = _RULES[observation](situation)
    if observation != "seized" and reads_c > temperatures.crystals_last_to_c:
        fate = _fate(situation)
        recommended = replace(recommended, sentence=f"{fate} {recommended.sentence}")
    return Correction(
        observation=observation,
        recommended=recommended,
        alternative=alternative,
        give_up=remarks.give_up(situation, observation),
        cautions=remarks.cautions(situation, (recommended, alternative)),
        assumptions=remarks.assumptions(situation),
    )


def _tired(situation: Situation) -> bool:
    tried = situation.corrections_done >= CORRECTIONS_BEFORE_MELTING
    return tried or situation.temperature_c < situation.temperatures.setting_c


def _fate(situation: Situation) -> str:
    """What has become of the crystals above where they last."""
    style, reads_c = situation.style, situation.temperature_c
    if reads_c >= situation.thermal.melting.end_c:
        return f"At {style.degrees_words(reads_c)} no crystal is left in it."
    last = style.degrees_words(situation.temperatures.crystals_last_to_c)
    return f"Above {last} its crystals melt: after some minutes count on none."


def _lost(situation: Situation) -> bool:
    return situation.temperature_c > situation.temperatures.crystals_last_to_c


def _too_warm(situation: Situation) -> Pair:
    target_c = situation.temperatures.target_c
    if _lost(situation):
        return _seed_anew(situation)
    stir = stir_to(situation, target_c)
    pieces = pieces_to(situation, target_c, LEAST_TOUCH_SHARE)
    if stir.stir_min > LONGEST_STIR_MIN:
        cool = cool_outside(situation, target_c)
        # So many more crystals would make it thick, and it has its own.
        many = pieces.pieces_g > MANY_PIECES_SHARE * situation.mass_g
        return (cool, pieces) if many else (pieces, cool)
    # Where even a pinch of pieces has to be warmed off again it is no help.
    helps = situation.temperatures.contains(pieces.predicted_c) and not pieces.hot_air_s
    return stir, pieces if helps else cool_outside(situation, target_c)


def _seed_anew(situation: Situation) -> Pair:
    """Crystals are gone: pieces bring new ones, many and soon or few and later."""
    target_c = situation.temperatures.target_c
    slow = cool_then_seed(situation, target_c)
    return pieces_to(situation, target_c, RESEED_SHARE), slow or melt_again(situation)


def _too_cool(situation: Situation) -> Pair:
    target_c = situation.temperatures.target_c
    return _warmer(situation, target_c), _melted_or_again(situation, target_c, 0.0)


def _warmer(situation: Situation, target_c: float) -> Action:
    """Warm to `target_c`; where that is next to nothing, beat it through."""
    return warm_to(situation, target_c) or _beaten(situation)


def _beaten(situation: Situation) -> Action:
    temperatures = situation.temperatures
    reads_c = situation.temperature_c
    return Action(
        "stir",
        "Beat it through for a minute, and read again.",
        min(max(reads_c, temperatures.work_low_c), temperatures.work_high_c),
        situation.mass_g,
        test_after_min=TEST_MIN,
        stir_min=1.0,
    )


def _melted_or_again(situation: Situation, target_c: float, share: float) -> Action:
    try:
        melted = melted_to(situation, target_c, share)
    except SnapcurveError:
        return melt_again(situation)
    inside = situation.temperatures.contains(melted.predicted_c)
    return melted if inside else melt_again(situation)


def _finger_mark(situation: Situation) -> Pair:
    """Slow film: too few crystals, or too warm for them to work."""
    if _lost(situation):
        return _seed_anew(situation)
    if situation.temperature_c > situation.temperatures.work_high_c:
        target_c = situation.temperatures.target_c
        pieces = pieces_to(situation, target_c, LEAST_TOUCH_SHARE)
        return pieces, _cooler(situation, target_c)
    return touch_of_seed(situation), work_on(situation)


def _cooler(situation: Situation, target_c: float) -> Action:
    """Down to `target_c` without another crystal."""
    stir = stir_to(situation, target_c)
    if stir.stir_min > LONGEST_STIR_MIN:
        return cool_outside(situation, target_c)
    return stir


def _set_early(situation: Situation) -> Pair:
    """Quick film: too many crystals, or too cool."""
    high_c, target_c = situation.temperatures.settled_c, situation.temperatures.target_c
    if situation.temperature_c > situation.temperatures.work_high_c:
        blade = (
            "A film that sets early in so warm a bowl may come from a cold blade: dip one that is "
            "as warm as the room."
        )
        cooler = _cooler(situation, target_c)
        again = melt_again(situation)
        if not _lost(situation):
            again = _melted_or_again(situation, high_c, DILUTION_SHARE)
        return replace(cooler, sentence=f"{cooler.sentence} {blade}"), again
    melted = _melted_or_again(situation, high_c, DILUTION_SHARE)
    warm = warm_to(situation, high_c)
    if warm is not None:
        return warm, melted
    return melted, melt_again(situation) if melted.kind == "melted" else _set_aside(situation)


def _evened(situation: Situation, warm_below_c: float, target_c: float, first: str) -> Action:
    """Into the window and even: `first` is done before it is stirred or warmed."""
    reads_c = situation.temperature_c
    if _lost(situation):
        action = pieces_to(situation, situation.temperatures.target_c, RESEED_SHARE)
    elif reads_c > situation.temperatures.work_high_c:
        action = _cooler(situation, target_c)
    elif reads_c < warm_below_c:
        action = _warmer(situation, target_c)
    else:
        action = _beaten(situation)
    return replace(action, sentence=f"{first} {action.sentence}")


def _grainy(situation: Situation) -> Pair:
    """Uneven crystals, or pieces that have not melted."""
    high_c = situation.temperatures.settled_c
    first = "Lift or sieve out every lump."
    if situation.temperature_c >= situation.thermal.melting.end_c:
        first += (
            " What stays a lump at this heat is no crystal: smell and taste whether it is "
            "scorched or damp before anything good goes in."
        )
    return _evened(situation, high_c - 0.1, high_c, first), melt_again(situation)


def _streaked(situation: Situation) -> Pair:
    """Uneven crystals or an uneven temperature, or too few crystals."""
    target_c = situation.temperatures.target_c
    low_c = situation.temperatures.work_low_c + 2 * situation.temperatures.edge_k
    first = "Scrape wall and bottom in until all is even."
    even = _evened(situation, low_c, target_c, first)
    if _lost(situation):
        return even, _seed_anew(situation)[1]
    if situation.temperature_c > situation.temperatures.work_high_c:
        return even, pieces_to(situation, target_c, LEAST_TOUCH_SHARE)
    return even, touch_of_seed(situation)


def _thick(situation: Situation) -> Pair:
    """Too many crystals, too cool, or spoilt by moisture or heat."""
    if situation.temperature_c <= situation.temperatures.work_high_c:
        return _set_early(situation)
    butter_g = situation.steps_g(COCOA_BUTTER_SHARE * situation.mass_g)
    butter = Action(
        "cocoa butter",
        f"If it smells and tastes right, stir in {situation.style.mass_words(butter_g)} of cocoa "
        "butter, melted and cooled to the reading of the bowl.",
        situation.temperature_c,
        situation.mass_g + butter_g,
        other_g=butter_g,
    )
    aside = _set_aside(situation)
    why = "Thick although it is warm speaks of moisture or scorching, not of crystals: taste it."
    return replace(aside, sentence=f"{why} {aside.sentence}"), butter


def _set_aside(situation: Situation) -> Action:
    return Action(
        "set aside",
        "Set it aside for baking or a filling, if it tastes right, and begin again with fresh "
        "couverture in a dry bowl.",
        situation.temperature_c,
        situation.mass_g,
    )


def _taste(situation: Situation) -> Pair:
    """Hotter than it may get: nothing good goes in before it was tasted."""
    temperatures, style = situation.temperatures, situation.style
    taste = Action(
        "taste",
        f"Take it from the heat and stir until it reads {style.degrees_words(temperatures.melt_c)}"
        ", then smell it and taste a little, cooled on a spoon, before anything good goes in: "
        "burnt, or rough on the tongue, throw it away.",
        temperatures.melt_c,
        situation.mass_g,
    )
    use = (
        f"let it rest {MELT_REST_MIN:g} min at {style.degrees_words(temperatures.melt_c)}, and "
        "temper it anew. 'snapcurve plan' says with how much seed."
    )
    if not temperatures.tempering:
        use = f"sieve it, and use it at {style.degrees_words(temperatures.target_c)}."
    anew = Action(
        "melt again",
        f"Only if it tastes as it should: {use}",
        temperatures.melt_c,
        situation.mass_g,
    )
    return taste, anew


def _coating(situation: Situation) -> Pair:
    """No crystals to mind: even it out, and into the window."""
    target_c, reads_c = situation.temperatures.target_c, situation.temperature_c
    first, second = _beaten(situation), melt_again(situation)
    if reads_c > situation.temperatures.work_high_c:
        first, second = stir_to(situation, target_c), cool_outside(situation, target_c)
    elif reads_c < situation.temperatures.work_low_c:
        first = _warmer(situation, target_c)
    return replace(first, test_after_min=0.0), replace(second, test_after_min=0.0)


def _seized(situation: Situation) -> Pair:
    """Water: no temperature brings it back."""
    liquid_g = situation.steps_g(GANACHE_LIQUID_SHARE * situation.mass_g)
    spoilt = "temper any more" if situation.temperatures.tempering else "come smooth by warmth"
    ganache = Action(
        "ganache",
        f"It will not {spoilt}. Make a filling of it: stir in "
        f"{situation.style.mass_words(liquid_g)} of warm water or cream, little by little, "
        "until it is smooth.",
        situation.temperature_c,
        situation.mass_g + liquid_g,
        other_g=liquid_g,
    )
    return ganache, _set_aside(situation)


_RULES: dict[str, Callable[[Situation], Pair]] = {
    "too warm": _too_warm,
    "too cool": _too_cool,
    "finger mark": _finger_mark,
    "set early": _set_early,
    "grainy": _grainy,
    "streaked": _streaked,
    "thick": _thick,
    "seized": _seized,
}

OBSERVATIONS = tuple(_RULES)
