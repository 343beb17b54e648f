"""How a plan's minutes compare with those of somebody who follows it by the reading.

``python -m tests.benchmarks plan_times [N]``: benches drawn at random as in `following.py`; plans
by each method but the slab. For each kind of time the quantiles of what it took over
what was planned, and how often the range that the plan prints held.
"""

import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from snapcurve.advice.batch_plan import Plan, plan
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    CRYSTAL_STIR_S,
    HANDFUL_STIR_S,
    LOW_POINT_S,
    MELT_REST_MIN,
)
from tests.benchmarks.following import Hands, Truth, drawn, solid

LONGEST_MIN = 240.0
BATH_W_PER_K = 8.0  # of a kilogram in cold water; drawn around it


@dataclass(frozen=True)
class Timed:
    """One time of one plan, minutes from the first heat, or of staying in the window."""

    kind: str
    planned_min: float
    took_min: float
    between: tuple[int, int] | None

    @property
    def held(self) -> bool:
        """Whether it came between the minutes that the plan prints."""
        return self.between is None or self.between[0] <= self.took_min <= self.between[1]


def timed(number: int, method: str) -> list[Timed]:
    """Plan bench `number`, follow the plan with a clock; nothing where there is no plan."""
    truth = drawn(number)
    try:
        made = plan(replace(truth.request(), method=method))
    except SnapcurveError:  # this bench cannot be cooled so far by stirring
        return []
    hands = Hands(truth, solid(truth, made.melt_first_g))
    return list(FOLLOWED[method](truth, made, hands))


def _timed(made: Plan, name: str, took_s: float) -> Timed:
    one = next(each for each in made.thresholds if each.name == name)
    return Timed(name, one.minute, took_s / 60, one.between)


def _seeded(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    yield from _molten(made, hands)
    for number, handful in enumerate(made.handfuls, 1):
        hands.cool_to(handful.at_c)
        if hands.reading_c() <= truth.temperatures.work_high_c:
            break
        if number > 1 and hands.reading_c() < handful.leave_out_below_c:
            continue
        yield replace(
            _timed(made, f"handful {number} of {len(made.handfuls)}", hands.seconds),
            kind="handful",
        )
        hands.bowl.add_pieces(handful.grams, truth.room_c)
        hands.wait(HANDFUL_STIR_S)
    hands.cool_to(truth.temperatures.settled_c)
    hands.wait(10.0)
    yield from _ready(truth, made, hands)


def _bathed(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    yield from _molten(made, hands)
    cool_c = truth.temperatures.cool_c
    assert cool_c is not None
    yield from _bath(truth, made, hands, cool_c, "cooled")
    hands.wait(LOW_POINT_S)
    hands.warm_to(truth.temperatures.target_c)
    yield from _ready(truth, made, hands)


def _dusted(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    yield from _molten(made, hands)
    yield from _bath(truth, made, hands, truth.temperatures.crystal_seed_c, "crystals")
    hands.bowl.add_pieces(made.crystals_g, truth.room_c)
    hands.wait(CRYSTAL_STIR_S)
    hands.cool_to(truth.temperatures.target_c)
    yield from _ready(truth, made, hands)


def _bath(truth: Truth, made: Plan, hands: Hands, to_c: float, name: str) -> Iterator[Timed]:
    """In cold water, which takes more heat or less than the plan thinks."""
    if any(one.name == "into the bath" for one in made.thresholds):
        yield _timed(made, "into the bath", hands.seconds)
    more = random.Random(f"bath {truth.mass_g} {truth.room_c}").uniform(0.6, 1.5)
    hands.bowl.cool_w_per_k = BATH_W_PER_K * (truth.mass_g / 1000) ** (2 / 3) * more
    hands.cool_to(to_c)
    hands.bowl.cool_w_per_k = 0.0
    yield _timed(made, name, hands.seconds)


def _coated(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    yield from _molten(made, hands)
    hands.cool_to(truth.temperatures.target_c)
    yield from _ready(truth, made, hands)


def _held(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    target_c = truth.temperatures.target_c
    for burst in made.bursts:
        if burst.tool == "microwave" and hands.reading_c() < target_c - 0.5:
            hands.burst(burst.seconds)
    hands.warm_to(target_c)
    yield from _ready(truth, made, hands)


def _molten(made: Plan, hands: Hands) -> Iterator[Timed]:
    hands.melt(made)
    yield _timed(made, "molten", hands.seconds - 60 * MELT_REST_MIN)


def _ready(truth: Truth, made: Plan, hands: Hands) -> Iterator[Timed]:
    yield _timed(made, "ready to test", hands.seconds)
    ready_s, low_c = hands.seconds, truth.temperatures.work_low_c
    if not truth.temperatures.contains(hands.bowl.liquid_c):
        return
    while hands.bowl.liquid_c > low_c and hands.seconds - ready_s < 60 * LONGEST_MIN:
        hands.wait(10.0)
    took_min = (hands.seconds - ready_s) / 60
    yield Timed("stays", made.window_min, took_min, made.window_between)


FOLLOWED = {
    "seeding": _seeded,
    "cold-bath": _bathed,
    "crystal-seed": _dusted,
    "hold": _held,
    "coating": _coated,
}


def all_timed(numbers: range, method: str) -> dict[str, list[Timed]]:
    """What all of these benches took, by kind."""
    found = defaultdict(list)
    for number in numbers:
        for one in timed(number, method):
            found[one.kind].append(one)
    return found


def main(words: list[str]) -> int:
    """Print it for N benches."""
    count = int(words[0]) if words else 200
    print(f"{count} benches, plans followed by the reading: minutes taken over minutes planned")
    for method in FOLLOWED:
        for kind, found in all_timed(range(50_000, 50_000 + count), method).items():
            shares = [one.took_min / max(one.planned_min, 0.1) for one in found]
            low, middle, high = np.quantile(shares, [0.1, 0.5, 0.9])
            held = sum(one.held for one in found) / len(found)
            print(
                f"  {method:12} {kind:14} 10 % {low:.2f}  median {middle:.2f}  90 % {high:.2f}"
                f"   printed range holds in {held:.0%} of {len(found)}"
            )
    return 0
