"""What a plan warns of, what can hurt or spoil, and the assumptions it rests on."""

from snapcurve.advice.inputs import GOOD_ROOM_C, PlanRequest, bench_assumptions
from snapcurve.heat.constants import (
    COLD_BATH_AT_1_KG_W_PER_K,
    COLD_BATH_C,
    HANDFUL_STIR_S,
    HOT_AIR_STATUS,
    HOT_BOWL_C,
    MANY_BURSTS,
    MELT_REST_MIN,
    MELT_REST_STATUS,
    MEMORY,
    MICROWAVE_COUPLING,
    MICROWAVE_COUPLING_STATUS,
    ROOM_WARM_ABOVE_C,
    STIR_AFTER_BURST_S,
    TABLE_MIN,
    THICK_UNMELTED_SHARE,
)
from snapcurve.heat.transfer import surface_scale, usual_hot_air_w
from snapcurve.shown.units import Style


def little_seed(share: float, wait_min: float) -> str:
    """The seed alone does not cool the melt to the window."""
    return (
        f"Seed of {100 * share:.0f} % of the batch is too little to reach the window from the "
        f"melting temperature: stir for {wait_min:.0f} min before the first handful."
    )


def cools_by_itself(seed_g: float, style: Style) -> str:
    """So little seed that few crystals survive."""
    return (
        f"This bowl cools so fast that only {style.mass_words(seed_g)} of seed fit in, and few "
        "of its crystals may survive: warm the bowl first, or make a larger batch."
    )


def needs_no_slab() -> str:
    """Tabling: the bowl cools to the window by itself."""
    return (
        "This bowl cools to the window while it stands, so hardly anything would go on the slab "
        "and no crystals would form there: warm the bowl first, or make a larger batch."
    )


def warnings(
    request: PlanRequest,
    predicted_c: float,
    unmelted_share: float,
    tools: list[str],
) -> list[str]:
    """Where the plan may fail, whatever the method."""
    temperatures, style = request.temperatures, request.style
    found = []
    if not temperatures.contains(predicted_c):
        found.append(
            f"The plan ends at {style.degrees_words(predicted_c)}, outside the window of "
            f"{style.window(temperatures.work_low_c, temperatures.work_high_c)}."
        )
    if request.room_c > ROOM_WARM_ABOVE_C:
        found.append(
            f"A room at {style.degrees_words(request.room_c)} is warm for this work: it cools "
            "slowly and the moulds set slowly; about "
            f"{style.degrees_words(GOOD_ROOM_C)} is better."
        )
    if request.method != "hold" and temperatures.melt_c >= HOT_BOWL_C:
        found.append(
            f"The bowl reaches {style.degrees_words(temperatures.melt_c)} or more, too hot to "
            "hold for long: have a dry cloth ready."
        )
    if request.method == "hold" and unmelted_share > THICK_UNMELTED_SHARE:
        found.append(
            f"About {100 * unmelted_share:.0f} % is then still solid: it will be thick, and only "
            "stock that was in temper stays so."
        )
    if "hot air" in tools and request.method != "cold-bath" and request.microwave_w:
        found.append(
            "Even a short burst of the oven is too coarse here, so hot air does the rest; a water "
            "bath or a larger batch is easier."
        )
    bursts = tools.count("microwave")
    if bursts > MANY_BURSTS:
        found.append(f"{bursts} bursts are many for one bowl; divide the batch.")
    return found


def cautions(request: PlanRequest, tools: list[str]) -> tuple[str, ...]:
    """What can hurt or spoil."""
    never_above = request.style.degrees_words(request.temperatures.never_above_c)
    found = [
        "Keep water and steam away from the chocolate: a little makes it seize.",
        f"Never let it read more than {never_above}: it scorches.",
    ]
    if request.microwave_w is not None:
        found.insert(
            0,
            "Take the probe out before every burst in the microwave oven: metal arcs. Stir "
            "before reading, and touch the bowl with care, it may be hotter than the reading.",
        )
    if request.method == "coating":
        found.append(
            "Keep its bowls and tools apart from those of chocolate: a little of its fat spoils a "
            "temper. It may be sold only by the name that its label has."
        )
    if "hot air" in tools:
        found.append(
            "Hot air burns and its nozzle stays hot: short blasts while stirring, away from "
            "probe, cable and hands."
        )
    return tuple(found)


def assumptions(request: PlanRequest, tools: list[str]) -> tuple[str, ...]:
    """What the numbers rest on, so that a person can doubt them."""
    style = request.style
    found = [
        *bench_assumptions(request),
        f"Masses rounded to {style.mass_words(request.scale_step_g)}.",
        "No heat from crystals that grow meanwhile.",
    ]
    if request.method != "hold":
        found.append(f"Rest of {MELT_REST_MIN:g} min once molten ({MELT_REST_STATUS}).")
    if request.microwave_w is not None:
        found.append(
            f"The chocolate takes {100 * MICROWAVE_COUPLING:.0f} % of "
            f"{style.quantity(request.microwave_w, 'W')} ({MICROWAVE_COUPLING_STATUS}), with "
            f"{STIR_AFTER_BURST_S:g} s of stirring after each burst."
        )
    elif request.method != "hold":
        found.append("Time starts with molten chocolate: how it is melted was not given.")
    if "hot air" in tools:
        found.append(
            f"Hot air puts {usual_hot_air_w(request.mass_g):.0f} W into the chocolate "
            f"({HOT_AIR_STATUS}): go by the reading."
        )
    if request.method == "seeding":
        found.append(
            f"Each handful gives its cold within {HANDFUL_STIR_S:g} s of stirring and melts "
            "as far as the melting curve says. Wait for the reading, not for the minute; leave a "
            "handful out if it already reads less than the limit beside it."
        )
    if request.method == "slab":
        found.append(
            f"{TABLE_MIN:g} min on the slab, the bowl standing meanwhile; the slab's own "
            "warming and chocolate left on it are not counted."
        )
    if request.method in ("cold-bath", "crystal-seed"):
        found.append(
            f"A bath of {style.degrees_words(COLD_BATH_C)} takes "
            f"{style.number(COLD_BATH_AT_1_KG_W_PER_K * surface_scale(request.mass_g), 1)} W/K "
            f"({MEMORY}); crystals on the wall are not counted."
        )
    if request.method == "crystal-seed":
        found.append(
            "Crystals of 1 % and where they go in by a published guide for chocolate; nearer the "
            "window where that is lower is an own choice."
        )
    return tuple(found)
