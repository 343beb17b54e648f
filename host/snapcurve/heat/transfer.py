"""Heat into the bowl and out of it: microwave power by the water test, hot air, the room.

The loss to the room follows Newton's law: a coefficient in W/K times the difference. Hot air
and loss grow with the surface, the mass to the power 2/3.
"""

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    HOT_AIR_AT_1_KG_W,
    HOT_AIR_AT_MOST_W,
    LOSS_AT_1_KG_W_PER_K,
    MICROWAVE_COUPLING,
    WATER_J_PER_G_K,
    WATER_TEST_VESSEL_J_PER_G_K,
)
from snapcurve.heat.guards import require_between, require_positive, require_temperature
from snapcurve.shown.units import PLAIN, Style

WATER_TEST_G = 1000.0


def surface_scale(mass_g: float) -> float:
    """By how much the surface of a filling is larger than that of 1 kg; mass above 0 g."""
    return float((mass_g / 1000.0) ** (2.0 / 3.0))


def usual_loss_w_per_k(mass_g: float) -> float:
    """Loss coefficient where this bench has no curve yet, W/K; from memory for 1 kg."""
    return LOSS_AT_1_KG_W_PER_K * surface_scale(mass_g)


def usual_hot_air_w(mass_g: float) -> float:
    """Heat that hot air puts into a stirred bowl, W: from memory for 1 kg, and never more
    than a gun gives."""
    return min(HOT_AIR_AT_MOST_W, HOT_AIR_AT_1_KG_W * surface_scale(mass_g))


def water_test_notes(style: Style = PLAIN) -> tuple[str, ...]:
    """What of IEC 60705 the water test here follows (from memory of the standard)."""
    water = style.heat_per_mass(WATER_J_PER_G_K, 3, "K")
    glass = style.heat_per_mass(WATER_TEST_VESSEL_J_PER_G_K, 2, "K")
    return (
        f"As in IEC 60705: {style.mass_words(WATER_TEST_G)} of drinking water, weighed, from "
        f"about {style.degrees_words(10)} to about {style.degrees_words(20)} at full power, "
        f"stirred before the second reading; {water} for water, {glass} for glass.",
        "Not as in IEC 60705, so it is no rating: its 190 mm vessel of borosilicate glass, "
        "regulated mains voltage, an oven that was off for six hours, and the two or so seconds "
        "before the oven gives power, which count here.",
        "A vessel that is left out makes the power come out low: weigh it and give --vessel.",
        "Take the probe out before the oven runs: metal arcs.",
    )


def water_test_power_w(
    water_g: float,
    start_c: float,
    end_c: float,
    seconds: float,
    *,
    vessel_g: float = 0.0,
    vessel_start_c: float | None = None,
    style: Style = PLAIN,
) -> float:
    """Microwave power taken up by water, W, in the manner of IEC 60705.

    P = [4.187 m_w (T2 - T1) + 0.55 m_v (T2 - T0)] / t, with the vessel of mass `vessel_g`
    starting at T0 = `vessel_start_c` (default: as the water). The time may have the seconds
    before the magnetron's start taken out of it, where they are known.

    Raises SnapcurveError for less than 200 g or more than 3 kg, water that did not warm
    or came near boiling, or a time not above zero.
    """
    require_between("The water", water_g, 200.0, 3000.0, "g", style)
    require_between("The water at the start", start_c, 0.0, 95.0, "°C", style)
    require_between("The water at the end", end_c, 0.0, 95.0, "°C", style)
    require_positive("The heating time", seconds, "s", style)
    require_between("The vessel", vessel_g, 0.0, 5000.0, "g", style)
    if end_c <= start_c:
        raise SnapcurveError(
            "The water did not get warmer; stir it, measure again, and heat it longer."
        )
    vessel_from_c = start_c if vessel_start_c is None else vessel_start_c
    require_temperature("The vessel", vessel_from_c, style)
    heat_j = WATER_J_PER_G_K * water_g * (end_c - start_c)
    heat_j += WATER_TEST_VESSEL_J_PER_G_K * vessel_g * (end_c - vessel_from_c)
    return heat_j / seconds


def power_into_chocolate_w(water_test_w: float, style: Style = PLAIN) -> float:
    """What chocolate takes of the water-test power, W.

    Raises SnapcurveError for a power outside 50 to 3000 W.
    """
    if not 50.0 <= water_test_w <= 3000.0:
        raise SnapcurveError(
            f"A microwave oven of {style.quantity(water_test_w, 'W')} cannot be used; give the "
            "power on its plate or from the water test, 50 to 3000 W."
        )
    return water_test_w * MICROWAVE_COUPLING
