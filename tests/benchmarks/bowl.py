"""Plans and corrections followed on the simulator.

``python -m tests.benchmarks bowl [--plans N] [--corrections N] [--seed S]``

The bench is one the plan does not know: own melting curve, latent heat off by up to 7 %,
melting range by 0.5 K, bowl by a third, loss to the room from 0.6 to 1.5 of the usual one,
oven and hot air by as much, the probe by 0.1 °C. Judged is what is in the bowl, not what the
probe shows.
"""

import argparse
import random
import statistics
import time
from dataclasses import dataclass

from snapcurve.advice.batch_plan import plan
from snapcurve.advice.correction import correct
from snapcurve.errors import SnapcurveError
from tests.benchmarks.following import Hands, Truth, drawn, solid, with_crystals

SPOILED = ("too warm", "too cool", "over-seeded", "under-seeded")


@dataclass(frozen=True)
class Landing:
    """Where a followed plan ended, °C of the bowl, and after one correction if it had to."""

    number: int
    kind: str
    mass_g: float
    first_c: float
    then_c: float
    first: bool
    then: bool
    minutes: float
    said: str


def follow_plan(number: int, hasty: bool = False) -> Landing:
    """Plan bench `number`, follow the plan, correct once where it is outside the window.

    A hasty person puts the seed in by the clock and does not look at the reading.
    """
    truth = drawn(number)
    temperatures = truth.temperatures
    made = plan(truth.request())
    hands = Hands(truth, solid(truth, made.melt_first_g))
    hands.melt(made)
    if hasty:
        hands.seed_hastily(made)
    else:
        hands.seed(made)
    first_c = hands.bowl.liquid_c
    first = temperatures.contains(first_c)
    said = ""
    reading_c = hands.reading_c()
    if not first and temperatures.contains(reading_c):
        said = "nothing, for it reads inside"
    elif not first:
        in_bowl_g = hands.bowl.liquid_g + hands.bowl.pieces_g
        observation = "too warm" if reading_c > temperatures.work_high_c else "too cool"
        try:
            answer = correct(truth.situation(reading_c, in_bowl_g), observation)
            said = answer.recommended.kind
            hands.act(answer.recommended)
            hands.wait(10.0)
        except SnapcurveError as error:
            said = str(error)
    then_c = hands.bowl.liquid_c
    return Landing(
        number,
        truth.kind,
        truth.mass_g,
        first_c,
        then_c,
        first,
        temperatures.contains(then_c),
        hands.seconds / 60.0,
        said,
    )


@dataclass(frozen=True)
class Corrected:
    """One spoiled bowl: where it was and where it ended, °C, and how far from the window."""

    number: int
    spoiled: str
    kind: str
    was_c: float
    ended_c: float
    outside_k: float
    action: str


def follow_correction(number: int) -> Corrected:
    """Spoil bench `number`, ask, do what is recommended."""
    truth = drawn(100_000 + number)
    chance = random.Random(f"spoiled {number}")
    spoiled = SPOILED[number % len(SPOILED)]
    was_c, crystals, observation = _spoil(truth, spoiled, chance)
    hands = Hands(truth, with_crystals(truth, truth.mass_g, was_c, crystals))
    reading_c = hands.reading_c()
    answer = correct(truth.situation(reading_c, truth.mass_g), observation).recommended
    hands.act(answer)
    hands.wait(10.0)
    ended_c = hands.bowl.liquid_c
    temperatures = truth.temperatures
    outside_k = max(temperatures.work_low_c - ended_c, ended_c - temperatures.work_high_c, 0.0)
    return Corrected(number, spoiled, truth.kind, was_c, ended_c, outside_k, answer.kind)


def _spoil(truth: Truth, spoiled: str, chance: random.Random) -> tuple[float, float, str]:
    low_c, high_c = truth.temperatures.work_low_c, truth.temperatures.work_high_c
    usual = chance.uniform(0.01, 0.04)
    if spoiled == "too warm":
        return chance.uniform(high_c + 0.3, 40.0), usual, "too warm"
    if spoiled == "too cool":
        return chance.uniform(low_c - 4.0, low_c - 0.3), usual, "too cool"
    if spoiled == "over-seeded":
        at_c = chance.uniform(low_c - 1.5, high_c)
        return at_c, chance.uniform(0.05, 0.10), chance.choice(["set early", "thick"])
    return chance.uniform(low_c, high_c + 1.5), chance.uniform(0.0, 0.005), "finger mark"


def main(words: list[str]) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks bowl")
    parser.add_argument("--plans", type=int, default=50)
    parser.add_argument("--corrections", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args(words)
    start_s = time.monotonic()
    begin = 1000 * arguments.seed
    landings = [follow_plan(begin + i) for i in range(arguments.plans)]
    _print_landings("followed by the reading", landings)
    landings = [follow_plan(begin + i, hasty=True) for i in range(arguments.plans)]
    _print_landings("followed hastily, by the clock", landings)
    done = [follow_correction(begin + i) for i in range(arguments.corrections)]
    _print_corrected(done)
    print(f"seed {arguments.seed}, {time.monotonic() - start_s:.0f} s of wall time")
    return 0


def _print_landings(how: str, landings: list[Landing]) -> None:
    if not landings:
        return
    count = len(landings)
    print(f"{count} plans by seeding in random rooms, bowls and masses, {how}")
    print(
        f"  in the window without correction {100 * sum(o.first for o in landings) / count:.1f} %"
    )
    print(
        f"  with one correction              {100 * sum(o.then for o in landings) / count:.1f} %"
    )
    print(
        f"  minutes, median                  {statistics.median(o.minutes for o in landings):.0f}"
    )
    for one in landings:
        if not one.then or ("hastily" not in how and not one.first):
            print(
                f"  {one.number} {one.kind} {one.mass_g:.0f} g: ended at {one.first_c:.2f} °C, "
                f"then {one.said}: {one.then_c:.2f} °C{'' if one.then else ', still outside'}"
            )


def _print_corrected(done: list[Corrected]) -> None:
    if not done:
        return
    print(f"{len(done)} spoiled bowls, the recommended action followed once")
    for spoiled in ("all", *SPOILED):
        ones = [one for one in done if spoiled in ("all", one.spoiled)]
        within = sum(one.outside_k <= 0.3 for one in ones)
        inside = sum(one.outside_k == 0.0 for one in ones)
        print(
            f"  {spoiled:<13} within 0.3 °C of the window {100 * within / len(ones):5.1f} %, "
            f"inside it {100 * inside / len(ones):5.1f} %  ({len(ones)})"
        )
    for one in done:
        if one.outside_k > 0.3:
            print(
                f"  {one.number} {one.kind}, {one.spoiled} at {one.was_c:.2f} °C, {one.action}: "
                f"ended at {one.ended_c:.2f} °C, {one.outside_k:.2f} K outside"
            )
