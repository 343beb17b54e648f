"""Mixing and seed share against a derived table, scipy and cook-book shares."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl, bowl_of
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    couverture_thermal,
    enthalpy_j_per_g,
    heated_enthalpy_j_per_g,
)
from snapcurve.heat.mixing import (
    bowl_share,
    fully_melted_mixture_c,
    fully_melted_seed_share,
    melted_addition_g,
    mixture_c,
    pieces_addition_g,
    seed_share,
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


@pytest.mark.parametrize(("kind", "melt_c", "share", "reading"), CELLS)
def test_fully_melted_mixture_is_the_table(kind, melt_c, share, reading):
    thermal = couverture_thermal(kind)
    assert fully_melted_mixture_c(thermal, share, melt_c, 20.0) == pytest.approx(reading, abs=0.01)


# Where the melting curve has ended, the model with the curve has to say the same. What is
# left is the latent heat's own temperature (its docstring): under 0.05 K here.
@pytest.mark.parametrize(
    ("kind", "melt_c", "share", "reading"), [cell for cell in CELLS if cell[3] >= 36.0]
)
def test_mixture_with_the_melting_curve_is_the_table_where_all_melts(kind, melt_c, share, reading):
    # The table's seed is fully solid at 20 °C, where the milk curve has begun to melt.
    thermal = CouvertureThermal(couverture_thermal(kind).latent_heat_j_per_g)
    assert mixture_c(thermal, share, melt_c, 20.0) == pytest.approx(reading, abs=0.05)


@pytest.mark.parametrize(
    ("melt_c", "wanted_c", "share"),
    [
        (45, 34, 0.2121), (45, 32, 0.2501), (45, 31, 0.2691), (45, 30, 0.2881),
        (45, 28, 0.3259), (50, 34, 0.2813), (50, 32, 0.3160), (50, 31, 0.3332),
        (50, 30, 0.3505), (50, 28, 0.3849),
    ],
)  # fmt: skip
def test_fully_melted_seed_share_is_the_derived_one(melt_c, wanted_c, share):
    found = fully_melted_seed_share(DARK, wanted_c, melt_c, 20.0)
    assert found == pytest.approx(share, abs=0.002)
    root = brentq(
        lambda f: fully_melted_mixture_c(DARK, f, melt_c, 20.0) - wanted_c, 0.01, 0.6, xtol=1e-13
    )
    assert found == pytest.approx(root, abs=1e-10)


# A mould seller's table: 25 % of the melted weight (20 % of the total) up to a third of the
# total in three tutorials.
def test_shares_lie_where_the_cook_books_have_them():
    assert 0.20 <= fully_melted_seed_share(DARK, 32.0, 45.0, 20.0) <= 1 / 3
    assert 0.20 <= fully_melted_seed_share(DARK, 31.0, 50.0, 20.0) <= 1 / 3 + 0.001


def test_latent_heat_is_most_of_the_effect():
    # Derived: without latent heat 25 % from 45 °C would read 38.98 °C.
    melt, seed = 0.75 * 1.67, 0.25 * 1.59
    assert (melt * 45 + seed * 20) / (melt + seed) == pytest.approx(38.98, abs=0.005)
    assert fully_melted_mixture_c(DARK, 0.25, 45.0, 20.0) < 33


def test_partly_melted_seed_cools_less():
    assert mixture_c(DARK, 0.3, 45.0, 20.0) > fully_melted_mixture_c(DARK, 0.3, 45.0, 20.0)


@given(
    st.sampled_from([DARK, MILK]),
    st.floats(0.001, 0.6),
    st.floats(36.0, 60.0),
    st.floats(0.0, 24.0),
)
def test_heat_given_is_heat_taken(thermal, share, melt_c, seed_c):
    t = fully_melted_mixture_c(thermal, share, melt_c, seed_c)
    given_up = (1 - share) * thermal.specific_heat_liquid_j_per_g_k * (melt_c - t)
    taken = share * (
        thermal.specific_heat_solid_j_per_g_k * (t - seed_c) + thermal.latent_heat_j_per_g
    )
    assert given_up == pytest.approx(taken, rel=1e-9)


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
    t = mixture_c(thermal, share, melt_c, seed_c, total_g=total_g, bowl=bowl)
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


@given(
    st.sampled_from([DARK, MILK]),
    st.floats(27.0, 35.0),
    st.floats(40.0, 55.0),
    st.floats(10.0, 24.0),
    st.floats(300.0, 9000.0),
    st.floats(0.0, 150.0),
)
def test_seed_share_is_the_inverse_of_mixing(thermal, wanted_c, melt_c, seed_c, total_g, bowl_g):
    bowl = bowl_of("plastic", bowl_g)
    share = seed_share(thermal, wanted_c, melt_c, seed_c, total_g=total_g, bowl=bowl)
    assume(share < 0.95)
    reading = mixture_c(thermal, share, melt_c, seed_c, total_g=total_g, bowl=bowl)
    assert reading == pytest.approx(wanted_c, abs=1e-7)
    root = brentq(
        lambda f: mixture_c(thermal, f, melt_c, seed_c, total_g=total_g, bowl=bowl) - wanted_c,
        1e-6,
        0.99,
        xtol=1e-12,
    )
    assert share == pytest.approx(root, abs=1e-9)


@given(st.floats(26.0, 30.0), st.floats(30.5, 33.0), st.floats(40.0, 55.0))
def test_melted_addition_lands_on_the_wanted_reading(reading, wanted_c, melt_c):
    batch = Batch(DARK, 800.0, reading, melted_share=0.97, bowl=bowl_of("plastic", 300.0))
    grams = melted_addition_g(DARK, batch, wanted_c, melt_c)
    before_j = batch.enthalpy_j
    batch.add(grams, melt_c, 1.0)
    assert batch.temperature_c == pytest.approx(wanted_c, abs=1e-7)
    assert batch.enthalpy_j - before_j == pytest.approx(
        grams * enthalpy_j_per_g(DARK, melt_c, 1.0), rel=1e-9
    )


@given(st.floats(32.0, 45.0), st.floats(28.0, 31.5), st.floats(5.0, 24.0))
def test_pieces_addition_lands_on_the_wanted_reading(reading, wanted_c, stock_c):
    batch = Batch(DARK, 800.0, reading, melted_share=0.97, bowl=bowl_of("plastic", 300.0))
    grams = pieces_addition_g(DARK, batch, wanted_c, stock_c)
    batch.add(grams, stock_c)
    assert batch.temperature_c == pytest.approx(wanted_c, abs=1e-7)


def test_bowl_share_of_the_heat():
    # 300 g of plastic at 1.9 J/(g K), all of it, against 1 kg at 1.67: 570 of 2240 J/K.
    bowl = Bowl(300.0, 1.9, touching_share=1.0)
    assert bowl_share(DARK, 1000.0, bowl) == pytest.approx(570 / 2240)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: fully_melted_mixture_c(DARK, 0.2, 31.0, 33.0), "not cooler"),
        (lambda: fully_melted_mixture_c(DARK, 1.2, 45.0, 20.0), "seed share"),
        (lambda: fully_melted_seed_share(DARK, 50.0, 45.0, 20.0), "between them"),
        (lambda: mixture_c(DARK, 0.2, 45.0, 20.0, total_g=-1.0), "above zero"),
        (lambda: seed_share(DARK, 15.0, 45.0, 20.0), "between them"),
        (
            lambda: seed_share(DARK, 31.0, 45.0, 20.0, total_g=50.0, bowl=Bowl(5000.0, 0.9, 1.0)),
            "lighter or cooler bowl",
        ),
        (lambda: bowl_share(DARK, 0.0, Bowl(300.0, 1.9)), "above zero"),
    ],
)
def test_silly_input_gets_one_sentence(ask, says):
    with pytest.raises(SnapcurveError, match=says) as e:
        ask()
    assert str(e.value).endswith(".")
