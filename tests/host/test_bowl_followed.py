"""Plans and corrections followed on the simulator, and the bench's own heat.

The full numbers: ``python -m tests.benchmarks bowl``.
"""

import ast
import re
from pathlib import Path

import pytest
from scipy.integrate import quad

from snapcurve.simulation import blade, bowl_simulator, matter, practice_bowl
from snapcurve.simulation.bowl_simulator import Bowl
from snapcurve.simulation.matter import Matter, matter_of, moved
from tests.benchmarks.bowl import follow_correction, follow_plan
from tests.benchmarks.following import Hands, drawn, with_crystals

PLANS, CORRECTIONS = range(7000, 7015), range(7000, 7060)


def molten_j_per_g(melt: Matter, at_c: float) -> float:
    """Heat of a melt, which stays molten below the melting range as well."""
    return melt.warmed_j_per_g(melt.end_c) + melt.liquid_j_per_g_k * (at_c - melt.end_c)


def test_plans_followed_land_in_the_window() -> None:
    landings = [follow_plan(number) for number in PLANS]
    assert {one.kind for one in landings} == {"dark", "milk", "white"}
    assert sum(one.first for one in landings) >= 0.9 * len(landings)
    assert sum(one.then for one in landings) >= 0.99 * len(landings)


def test_one_correction_makes_good_a_plan_followed_by_the_clock() -> None:
    landings = [follow_plan(number, hasty=True) for number in PLANS]
    # The reading is what makes the plan work; without it half of them miss.
    assert sum(one.first for one in landings) < 0.8 * len(landings)
    assert sum(one.then for one in landings) >= 0.9 * len(landings)


def test_corrections_followed_end_within_three_tenths_of_the_window() -> None:
    done = [follow_correction(number) for number in CORRECTIONS]
    assert sum(one.outside_k <= 0.3 for one in done) >= 0.95 * len(done)


def test_without_a_correction_they_stay_outside() -> None:
    for number in range(7000, 7040, 4):  # too warm: drawn at least 0.3 above
        truth = drawn(100_000 + number)
        high_c = truth.temperatures.work_high_c
        hands = Hands(truth, with_crystals(truth, truth.mass_g, high_c + 2.0, 0.02))
        hands.wait(60.0)
        assert hands.bowl.liquid_c > high_c + 0.3


def test_the_bench_borrows_nothing_from_what_it_tries_out() -> None:
    for module in (bowl_simulator, matter, practice_bowl, blade):
        tree = ast.parse(Path(module.__file__ or "").read_text(encoding="utf-8"))
        names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
        names += [
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.Import)
            for alias in node.names
        ]
        assert names
        assert not [name for name in names if re.match(r"snapcurve\.(heat|advice)\b", name)]


# Beckett (ed.), 4th ed. 2009, p. 667 and 668: 31.8 + 46 + 8.35 kJ; the bench changes from one
# specific heat to the other along its melting curve instead of at 40 °C.
def test_the_bench_takes_the_handbooks_heat() -> None:
    dark = matter_of("dark")
    heat_j = 1000 * (dark.warmed_j_per_g(45.0) - dark.warmed_j_per_g(20.0))
    assert heat_j == pytest.approx(86_150, rel=0.015)


def test_the_bench_adds_up_its_heat_as_scipy_does() -> None:
    made = Matter(50.0, 1.6, 1.7, moved(-0.7))
    knots = [at_c for at_c, _ in made.melting]

    def capacity(at_c: float) -> float:
        share = made.melted_share(at_c)
        return 1.6 * (1 - share) + 1.7 * share

    for low_c, high_c in ((20.0, 45.0), (26.3, 31.1), (-5.0, 34.0)):
        heat, _ = quad(capacity, low_c, high_c, points=[k for k in knots if low_c < k < high_c])
        heat += 50.0 * (made.melted_share(high_c) - made.melted_share(low_c))
        assert made.warmed_j_per_g(high_c) - made.warmed_j_per_g(low_c) == pytest.approx(
            heat, abs=0.02
        )
        assert made.warmed_c(made.warmed_j_per_g(high_c)) == pytest.approx(high_c, abs=1e-9)
        assert made.molten_c(molten_j_per_g(made, high_c)) == pytest.approx(high_c, abs=1e-9)


def heat_j(bowl: Bowl) -> float:
    """Of everything in the bowl and the bowl itself."""
    melt_j = molten_j_per_g(bowl.matter, bowl.liquid_c) * bowl.liquid_g
    return melt_j + bowl.pieces_g * bowl.pieces_j_per_g + bowl.bowl_j_per_k * bowl.liquid_c


def test_the_bench_loses_no_heat_but_to_the_room() -> None:
    dark = matter_of("dark")
    bowl = Bowl(dark, 20.0, 800.0, 45.0, loss_w_per_k=0.0)
    bowl.stirring = True
    bowl.add_pieces(200.0, 20.0)
    before_j = heat_j(bowl)
    for _ in range(4 * 900):
        bowl.step(0.25)
    assert heat_j(bowl) == pytest.approx(before_j, rel=1e-4)
    assert bowl.liquid_c < 40.0
