"""GUM arithmetic against JCGM 100's own example and its table of t."""

from math import inf, sqrt
from statistics import stdev

import pytest
from scipy import stats

from snapcurve.calibration.uncertainty import (
    Budget,
    Component,
    dof_of_judgement,
    repeated_readings,
    t_factor,
)


def end_gauge() -> Budget:
    """JCGM 100:2008 Annex H.1, in nm: l = l_s + d - l_s (d_alpha theta + alpha_s d_theta)."""
    l_s, theta, alpha_s = 50_000_623.0, -0.1, 11.5e-6
    return Budget(
        (
            # From its certificate: U = 0.075 µm, coverage factor 3, 18 degrees of freedom.
            Component("standard gauge", 75, divisor=3, dof=18),
            # Pooled standard deviation 13 nm from 25 pairs, five readings of the difference.
            Component("repeated observations", 13 / sqrt(5), dof=24),
            # Comparator, random: 0.01 µm at 95 % with 5 degrees of freedom.
            Component("comparator, random", 10, divisor=t_factor(0.95, 5), dof=5),
            # Comparator, systematic: 0.02 µm at three sigma, doubtful by 25 %.
            Component("comparator, systematic", 20, divisor=3, dof=dof_of_judgement(0.25)),
            # Its sensitivity, l_s d_theta, is zero, as is that of the bed's temperature.
            Component("expansion of the standard", 2e-6, "rectangular", sensitivity=0),
            Component("bed temperature, mean", 0.2, sensitivity=0),
            Component("bed temperature, cyclic", 0.5, "arcsine", sensitivity=0),
            Component(
                "difference of expansion",
                1e-6,
                "rectangular",
                sensitivity=-l_s * theta,
                dof=dof_of_judgement(0.10),
            ),
            Component(
                "difference of temperature",
                0.05,
                "rectangular",
                sensitivity=-l_s * alpha_s,
                dof=dof_of_judgement(0.50),
            ),
        )
    )


def test_end_gauge_components_of_annex_h1():
    got = {part.name: part.contribution for part in end_gauge().components}
    # Table H.1, nm
    assert got["standard gauge"] == pytest.approx(25, abs=0.5)
    assert got["repeated observations"] == pytest.approx(5.8, abs=0.05)
    assert got["comparator, random"] == pytest.approx(3.9, abs=0.05)
    assert got["comparator, systematic"] == pytest.approx(6.7, abs=0.05)
    assert got["difference of expansion"] == pytest.approx(2.9, abs=0.05)
    assert got["difference of temperature"] == pytest.approx(16.6, abs=0.05)
    standard = {part.name: part.standard_uncertainty for part in end_gauge().components}
    assert standard["expansion of the standard"] == pytest.approx(1.2e-6, abs=0.05e-6)
    assert standard["bed temperature, cyclic"] == pytest.approx(0.35, abs=0.005)
    assert standard["difference of temperature"] == pytest.approx(0.029, abs=0.0005)
    dof = [part.dof for part in end_gauge().components]
    assert dof == pytest.approx([18, 24, 5, 8, inf, inf, inf, 50, 2])


def test_end_gauge_comparison_alone_has_26_degrees_of_freedom():
    comparison = Budget(end_gauge().components[1:4])
    assert comparison.combined == pytest.approx(9.7, abs=0.05)  # H.1.3.2
    assert comparison.effective_dof == pytest.approx(25.6, abs=0.1)


def test_end_gauge_result_of_annex_h1():
    budget = end_gauge()
    assert budget.combined == pytest.approx(32, abs=0.5)  # H.1.4: u_c = 32 nm
    # H.1.6 finds 16.7 from rounded values and uses 16; the package GTC prints 16.5.
    assert budget.effective_dof == pytest.approx(16.6, abs=0.15)
    # The Guide's 93 nm is 2.92 times the rounded 32 nm.
    assert t_factor(0.99, 16) == pytest.approx(2.92, abs=0.005)
    assert budget.expanded_at(0.99) == pytest.approx(93, abs=1)
    assert t_factor(0.99, 16) * round(budget.combined) == pytest.approx(93, abs=0.5)


def test_shares_add_up_to_the_whole():
    budget = end_gauge()
    assert sum(budget.share(part) for part in budget.components) == pytest.approx(1)
    assert budget.expanded() == 2 * budget.combined


@pytest.mark.parametrize(
    ("dof", "p95", "p9545", "p99"),
    [  # JCGM 100:2008 Table G.2
        (1, 12.71, 13.97, 63.66),
        (2, 4.30, 4.53, 9.92),
        (5, 2.57, 2.65, 4.03),
        (10, 2.23, 2.28, 3.17),
        (16, 2.12, 2.17, 2.92),
        (50, 2.01, 2.05, 2.68),
        (inf, 1.960, 2.000, 2.576),
    ],
)
def test_t_factor_against_the_guides_table(dof, p95, p9545, p99):
    assert t_factor(0.95, dof) == pytest.approx(p95, abs=0.0051)
    assert t_factor(0.9545, dof) == pytest.approx(p9545, abs=0.0051)
    assert t_factor(0.99, dof) == pytest.approx(p99, abs=0.0051)


@pytest.mark.parametrize("dof", [1, 1.5, 2, 3.7, 41, 200, 3000, 9e5])
@pytest.mark.parametrize("confidence", [0.5, 0.6827, 0.95, 0.9973])
def test_t_factor_against_scipy(confidence, dof):
    expected = stats.t.ppf((1 + confidence) / 2, dof)
    assert t_factor(confidence, dof) == pytest.approx(expected, rel=2e-5)


def test_repeated_readings_are_a_standard_deviation_of_the_mean():
    values = [31.02, 30.98, 31.05, 30.99, 31.01]
    component = repeated_readings("plateau", values)
    assert component.contribution == pytest.approx(stdev(values) / sqrt(5))
    assert component.dof == 4


def test_divisors_of_the_bounded_distributions():
    assert Component("a", 1, "rectangular").contribution == pytest.approx(0.57735, abs=1e-5)
    assert Component("a", 1, "triangular").contribution == pytest.approx(0.40825, abs=1e-5)
    assert Component("a", 1, "arcsine").contribution == pytest.approx(0.70711, abs=1e-5)
    assert Component("a", 1, divisor=2, sensitivity=-3).contribution == 1.5


def test_a_budget_of_nothing_uncertain_is_certain():
    budget = Budget((Component("none", 0.0),))
    assert (budget.combined, budget.effective_dof, budget.expanded_at()) == (0, inf, 0)
    assert budget.share(budget.components[0]) == 0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: Component("a", -1), "zero or more"),
        (lambda: Component("a", float("nan")), "zero or more"),
        (lambda: Component("a", 1, "uniform"), "one of normal, rectangular"),
        (lambda: Component("a", 1, divisor=0), "above zero"),
        (lambda: Component("a", 1, dof=0), "above zero"),
        (lambda: Component("a", 1, sensitivity=inf), "not a number"),
        (lambda: repeated_readings("a", [1.0]), "two at least"),
        (lambda: t_factor(1.0, 5), "between 0 and 1"),
        (lambda: t_factor(0.95, 0.5), "1 or more"),
        (lambda: dof_of_judgement(0), "above zero"),
    ],
)
def test_what_makes_no_sense_is_refused(call, says):
    with pytest.raises(ValueError, match=says):
        call()
