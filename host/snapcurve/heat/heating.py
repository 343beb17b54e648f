"""Heat into the chocolate: microwave power by the water test, and hot air."""

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    HOT_AIR_AT_1_KG,
    HOT_AIR_AT_MOST,
    MICROWAVE_COUPLING,
    WATER_HEAT_CAPACITY,
    WATER_TEST_VESSEL,
)
from snapcurve.heat.guards import require_between, require_positive, require_temperature

WATER_TEST_G = 1000.0
# What of IEC 60705 the water test here follows (from memory of the standard).
WATER_TEST_FOLLOWED = (
    "As in IEC 60705: 1000 g of drinking water, weighed, from about 10 °C to about 20 °C at "
    "full power, stirred before the second reading; 4.187 J/(g K) for water, 0.55 for glass.",
    "Not as in IEC 60705, so it is no rating: its 190 mm vessel of borosilicate glass, regulated "
    "mains voltage, an oven that was off for six hours, and the two or so seconds before the "
    "oven gives power, which count here.",
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
) -> float:
    """Microwave power taken up by water, W, in the manner of IEC 60705.

    P = [4.187 m_w (T2 - T1) + 0.55 m_v (T2 - T0)] / t, with the vessel of mass `vessel_g`
    starting at T0 = `vessel_start_c` (default: as the water).

    WATER_TEST_FOLLOWED says what of the standard that is. The time may have the seconds
    before the magnetron's start taken out of it, where they are known.

    Raises SnapcurveError for less than 200 g or more than 3 kg, water that did not warm
    or came near boiling, or a time not above zero.
    """
    require_between("The water", water_g, 200.0, 3000.0, "g")
    require_between("The water at the start", start_c, 0.0, 95.0, "°C")
    require_between("The water at the end", end_c, 0.0, 95.0, "°C")
    require_positive("The heating time", seconds, "s")
    require_between("The vessel", vessel_g, 0.0, 5000.0, "g")
    if end_c <= start_c:
        raise SnapcurveError(
            "The water did not get warmer; stir it, measure again, and heat it longer."
        )
    vessel_from_c = start_c if vessel_start_c is None else vessel_start_c
    require_temperature("The vessel", vessel_from_c)
    heat_j = WATER_HEAT_CAPACITY.value * water_g * (end_c - start_c)
    heat_j += WATER_TEST_VESSEL.value * vessel_g * (end_c - vessel_from_c)
    return heat_j / seconds


def power_into_chocolate_w(
    water_test_w: float, coupling: float = MICROWAVE_COUPLING.value
) -> float:
    """What chocolate takes of the water-test power, W; `coupling` above 0 up to 1.

    Raises SnapcurveError for a power outside 50 to 3000 W.
    """
    if not 50.0 <= water_test_w <= 3000.0:
        raise SnapcurveError(
            f"A microwave oven of {water_test_w:g} W cannot be used; give the power on its "
            "plate or from the water test, 50 to 3000 W."
        )
    require_between("The coupling", coupling, 0.05, 1.0, "of the power")
    return water_test_w * coupling


def usual_hot_air_w(mass_g: float) -> float:
    """Heat that hot air puts into a stirred bowl of `mass_g`, W.

    From memory for 1 kg, scaled with the surface the air meets, mass to the power 2/3, and
    limited to what a gun gives. Raises SnapcurveError for a mass not above zero.
    """
    require_positive("The mass", mass_g, "g")
    scaled_w = HOT_AIR_AT_1_KG.value * (mass_g / 1000.0) ** (2.0 / 3.0)
    return float(min(HOT_AIR_AT_MOST.value, scaled_w))
