"""From what a person says about chocolate and bowl to what the arithmetic takes."""

from snapcurve.advice.working_temperatures import WorkingTemperatures
from snapcurve.couvertures import Couverture
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Bowl, bowl_of
from snapcurve.heat.constants import BOWL_MATERIALS, USUAL_BOWL_G_AT_1_KG
from snapcurve.heat.enthalpy import CouvertureThermal, couverture_thermal
from snapcurve.shown.figures import mass_words


def temperatures_of(couverture: Couverture) -> WorkingTemperatures:
    """The temperatures on the bag; SnapcurveError if chocolate cannot be worked at them."""
    return WorkingTemperatures(
        melt_c=couverture.melt_c,
        work_low_c=couverture.work_low_c,
        work_high_c=couverture.work_high_c,
        never_above_c=couverture.never_above_c,
        cool_c=couverture.cool_c,
        aim_c=couverture.aim_c,
    )


def thermal_of(couverture: Couverture) -> CouvertureThermal:
    """Its heat by kind, and by the fat on the bag where the file gives it."""
    fat = couverture.fat_percent
    return couverture_thermal(couverture.kind, None if fat is None else fat / 100)


def usual_bowl(material: str, mass_g: float, bowl_g: float | None = None) -> Bowl:
    """A bowl of `material` for `mass_g` of chocolate; `bowl_g` None for a usual one.

    The usual one grows with the surface, the mass to the power 2/3. SnapcurveError for an
    unknown material, or a bowl far too heavy or light for what is in it.
    """
    if material not in BOWL_MATERIALS:
        raise SnapcurveError(
            f'There is no bowl of "{material}" here; use one of {", ".join(BOWL_MATERIALS)}.'
        )
    usual_g = USUAL_BOWL_G_AT_1_KG[material] * (max(mass_g, 50.0) / 1000.0) ** (2.0 / 3.0)
    if bowl_g is None:
        return bowl_of(material, 10.0 * round(usual_g / 10.0))
    bowl = bowl_of(material, bowl_g)
    if bowl_g > 20 * usual_g:
        raise SnapcurveError(
            f"A {material} bowl of {mass_words(bowl_g)} is far too heavy for "
            f"{mass_words(mass_g)} of chocolate; check both weights."
        )
    if bowl_g < usual_g / 20:
        raise SnapcurveError(
            f"A {material} bowl of {mass_words(bowl_g)} is far too light for "
            f"{mass_words(mass_g)} of chocolate; check both weights."
        )
    return bowl
