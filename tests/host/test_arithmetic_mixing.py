"""Mixing in a bowl against a derived table and cook-book shares."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from snapcurve.heat.bowl import NO_BOWL, Batch, Bowl, bowl_of
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    couverture_thermal,
    enthalpy_j_per_g,
    heated_enthalpy_j_per_g,
)

DARK, MILK = couverture_thermal("dark"), couverture_thermal("milk")
SHARES = (0.10, 0.15, 0.20, 0.25, 0.30, 1 / 3)

# Derived from the specific and latent heats of Beckett (ed.), 4th ed. 2009, p. 667 and 668:
# T = [(1-f) 1.67 T_m + f (1.59 * 20 - L)] / [(1-f) 1.67 + f 1.59], all seed melted.
TABLE = {
    ("dark", 40): (35.32, 32.96, 30.59, 28.21, 25.82, 24.22),
    ("dark", 45): (39.84, 37.24, 34.63, 32.01, 29.37, 27.61),
    ("dark", 50): (44.36, 41.52, 38.67, 35.80, 32.92, 30.99),
    ("milk", 45): (39.96, 37.42, 34.87, 32.31, 29.74, 28.01),
    ("milk", 50): (44.48, 41.70, 38.91, 36.11, 33.29, 31.40),
}
CELLS = [
    (kind, melt_c, share, reading)
    for (kind, melt_c), row in TABLE.items()
    for share, reading in zip(SHARES, row, strict=True)
]


def mixture_c(
    thermal: CouvertureThermal,
    share: float,
    melt_c: float,
    seed_c: float,
    total_g: float = 1000.0,
    bowl: Bowl = NO_BOWL,
) -> float:
    """What a molten batch reads with `share` of the total stirred in as seed."""
    batch = Batch(thermal, total_g * (1 - share), melt_c, melted_share=1.0, bowl=bowl)
    batch.add(total_g * share, seed_c)
    return batch.temperature_c


# Where the melting curve has ended the table holds; what is left is the latent heat's own
# temperature: under 0.05 K here. Below, part of the seed stays solid and cools less.
@pytest.mark.parametrize(("kind", "melt_c", "share", "reading"), CELLS)
def test_a_mixture_is_the_table_where_all_melts_and_warmer_where_not(kind, melt_c, share, reading):
    # The table's seed is fully solid at 20 °C, where the milk curve has begun to melt.
    thermal = CouvertureThermal(couverture_thermal(kind).latent_heat_j_per_g)
    found = mixture_c(thermal, share, melt_c, 20.0)
    if reading >= 36.0:
        assert found == pytest.approx(reading, abs=0.05)
    else:
        assert reading - 0.05 < found < 36.0


# A mould seller's table: 25 % of the melted weight (20 % of the total) up to a third of the
# total in three tutorials.
@pytest.mark.parametrize(("melt_c", "reading"), [(45.0, 32.0), (50.0, 32.5)])
def test_shares_lie_where_the_cook_books_have_them(melt_c, reading):
    share = brentq(lambda f: mixture_c(DARK, f, melt_c, 20.0) - reading, 0.01, 0.6)
    assert 0.20 <= share <= 1 / 3 + 0.03


@given(
    st.sampled_from([DARK, MILK]),
    st.floats(0.001, 0.6),
    st.floats(36.0, 60.0),
    st.floats(0.0, 24.0),
    st.floats(100.0, 9000.0),
    st.floats(0.0, 1500.0),
)
def test_mixture_conserves_enthalpy_with_the_bowl(thermal, share, melt_c, seed_c, total_g, bowl_g):
    bowl = bowl_of("glass", bowl_g)
    t = mixture_c(thermal, share, melt_c, seed_c, total_g, bowl)
    assume(t > seed_c)
    before = (
        (1 - share) * total_g * enthalpy_j_per_g(thermal, melt_c, 1.0)
        + share * total_g * heated_enthalpy_j_per_g(thermal, seed_c)
        + bowl.heat_capacity_j_per_k * melt_c
    )
    after = (
        (1 - share) * total_g * enthalpy_j_per_g(thermal, t, 1.0)
        + share * total_g * heated_enthalpy_j_per_g(thermal, t)
        + bowl.heat_capacity_j_per_k * t
    )
    assert after == pytest.approx(before, rel=1e-9)
