"""The probe's stated uncertainty against 95 % of drawn probes (drawn_probes.py).

For each bench the expanded uncertainty as `snapcurve probe` prints it before rounding, the
half-width about the reading that holds 95 % of the draws, and how many times the one is the
other. A last line draws benches at random and counts how often the statement covers the truth.
"""

from dataclasses import replace

import numpy as np

from tests.benchmarks.drawn_probes import Bath, Case

CALIBRATIONS = {
    "uncalibrated": (),
    "ice": ("ice",),
    "ice, boiling (barometer)": ("ice", "boil"),
    "ice, boiling (1,000 m by report)": ("ice", "report"),
    "point, reference ±0.3": ("point",),
    "gallium": ("gallium",),
}
AGES_DAYS = (0, 180, 400)
DRAWS = 100_000


def table(draws: int, seed: int = 1) -> list[tuple[Case, str, int, float, float]]:
    """Case, calibration, age in days, stated U, and the half-width of 95 %."""
    found = []
    for kind in "KTNJ":
        for name, points in CALIBRATIONS.items():
            for stirred in (True, False):
                for age in AGES_DAYS if points else (0,):
                    made = tuple(Bath(point, age_days=age) for point in points)
                    case = Case(kind, baths=made, stirred=stirred)
                    errors = np.abs(case.errors_c(np.random.default_rng(seed), draws))
                    half = float(np.quantile(errors, 0.95))
                    found.append((case, name, age, case.expanded_c(), half))
    return found


def random_case(chance: np.random.Generator) -> Case:
    """Any bench: type, class, calibration, rooms, ages, depth, what it reads."""

    def bath(name: str) -> Bath:
        return Bath(name, chance.uniform(17, 28), float(chance.choice([0, 1, 60, 180, 400])))

    points = list(CALIBRATIONS.values())[chance.integers(len(CALIBRATIONS))]
    if len(points) == 2 and chance.random() < 0.4:
        points = (points[0], ("point", "gallium")[chance.integers(2)], points[1])
    kind = str(chance.choice(list("KTNJ")))
    coarse = kind in "KT" and chance.random() < 0.3
    return Case(
        kind=kind,
        converter="MAX31855" if coarse else "MAX31856",
        grade=int(chance.choice([1, 2])),
        baths=tuple(bath(name) for name in points),
        board_c=chance.uniform(17, 30),
        stirred=bool(chance.random() < 0.7),
        at_c=chance.uniform(27, 46),
        diameters=chance.uniform(8, 20),
    )


def coverage(cases: int, draws: int, seed: int = 2) -> list[float]:
    """For each random case how much of the draws lie within the stated U."""
    chance = np.random.default_rng(seed)
    found = []
    for _ in range(cases):
        case = random_case(chance)
        found.append(float(np.mean(np.abs(case.errors_c(chance, draws)) <= case.expanded_c())))
    return found


def main(words: list[str]) -> int:
    """Print the table and the coverage; ``words`` may give the number of draws."""
    draws = int(words[0]) if words else DRAWS
    rows = table(draws)
    print(f"at 31 °C, class 1, MAX31856, board 22 °C when calibrated and 24 °C now; {draws} draws")
    print(f"{'':34}{'':10}" + "".join(f"{f'{age} days':>22}" for age in AGES_DAYS))
    print(f"{'calibration':34}{'bowl':10}" + f"{'U  95 %  ratio':>22}" * len(AGES_DAYS))
    for at in {replace(row[0], baths=()): None for row in rows}:
        for name in CALIBRATIONS:
            own = [row for row in rows if row[1] == name and replace(row[0], baths=()) == at]
            cells = "".join(f"{u:9.3f}{half:7.3f}{u / half:6.2f}" for _, _, _, u, half in own)
            bowl = "stirred" if at.stirred else "resting"
            print(f"{at.kind + ' ' + name:34}{bowl:10}{cells}")
    ratios = [u / half for *_, u, half in rows]
    print(f"ratios {min(ratios):.2f} to {max(ratios):.2f} in {len(ratios)} cases")
    found = coverage(200, 2000)
    print(
        f"200 random benches, 2000 probes each: U covers {100 * np.mean(found):.1f} % "
        f"(the least of a bench {100 * min(found):.1f} %, the most {100 * max(found):.1f} %)"
    )
    return 0
