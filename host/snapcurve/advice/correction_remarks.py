"""What a correction warns of, when to give up, and the assumptions it rests on."""

from collections.abc import Sequence

from snapcurve.advice.inputs import bench_assumptions
from snapcurve.advice.situation import Action, Situation
from snapcurve.heat.constants import (
    CORRECTIONS_BEFORE_MELTING,
    HOT_AIR_STATUS,
    MELTED_STIR_S,
    MUCH_MORE,
    PIECES_STIR_S,
)


def give_up(situation: Situation, observation: str) -> str:
    """When to stop correcting."""
    temperatures, style = situation.temperatures, situation.style
    if observation == "seized":
        return (
            "At once: water does not come out again. Do not melt fully again what seized, nor "
            "mix it into good chocolate."
        )
    if not temperatures.tempering:
        return (
            f"Where lumps stay at {style.degrees_words(temperatures.melt_c)}: sieve it, or begin "
            f"anew; above {style.degrees_words(temperatures.never_above_c)} taste it first."
        )
    return (
        f"Stop correcting and melt fully again to {style.degrees_words(temperatures.melt_c)} "
        f"after {CORRECTIONS_BEFORE_MELTING:g} tries, if it falls under "
        f"{style.degrees_words(temperatures.setting_c)}, or if a test is still streaked at the "
        f"high end of the window; above {style.degrees_words(temperatures.never_above_c)} taste "
        "it for scorching before going on."
    )


def cautions(situation: Situation, actions: Sequence[Action]) -> tuple[str, ...]:
    """What can hurt or spoil."""
    found, style = [], situation.style
    if situation.temperature_c > situation.temperatures.never_above_c:
        found.append(
            f"{style.degrees_words(situation.temperature_c)} is over the limit of "
            f"{style.degrees_words(situation.temperatures.never_above_c)}, and hot chocolate "
            "scalds: cool it before it touches the tongue."
        )
    if any(action.kind == "ganache" for action in actions):
        found.append(
            "Cream brings milk, an allergen to declare, into a batch that may have none. With "
            "water or cream in it, it no longer keeps as chocolate does: chill it, date it and "
            "use it within the days your own hygiene plan allows."
        )
    if any(action.hot_air_s > 0 or action.warm_first_s > 0 for action in actions):
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
    most_g = max(action.mass_after_g for action in actions)
    if most_g > MUCH_MORE * situation.mass_g:
        found.append(f"It may grow to {style.mass_words(most_g)}: the bowl has to hold that.")
    found.append("Keep bowl, probe and spatula dry: a little water makes chocolate seize.")
    return tuple(found)


def assumptions(situation: Situation) -> tuple[str, ...]:
    """What the numbers rest on."""
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
