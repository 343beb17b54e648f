"""What to do with a bowl after a test: one recommendation, one alternative."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from snapcurve.advice.actions import (
    Action,
    Situation,
    melt_again,
    melted_to,
    pieces_to,
    stir_to,
    warm_to,
)
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    COCOA_BUTTER_SHARE,
    CORRECTIONS_BEFORE_MELTING,
    DILUTION_SHARE,
    EDGE_SHARE,
    EXTRA_SEED_SHARE,
    GANACHE_LIQUID_SHARE,
    HOT_AIR_AT_1_KG,
    LONGEST_STIR_MIN,
    LOSS_AT_1_KG,
    MELTED_STIR_S,
    MELTING_POINT_FORM_V,
    PIECES_STIR_S,
    SETTING_BELOW_WINDOW_K,
)
from snapcurve.shown.figures import degrees_words, mass_words, range_words


@dataclass(frozen=True)
class Correction:
    """The answer: what was seen, what to do, what else would do, when to stop trying."""

    observation: str
    recommended: Action
    alternative: Action
    give_up: str
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]


def correct(situation: Situation, observation: str) -> Correction:
    """Advice for one of OBSERVATIONS. Raises SnapcurveError for another observation, or
    one the reading contradicts."""
    if observation not in _RULES:
        raise SnapcurveError(
            f'"{observation}" is not something a test shows here; use one of '
            f"{', '.join(OBSERVATIONS)}."
        )
    _contradiction(situation, observation)
    recommended, alternative = _RULES[observation](situation)
    if observation != "seized" and recommended.kind != "melt again":
        recommended, alternative = _with_limits(situation, recommended, alternative)
    return Correction(
        observation=observation,
        recommended=recommended,
        alternative=alternative,
        give_up=_give_up(situation, observation),
        cautions=_cautions(situation, recommended, alternative),
        assumptions=_assumptions(situation),
    )


def _contradiction(situation: Situation, observation: str) -> None:
    temperatures, reads_c = situation.temperatures, situation.temperature_c
    too_warm = observation == "too warm" and reads_c <= temperatures.work_high_c
    too_cool = observation == "too cool" and reads_c >= temperatures.work_low_c
    if too_warm or too_cool:
        raise SnapcurveError(
            f"It reads {degrees_words(reads_c)}, which is not {observation} for a window of "
            f"{range_words(temperatures.work_low_c, temperatures.work_high_c)}; say what the test "
            "showed."
        )


def _with_limits(
    situation: Situation, recommended: Action, alternative: Action
) -> tuple[Action, Action]:
    """Beyond the limits of correcting, melting again comes first."""
    if _is_setting(situation) or situation.corrections_done >= CORRECTIONS_BEFORE_MELTING.value:
        return melt_again(situation), recommended
    return recommended, alternative


def _is_setting(situation: Situation) -> bool:
    limit_c = situation.temperatures.work_low_c - SETTING_BELOW_WINDOW_K.value
    return situation.temperature_c < limit_c


def _low_end_c(situation: Situation) -> float:
    temperatures = situation.temperatures
    return temperatures.work_low_c + 2 * EDGE_SHARE.value * temperatures.width_c


def _high_end_c(situation: Situation) -> float:
    temperatures = situation.temperatures
    return temperatures.work_high_c - EDGE_SHARE.value * temperatures.width_c


def _too_warm(situation: Situation) -> tuple[Action, Action]:
    target_c = situation.temperatures.target_c
    crystals_lost = situation.temperature_c >= MELTING_POINT_FORM_V.value
    pieces = pieces_to(situation, target_c)
    stir = stir_to(situation, target_c)
    if crystals_lost:
        stir = replace(
            stir,
            sentence=stir.sentence
            + " Its crystals are melted by now, so test before use: it will need seed after all.",
        )
    if crystals_lost or stir.stir_min > LONGEST_STIR_MIN.value:
        return pieces, stir
    return stir, pieces


def _too_cool(situation: Situation) -> tuple[Action, Action]:
    target_c = situation.temperatures.target_c
    return warm_to(situation, target_c), _melted_or_again(situation, target_c, 0.0)


def _melted_or_again(situation: Situation, target_c: float, share: float) -> Action:
    try:
        return melted_to(situation, target_c, share)
    except SnapcurveError:
        return melt_again(situation)


def _finger_mark(situation: Situation) -> tuple[Action, Action]:
    """Slow film: too few crystals, or too warm for them to work."""
    if situation.temperature_c > situation.temperatures.work_high_c:
        pieces = pieces_to(situation, _low_end_c(situation), EXTRA_SEED_SHARE.value)
        return pieces, stir_to(situation, _low_end_c(situation))
    pieces = pieces_to(situation, _low_end_c(situation), EXTRA_SEED_SHARE.value)
    if situation.temperature_c < _low_end_c(situation):
        return pieces, warm_to(situation, situation.temperatures.target_c)
    return pieces, stir_to(situation, _low_end_c(situation))


def _set_early(situation: Situation) -> tuple[Action, Action]:
    """Quick film: too many crystals, or too cool."""
    high_c = _high_end_c(situation)
    if situation.temperature_c > situation.temperatures.work_high_c:
        return melt_again(situation), stir_to(situation, high_c)
    melted = _melted_or_again(situation, high_c, DILUTION_SHARE.value)
    if situation.temperature_c < high_c - 0.1:
        return warm_to(situation, high_c), melted
    return melted, melt_again(situation)


def _grainy(situation: Situation) -> tuple[Action, Action]:
    """Uneven crystals, or pieces that have not melted."""
    high_c = _high_end_c(situation)
    if situation.temperature_c > situation.temperatures.work_high_c:
        action = stir_to(situation, high_c)
    elif situation.temperature_c < high_c - 0.1:
        action = warm_to(situation, high_c)
    else:
        action = stir_to(situation, situation.temperature_c)
    strained = replace(
        action, sentence="Lift or sieve out every lump and beat it smooth. " + action.sentence
    )
    return strained, melt_again(situation)


def _streaked(situation: Situation) -> tuple[Action, Action]:
    """Uneven crystals or an uneven temperature, or too few crystals."""
    temperatures, reads_c = situation.temperatures, situation.temperature_c
    if reads_c > temperatures.work_high_c:
        action = stir_to(situation, temperatures.target_c)
    elif reads_c < _low_end_c(situation):
        action = warm_to(situation, temperatures.target_c)
    else:
        action = stir_to(situation, reads_c)
    evened = replace(
        action, sentence="Scrape wall and bottom in until all is even. " + action.sentence
    )
    return evened, pieces_to(situation, _low_end_c(situation), EXTRA_SEED_SHARE.value)


def _thick(situation: Situation) -> tuple[Action, Action]:
    """Too many crystals, too cool, or spoilt by moisture or heat."""
    if situation.temperature_c <= situation.temperatures.work_high_c:
        return _set_early(situation)
    step_g = situation.scale_step_g
    butter_g = step_g * max(1, round(COCOA_BUTTER_SHARE.value * situation.mass_g / step_g))
    butter = Action(
        "cocoa butter",
        f"Stir in {mass_words(butter_g)} of cocoa butter, melted and cooled to the reading of "
        "the bowl.",
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


def _seized(situation: Situation) -> tuple[Action, Action]:
    """Water: no temperature brings it back."""
    step_g = situation.scale_step_g
    liquid_g = step_g * round(GANACHE_LIQUID_SHARE.value * situation.mass_g / step_g)
    ganache = Action(
        "ganache",
        f"It will not temper any more. Make a filling of it: stir in {mass_words(liquid_g)} of "
        "warm "
        "cream or water, little by little, until it is smooth.",
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


_RULES: dict[str, Callable[[Situation], tuple[Action, Action]]] = {
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
    temperatures = situation.temperatures
    if observation == "seized":
        return (
            "At once: water does not come out again. Do not melt fully again what seized, nor "
            "mix it into good chocolate."
        )
    return (
        f"Stop correcting and melt fully again to {degrees_words(temperatures.melt_c)} after "
        f"{CORRECTIONS_BEFORE_MELTING.value:g} tries, if it falls under "
        f"{degrees_words(temperatures.work_low_c - SETTING_BELOW_WINDOW_K.value)}, or if a test "
        "is still "
        "streaked at the high end of the window; above "
        f"{degrees_words(temperatures.never_above_c)} taste it for scorching before going on."
    )


def _cautions(situation: Situation, *actions: Action) -> tuple[str, ...]:
    found = []
    if situation.temperature_c > situation.temperatures.never_above_c:
        found.append(
            f"{degrees_words(situation.temperature_c)} is over the limit of "
            f"{degrees_words(situation.temperatures.never_above_c)}: smell and taste it, and "
            "throw it away "
            "if it is scorched."
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
    thermal, bowl = situation.thermal, situation.bowl
    loss = "as given for this bench"
    if situation.loss_w_per_k is None:
        loss = f"scaled from a usual bowl, {LOSS_AT_1_KG.status}"
    hot_air = "as given"
    if situation.hot_air_w is None:
        hot_air = f"scaled from a usual gun, {HOT_AIR_AT_1_KG.status}"
    return (
        f"{mass_words(situation.mass_g)} at {degrees_words(situation.temperature_c)} throughout, "
        "of which "
        f"{100 * situation.crystal_share:.1f} % crystals.",
        f"Latent heat {thermal.latent_heat_j_per_g:.1f} J/g, melting spread from "
        f"{range_words(thermal.melting.start_c, thermal.melting.end_c)}.",
        f"Pieces at {degrees_words(situation.stock_used_c)}, room at "
        f"{degrees_words(situation.room_c)}.",
        f"Bowl of {mass_words(bowl.mass_g)}, {bowl.specific_heat_j_per_g_k:g} J/(g K), "
        f"{100 * bowl.touching_share:.0f} % of it as warm as the chocolate.",
        f"Loss to the room {situation.loss_used_w_per_k:.2f} W/K ({loss}).",
        f"Hot air puts {situation.hot_air_used_w:.0f} W into the chocolate ({hot_air}): go by the "
        "reading.",
        f"Stirring takes {PIECES_STIR_S.value:g} s with pieces and {MELTED_STIR_S.value:g} s with "
        "melted chocolate.",
        "The shares of pieces and melted chocolate against a slow or quick film are common "
        "practice; crystals that grow or vanish meanwhile are not counted.",
    )
