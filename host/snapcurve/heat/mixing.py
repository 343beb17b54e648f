"""Mixing without loss: what the bowl reads after pieces are stirred in, and the share
of pieces that brings it to a wanted temperature."""

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import NO_BOWL, Batch, Bowl
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    enthalpy_j_per_g,
    heated_enthalpy_j_per_g,
    specific_heat_j_per_g_k,
)
from snapcurve.heat.guards import require_between, require_positive, require_temperature


def _check(melt_c: float, seed_c: float) -> None:
    require_temperature("The melted chocolate", melt_c)
    require_temperature("The seed", seed_c)
    if seed_c >= melt_c:
        raise SnapcurveError(
            f"The seed at {seed_c:g} °C is not cooler than the melted chocolate at "
            f"{melt_c:g} °C, so it cannot cool it; check both temperatures."
        )


def _need(wanted_c: float, melt_c: float, seed_c: float) -> None:
    if not seed_c < wanted_c <= melt_c:
        raise SnapcurveError(
            f"{wanted_c:g} °C cannot be reached by mixing {melt_c:g} °C and {seed_c:g} °C; "
            "it has to lie between them."
        )


def fully_melted_mixture_c(
    thermal: CouvertureThermal, seed_share: float, melt_c: float, seed_c: float
) -> float:
    """Temperature when `seed_share` of the total mass is seed and all of it melts, °C.

    T = [(1-f) c_l T_m + f (c_s T_s - L)] / [(1-f) c_l + f c_s]: no bowl, no loss, and the
    latent heat taken as given at the mixing temperature itself. That is the form usual
    for a quick balance; it differs from `mixture_c` with everything melted by
    f (c_l - c_s)(T_L - T)/c_l, under 0.1 K. Raises SnapcurveError for a share outside
    0 to 1 or seed not cooler than the melt.
    """
    require_between("The seed share", seed_share, 0.0, 1.0, "of the total")
    _check(melt_c, seed_c)
    melt = (1 - seed_share) * thermal.specific_heat_liquid_j_per_g_k
    seed = seed_share * thermal.specific_heat_solid_j_per_g_k
    return (melt * melt_c + seed * seed_c - seed_share * thermal.latent_heat_j_per_g) / (
        melt + seed
    )


def fully_melted_seed_share(
    thermal: CouvertureThermal, wanted_c: float, melt_c: float, seed_c: float
) -> float:
    """Seed as a share of the total that brings `melt_c` to `wanted_c` if all melts.

    Inverse of `fully_melted_mixture_c`; same assumptions and errors.
    """
    _check(melt_c, seed_c)
    _need(wanted_c, melt_c, seed_c)
    given = thermal.specific_heat_liquid_j_per_g_k * (melt_c - wanted_c)
    taken = (
        thermal.specific_heat_solid_j_per_g_k * (wanted_c - seed_c) + thermal.latent_heat_j_per_g
    )
    return given / (given + taken)


def mixture_c(
    thermal: CouvertureThermal,
    seed_share: float,
    melt_c: float,
    seed_c: float,
    *,
    total_g: float = 1.0,
    bowl: Bowl = NO_BOWL,
) -> float:
    """Temperature of fully molten chocolate with `seed_share` of solid stirred in, °C.

    The seed melts as far as the melting curve says at the mixing temperature, so below
    the end of the curve part of it stays solid and takes up less heat. `bowl` starts at
    `melt_c`. No loss to the room. Raises SnapcurveError as `fully_melted_mixture_c`.
    """
    require_between("The seed share", seed_share, 0.0, 0.999, "of the total")
    require_positive("The total mass", total_g, "g")
    _check(melt_c, seed_c)
    batch = Batch(thermal, total_g * (1 - seed_share), melt_c, melted_share=1.0, bowl=bowl)
    if seed_share > 0:
        batch.add(total_g * seed_share, seed_c)
    return batch.temperature_c


def seed_share(
    thermal: CouvertureThermal,
    wanted_c: float,
    melt_c: float,
    seed_c: float,
    *,
    total_g: float = 1.0,
    bowl: Bowl = NO_BOWL,
) -> float:
    """Seed as a share of the total that brings fully molten `melt_c` to `wanted_c`.

    Inverse of `mixture_c`, in closed form because the melted share is known at
    `wanted_c`. Raises SnapcurveError if the temperature cannot be reached, or the bowl
    holds so much heat that not even all seed would do.
    """
    require_positive("The total mass", total_g, "g")
    _check(melt_c, seed_c)
    _need(wanted_c, melt_c, seed_c)
    given = specific_heat_j_per_g_k(thermal, 1.0) * (melt_c - wanted_c)
    bowl_gives = bowl.heat_capacity_j_per_k * (melt_c - wanted_c) / total_g
    taken = heated_enthalpy_j_per_g(thermal, wanted_c) - heated_enthalpy_j_per_g(thermal, seed_c)
    share = (given + bowl_gives) / (given + taken)
    if share >= 1:
        raise SnapcurveError(
            f"The bowl holds more heat than {total_g:g} g of seed can take; use a lighter or "
            "cooler bowl."
        )
    return share


def bowl_share(thermal: CouvertureThermal, melt_g: float, bowl: Bowl) -> float:
    """Share 0 to 1 of the heat capacity of bowl and molten chocolate that is the bowl's."""
    require_positive("The melted chocolate", melt_g, "g")
    melt = melt_g * specific_heat_j_per_g_k(thermal, 1.0)
    return bowl.heat_capacity_j_per_k / (bowl.heat_capacity_j_per_k + melt)


def melted_addition_g(
    thermal: CouvertureThermal, batch: Batch, wanted_c: float, melt_c: float
) -> float:
    """Grams of fully molten chocolate at `melt_c` that warm `batch` to `wanted_c`.

    No loss to the room; crystals of the batch melt along the melting curve. Raises
    SnapcurveError unless batch < wanted <= melt temperatures.
    """
    _check(melt_c, batch.temperature_c)
    _need(wanted_c, melt_c, batch.temperature_c)
    per_gram = enthalpy_j_per_g(thermal, melt_c, 1.0) - enthalpy_j_per_g(thermal, wanted_c, 1.0)
    if per_gram <= 0:
        raise SnapcurveError("Melted chocolate has to be warmer than the wanted temperature.")
    return batch.heat_to_reach_j(wanted_c) / per_gram


def pieces_addition_g(
    thermal: CouvertureThermal, batch: Batch, wanted_c: float, stock_c: float
) -> float:
    """Grams of solid pieces at `stock_c` that cool `batch` to `wanted_c`, without loss.

    Raises SnapcurveError unless stock < wanted < batch temperatures.
    """
    _check(batch.temperature_c, stock_c)
    _need(wanted_c, batch.temperature_c, stock_c)
    per_gram = heated_enthalpy_j_per_g(thermal, wanted_c) - heated_enthalpy_j_per_g(
        thermal, stock_c
    )
    return -batch.heat_to_reach_j(wanted_c) / per_gram
