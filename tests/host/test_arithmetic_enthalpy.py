"""Enthalpy of a couverture: handbook numbers, independent integration, conservation."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from melting_oracle import scipy_curve, slope_per_k
from scipy.integrate import quad
from scipy.optimize import brentq

from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch, Bowl, bowl_of, settle
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    MeltingCurve,
    couverture_thermal,
    enthalpy_j_per_g,
    heat_to_warm_j,
    heated_enthalpy_j_per_g,
    latent_heat_at_j_per_g,
    specific_heat_j_per_g_k,
)

DARK = couverture_thermal("dark")

temperatures = st.floats(-10.0, 70.0)
shares = st.floats(0.0, 1.0)
masses_g = st.floats(1.0, 20_000.0)


@st.composite
def thermals(draw: st.DrawFn) -> CouvertureThermal:
    start = draw(st.floats(15.0, 24.0))
    widths = draw(st.lists(st.floats(0.5, 5.0), min_size=2, max_size=5))
    # Flat stretches belong to the curves; rises too small to divide by do not.
    rise = st.one_of(st.just(0.0), st.floats(1e-3, 1.0))
    rises = draw(st.lists(rise, min_size=len(widths), max_size=len(widths)))
    total = sum(rises) + 1.0
    points, t, y = [(start, 0.0)], start, 0.0
    for width, rise_here in zip(widths, rises, strict=True):
        t, y = t + width, y + rise_here / total
        points.append((t, y))
    points.append((t + 1.0, 1.0))
    latent, solid, liquid = (draw(st.floats(*span)) for span in ((25, 80), (1.2, 2.2), (1.2, 2.2)))
    latent_at_c = draw(st.floats(30.0, 45.0))
    # Heats with which melting would give off heat are refused, and are no couverture's.
    at_ends = (latent + (liquid - solid) * (end - latent_at_c) for end in (start, t + 1.0))
    assume(all(heat > 0.1 for heat in at_ends))
    return CouvertureThermal(latent, solid, liquid, latent_at_c, MeltingCurve(tuple(points)))


# Specific and latent heats: Beckett (ed.), Industrial Chocolate Manufacture and Use, 4th ed.
# 2009, p. 667 and 668. The sum 31.8 + 46 + 8.35 kJ is derived from them.
def test_heating_a_kilogram_of_dark_chocolate_takes_the_handbook_heat():
    assert heat_to_warm_j(DARK, 1000.0, 20.0, 45.0) == pytest.approx(86_150, rel=0.005)


def test_with_the_latent_heat_at_40_the_handbook_sum_is_exact():
    thermal = CouvertureThermal(46.0, latent_at_c=40.0)
    assert heat_to_warm_j(thermal, 1000.0, 20.0, 45.0) == pytest.approx(86_150, rel=1e-12)


# Chevalley et al. 1970 in Beckett p. 668: 157, 46 and 44 J/g.
def test_latent_heat_is_the_handbooks_or_follows_the_fat():
    assert couverture_thermal("dark").latent_heat_j_per_g == 46.0
    assert couverture_thermal("milk").latent_heat_j_per_g == 44.0
    assert couverture_thermal("milk", 0.40).latent_heat_j_per_g == pytest.approx(62.8)
    assert couverture_thermal("dark", 46 / 157).latent_heat_j_per_g == pytest.approx(46.0)


def test_milk_and_white_never_melt_later_than_dark():
    for t in range(15, 40):
        dark = DARK.melting.melted_share(t)
        assert couverture_thermal("milk").melting.melted_share(t) >= dark
        assert couverture_thermal("white").melting.melted_share(t) >= dark


@given(thermals(), st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_enthalpy_is_the_integral_of_the_heat_capacity(thermal, from_c, to_c):
    def capacity(t):
        share = thermal.melting.melted_share(t)
        melt_j_per_g_k = slope_per_k(thermal.melting, t) * latent_heat_at_j_per_g(thermal, t)
        return specific_heat_j_per_g_k(thermal, share) + melt_j_per_g_k

    knots = [t for t, _ in thermal.melting.points if min(from_c, to_c) < t < max(from_c, to_c)]
    heat, _ = quad(capacity, from_c, to_c, points=knots or None, limit=200)
    assert heat_to_warm_j(thermal, 1.0, from_c, to_c) == pytest.approx(heat, abs=1e-6)


@given(thermals())
def test_melting_curve_is_the_monotone_cubic_of_scipy(thermal):
    points = thermal.melting.points
    oracle = scipy_curve(thermal.melting)
    span = points[-1][0] - points[0][0]
    for i in range(41):
        t = points[0][0] + span * i / 40
        assert thermal.melting.melted_share(t) == pytest.approx(float(oracle(t)), abs=1e-9)


@given(thermals(), temperatures, temperatures)
def test_warmer_is_never_less_melted_and_always_holds_more_heat(thermal, a, b):
    low, high = sorted((a, b))
    melting = thermal.melting
    assert 0.0 <= melting.melted_share(low) <= melting.melted_share(high) + 1e-12 <= 1 + 2e-12
    if high - low > 1e-6:
        assert heated_enthalpy_j_per_g(thermal, low) < heated_enthalpy_j_per_g(thermal, high)


@given(
    thermals(),
    st.lists(st.tuples(masses_g, shares), min_size=1, max_size=6),
    st.floats(0.0, 2000.0),
    st.floats(-5.0, 90.0),
)
def test_settling_conserves_enthalpy_and_never_solidifies(
    thermal, portions, bowl_j_per_k, mean_j_per_g
):
    mass = sum(m for m, _ in portions)
    enthalpy_j = mass * mean_j_per_g
    t, after = settle(thermal, portions, bowl_j_per_k, enthalpy_j)
    held = bowl_j_per_k * t + sum(m * enthalpy_j_per_g(thermal, t, x) for m, x in after)
    assert held == pytest.approx(enthalpy_j, rel=1e-11, abs=1e-7)
    curve = thermal.melting.melted_share(t)
    for (m0, x0), (m1, x1) in zip(portions, after, strict=True):
        assert m1 == m0
        assert x1 == pytest.approx(max(x0, curve), abs=1e-8)


@given(thermals(), masses_g, st.floats(30.0, 60.0), masses_g, st.floats(0.0, 24.0))
def test_settling_agrees_with_scipy(thermal, melt_g, melt_c, seed_g, seed_c):
    bowl = Bowl(300.0, 1.9)
    batch = Batch(thermal, melt_g, melt_c, melted_share=1.0, bowl=bowl)
    before_j = batch.enthalpy_j
    batch.add(seed_g, seed_c)
    total_j = before_j + seed_g * heated_enthalpy_j_per_g(thermal, seed_c)
    assert batch.enthalpy_j == pytest.approx(total_j, rel=1e-12)

    def balance(t):
        # The seed comes with the share its own temperature gives, and keeps at least that.
        share = max(thermal.melting.melted_share(seed_c), thermal.melting.melted_share(t))
        return (
            bowl.heat_capacity_j_per_k * t
            + melt_g * enthalpy_j_per_g(thermal, t, 1.0)
            + seed_g * enthalpy_j_per_g(thermal, t, share)
            - total_j
        )

    root = brentq(balance, -100, 120, xtol=1e-12)
    assert batch.temperature_c == pytest.approx(root, abs=1e-8)


@given(
    thermals(),
    masses_g,
    temperatures,
    shares,
    st.lists(
        st.one_of(
            st.tuples(st.just("heat"), st.floats(-5e4, 2e5)),
            st.tuples(st.just("stand"), st.floats(0.0, 600.0)),
            st.tuples(st.just("take"), st.floats(0.0, 0.9)),
            st.tuples(st.just("add"), st.floats(1.0, 500.0)),
        ),
        max_size=6,
    ),
)
def test_a_batch_accounts_for_every_joule(thermal, mass_g, start_c, share, deeds):
    batch = Batch(thermal, mass_g, start_c, melted_share=share, bowl=bowl_of("glass", 500.0))
    for deed, amount in deeds:
        before_j, before_g = batch.enthalpy_j, batch.mass_g
        melted = batch.unmelted_share * before_g
        expected_j = before_j
        if deed == "heat":
            # Heat enough to leave the bench's range belongs to no bowl.
            heat_j = max(-2.0 * before_g, min(amount, 40.0 * before_g))
            batch.give_heat(heat_j)
            expected_j += heat_j
        elif deed == "stand":
            expected_j -= batch.stand(amount, 20.0, 1.0)
        elif deed == "take":
            bowl_j = batch.bowl_j_per_k * batch.temperature_c
            reading = batch.temperature_c
            batch.take(amount * before_g)
            expected_j = bowl_j + (1 - amount) * (before_j - bowl_j)
            assert batch.mass_g == pytest.approx((1 - amount) * before_g)
            assert batch.temperature_c == reading
            melted *= 1 - amount
        else:
            batch.add(amount, 20.0)
            expected_j += amount * heated_enthalpy_j_per_g(thermal, 20.0)
            assert batch.mass_g == pytest.approx(before_g + amount)
            melted += amount
        assert batch.enthalpy_j == pytest.approx(expected_j, rel=1e-11, abs=1e-6)
        held = batch.bowl_j_per_k * batch.temperature_c + sum(
            m * enthalpy_j_per_g(thermal, batch.temperature_c, x) for m, x in batch.portions
        )
        assert held == pytest.approx(batch.enthalpy_j, rel=1e-10, abs=1e-6)
        assert batch.unmelted_share * batch.mass_g <= melted + 1e-6


def test_a_steep_melting_curve_does_not_trap_the_solver():
    # Newton alone jumps between 24.07 and 26.03 °C here.
    curve = MeltingCurve(((15.0, 0.0), (19.0, 0.0), (24.0, 0.0), (25.0, 1.0)))
    thermal = CouvertureThermal(25.0, 1.5, 2.0, 30.0, curve)
    batch = Batch(thermal, 1.0, 30.0, melted_share=1.0, bowl=Bowl(300.0, 1.9))
    batch.add(42.0, 1.0)
    assert batch.temperature_c == pytest.approx(24.63977591222701, abs=1e-9)


def test_a_crystallising_melt_warms_by_its_latent_heat():
    portions = [(1000.0, 1.0)]
    enthalpy_j = 1000.0 * enthalpy_j_per_g(DARK, 28.0, 1.0)
    warmer, _ = settle(DARK, [(1000.0, 0.95)], 0.0, enthalpy_j)
    same, _ = settle(DARK, portions, 0.0, enthalpy_j)
    assert same == pytest.approx(28.0)
    # 5 % of the latent heat at 28 °C over the specific heat of the mixture.
    rise = 0.05 * (46.0 + 0.08 * (28.0 - 36.0)) / (0.95 * 1.67 + 0.05 * 1.59)
    assert warmer - 28.0 == pytest.approx(rise, rel=1e-9)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: couverture_thermal("dark", 31.0), "fat fraction"),
        (lambda: CouvertureThermal(-46.0), "latent heat"),
        # A school experiment's 4.15 J/(g K), in circulation and wrong by a factor 2.5.
        (lambda: CouvertureThermal(46.0, 4.15), "specific heat"),
        (lambda: CouvertureThermal(5.0, 4.0, 1.0, 20.0), "give off heat"),
        (lambda: MeltingCurve(((20.0, 0.0),)), "two points"),
        (lambda: MeltingCurve(((20.0, 0.0), (30.0, 0.9))), "ends at 1"),
        (lambda: MeltingCurve(((20.0, 0.0), (19.0, 1.0))), "rise"),
        (lambda: MeltingCurve(((20.0, 0.0), (25.0, float("nan")), (30.0, 1.0))), "numbers"),
        (lambda: Batch(DARK, -5.0, 30.0), "above zero"),
        (lambda: Batch(DARK, 5.0, float("nan")), "temperature"),
        (lambda: Batch(DARK, 5.0, 30.0).take(6.0), "take less"),
        (lambda: bowl_of("gold", 300.0), "bowl material"),
        (lambda: Bowl(-1.0, 1.0), "bowl's mass"),
    ],
)
def test_silly_input_gets_one_sentence(make, says):
    with pytest.raises(
        SnapcurveError, match=says if says != "temperature" else "chocolate|bowl"
    ) as e:
        make()
    assert str(e.value).endswith(".")
    assert "\n" not in str(e.value)
