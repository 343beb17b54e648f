"""What to do with a bowl after a test: one recommendation, one alternative, in sentences."""

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

from snapcurve.advice.actions import (
    Action,
    Situation,
    melt_again,
    melted_to,
    pieces_to,
    stir_to,
    warm_to,
)
from snapcurve.advice.inputs import bench_assumptions
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    COCOA_BUTTER_SHARE,
    CORRECTIONS_BEFORE_MELTING,
    DILUTION_SHARE,
    EXTRA_SEED_SHARE,
    GANACHE_LIQUID_SHARE,
    HOT_AIR_STATUS,
    LONGEST_STIR_MIN,
    MELTED_STIR_S,
    MELTING_POINT_FORM_V_C,
    PIECES_STIR_S,
    SETTING_BELOW_WINDOW_K,
)
from snapcurve.shown.table import listed, row, wrapped

# what a person types -> what the arithmetic calls it, and how it is said back
SHOWED = {
    "mark": ("finger mark", "after 5 min the blade still takes a finger mark"),
    "early": ("set early", "the blade was set before 3 min"),
    "grainy": ("grainy", "it is grainy"),
    "streaked": ("streaked", "the film is streaked"),
    "thick": ("thick", "it is thick"),
    "seized": ("seized", "water got in and it seized"),
    "too_warm": ("too warm", "it is too warm"),
    "too_cool": ("too cool", "it is too cool"),
}


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
    recommended, alternative = _RULES[observation](situation)
    if observation != "seized" and recommended.kind != "melt again":
        # Beyond the limits of correcting, melting again comes first.
        tried_enough = situation.corrections_done >= CORRECTIONS_BEFORE_MELTING
        if reads_c < _setting_c(situation) or tried_enough:
            recommended, alternative = melt_again(situation), recommended
    return Correction(
        observation=observation,
        recommended=recommended,
        alternative=alternative,
        give_up=_give_up(situation, observation),
        cautions=_cautions(situation, (recommended, alternative)),
        assumptions=_assumptions(situation),
    )


def _setting_c(situation: Situation) -> float:
    return situation.temperatures.work_low_c - SETTING_BELOW_WINDOW_K


def _low_end_c(situation: Situation) -> float:
    return situation.temperatures.work_low_c + 2 * situation.temperatures.edge_k


def _too_warm(situation: Situation) -> Pair:
    target_c = situation.temperatures.target_c
    crystals_lost = situation.temperature_c >= MELTING_POINT_FORM_V_C
    pieces = pieces_to(situation, target_c)
    stir = stir_to(situation, target_c)
    if crystals_lost:
        lost = "Its crystals are melted by now, so test before use: it will need seed after all."
        stir = replace(stir, sentence=f"{stir.sentence} {lost}")
    if crystals_lost or stir.stir_min > LONGEST_STIR_MIN:
        return pieces, stir
    return stir, pieces


def _too_cool(situation: Situation) -> Pair:
    target_c = situation.temperatures.target_c
    return warm_to(situation, target_c), _melted_or_again(situation, target_c, 0.0)


def _melted_or_again(situation: Situation, target_c: float, share: float) -> Action:
    try:
        return melted_to(situation, target_c, share)
    except SnapcurveError:
        return melt_again(situation)


def _finger_mark(situation: Situation) -> Pair:
    """Slow film: too few crystals, or too warm for them to work."""
    low_c = _low_end_c(situation)
    pieces = pieces_to(situation, low_c, EXTRA_SEED_SHARE)
    if situation.temperature_c < low_c:
        return pieces, warm_to(situation, situation.temperatures.target_c)
    return pieces, stir_to(situation, low_c)


def _set_early(situation: Situation) -> Pair:
    """Quick film: too many crystals, or too cool."""
    high_c = situation.temperatures.settled_c
    if situation.temperature_c > situation.temperatures.work_high_c:
        return melt_again(situation), stir_to(situation, high_c)
    melted = _melted_or_again(situation, high_c, DILUTION_SHARE)
    if situation.temperature_c < high_c - 0.1:
        return warm_to(situation, high_c), melted
    return melted, melt_again(situation)


def _evened(situation: Situation, warm_below_c: float, target_c: float, first: str) -> Action:
    """Into the window and even: `first` is done before it is stirred or warmed."""
    reads_c = situation.temperature_c
    if reads_c > situation.temperatures.work_high_c:
        action = stir_to(situation, target_c)
    elif reads_c < warm_below_c:
        action = warm_to(situation, target_c)
    else:
        action = stir_to(situation, reads_c)
    return replace(action, sentence=f"{first} {action.sentence}")


def _grainy(situation: Situation) -> Pair:
    """Uneven crystals, or pieces that have not melted."""
    high_c = situation.temperatures.settled_c
    first = "Lift or sieve out every lump and beat it smooth."
    return _evened(situation, high_c - 0.1, high_c, first), melt_again(situation)


def _streaked(situation: Situation) -> Pair:
    """Uneven crystals or an uneven temperature, or too few crystals."""
    low_c, target_c = _low_end_c(situation), situation.temperatures.target_c
    first = "Scrape wall and bottom in until all is even."
    return (
        _evened(situation, low_c, target_c, first),
        pieces_to(situation, low_c, EXTRA_SEED_SHARE),
    )


def _thick(situation: Situation) -> Pair:
    """Too many crystals, too cool, or spoilt by moisture or heat."""
    if situation.temperature_c <= situation.temperatures.work_high_c:
        return _set_early(situation)
    butter_g = situation.steps_g(COCOA_BUTTER_SHARE * situation.mass_g)
    butter = Action(
        "cocoa butter",
        f"Stir in {situation.style.mass_words(butter_g)} of cocoa butter, melted and cooled to "
        "the reading of the bowl.",
        situation.temperature_c,
        situation.mass_g + butter_g,
        other_g=butter_g,
    )
    aside = Action(
        "set aside",
        "Thick although it is warm speaks of moisture or scorching, not of crystals: taste and "
        "feel it, and set it aside for fillings if it is rough.",
        situation.temperature_c,
        situation.mass_g,
    )
    return aside, butter


def _seized(situation: Situation) -> Pair:
    """Water: no temperature brings it back."""
    liquid_g = situation.steps_g(GANACHE_LIQUID_SHARE * situation.mass_g)
    ganache = Action(
        "ganache",
        "It will not temper any more. Make a filling of it: stir in "
        f"{situation.style.mass_words(liquid_g)} of warm cream or water, little by little, "
        "until it is smooth.",
        situation.temperature_c,
        situation.mass_g + liquid_g,
        other_g=liquid_g,
    )
    aside = Action(
        "set aside",
        "Set it aside for baking and begin again with fresh couverture in a dry bowl.",
        situation.temperature_c,
        situation.mass_g,
    )
    return ganache, aside


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


def _give_up(situation: Situation, observation: str) -> str:
    temperatures, style = situation.temperatures, situation.style
    if observation == "seized":
        return (
            "At once: water does not come out again. Do not melt fully again what seized, nor "
            "mix it into good chocolate."
        )
    return (
        f"Stop correcting and melt fully again to {style.degrees_words(temperatures.melt_c)} "
        f"after {CORRECTIONS_BEFORE_MELTING:g} tries, if it falls under "
        f"{style.degrees_words(_setting_c(situation))}, or if a test is still streaked at the "
        f"high end of the window; above {style.degrees_words(temperatures.never_above_c)} taste "
        "it for scorching before going on."
    )


def _cautions(situation: Situation, actions: Pair) -> tuple[str, ...]:
    found, style = [], situation.style
    if situation.temperature_c > situation.temperatures.never_above_c:
        found.append(
            f"{style.degrees_words(situation.temperature_c)} is over the limit of "
            f"{style.degrees_words(situation.temperatures.never_above_c)}: smell and taste it, "
            "and throw it away if it is scorched."
        )
    if any(action.hot_air_s > 0 for action in actions):
        found.append(
            "Hot air burns and its nozzle stays hot: short blasts while stirring, away from "
            "probe, cable and hands; in the stream the probe reads the air, not the chocolate."
        )
    if any(action.kind == "melt again" for action in actions):
        found.append("Take the probe out before the microwave oven runs: metal arcs.")
    if any(action.pieces_g > 0 or action.melted_g > 0 for action in actions):
        found.append(
            "Use the same couverture for what you add: another may bring milk, nuts or soya into "
            "a batch sold without."
        )
    found.append("Keep bowl, probe and spatula dry: a little water makes chocolate seize.")
    return tuple(found)


def _assumptions(situation: Situation) -> tuple[str, ...]:
    hot_air, style = "as given", situation.style
    if situation.hot_air_w is None:
        hot_air = f"scaled from a usual gun, {HOT_AIR_STATUS}"
    return (
        f"{style.mass_words(situation.mass_g)} at "
        f"{style.degrees_words(situation.temperature_c)} throughout, of which "
        f"{style.number(100 * situation.crystal_share, 1)} % crystals.",
        *bench_assumptions(situation),
        f"Hot air puts {situation.hot_air_used_w:.0f} W into the chocolate ({hot_air}): go by the "
        "reading.",
        f"Stirring takes {PIECES_STIR_S:g} s with pieces and {MELTED_STIR_S:g} s with "
        "melted chocolate.",
        "The shares of pieces and melted chocolate against a slow or quick film are common "
        "practice; crystals that grow or vanish meanwhile are not counted.",
    )


def correction_lines(
    name: str,
    situation: Situation,
    answer: Correction,
    assumed: tuple[str, ...],
) -> list[str]:
    """The advice as lines of text; `assumed` are the assumptions that came from defaults."""
    temperatures, style = situation.temperatures, situation.style
    seen = next(words for one, words in SHOWED.values() if one == answer.observation)
    heading = (
        f"{style.mass_words(situation.mass_g)} of {name} at "
        f"{style.degrees_words(situation.temperature_c)}, for "
        f"{style.window(temperatures.work_low_c, temperatures.work_high_c)}; {seen}."
    )
    lines = []
    for word, action in (("Do", answer.recommended), ("Or", answer.alternative)):
        lines += ["", row(word, action.sentence)]
        if action.test_after_min:
            test = (
                "Then dip a fresh blade: not set before 3 min, set without a mark after "
                f"{action.test_after_min:.0f}."
            )
            lines.append(row("", test))
    lines += ["", row("Give up", answer.give_up), *listed("Caution", answer.cautions)]
    lines += listed("Assumed", assumed + answer.assumptions)
    return wrapped([heading], under="") + wrapped(lines)


def correction_data(answer: Correction, assumed: tuple[str, ...]) -> dict[str, Any]:
    """The advice for a script: the fields of Correction."""
    return asdict(replace(answer, assumptions=assumed + answer.assumptions))
