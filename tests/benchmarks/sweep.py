"""Corrections over every symptom, reading, couverture and mass, held to rules of the trade.

``python -m tests.benchmarks sweep [--situations N] [--seed S]``

Each rule is a property that every answer has, whatever its numbers; `broken` names those that
one answer breaks. Common practice, no source, unless said otherwise.
"""

import argparse
import random
import re
from collections import Counter

from snapcurve.advice.correction import OBSERVATIONS, Correction, correct
from snapcurve.advice.inputs import temperatures_of, thermal_of, usual_bowl
from snapcurve.advice.situation import Action, Situation
from snapcurve.couvertures import available, user_folder
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import BOWL_MATERIALS

NOTHING = re.compile(r"(?<![\d.,])0(\.0)? (°C|s|min|g)\b")
TEMPERING = ("warm", "pieces", "melted", "stir", "cool")
FROM_C, TO_C = 16.0, 60.0
SHORTEST_AIR_S, SHORTEST_STIR_MIN, LONGEST_STIR_MIN = 3.0, 0.5, 480.0


def situations(count: int, seed: int) -> list[tuple[Situation, str, str]]:
    """`count` bowls with what their test showed and the couverture's id, drawn at random.

    Half the readings lie within 4 K of the window, where most of the rules are.
    """
    chance = random.Random(f"sweep {seed}")
    # The built-in ones only: a folder with nothing in it.
    shelf = available(user_folder() / "nothing")
    found = []
    for number in range(count):
        couverture = shelf[number % len(shelf)]
        temperatures = temperatures_of(couverture)
        observation = OBSERVATIONS[number // len(shelf) % len(OBSERVATIONS)]
        near = chance.random() < 0.5
        span = (
            (temperatures.work_low_c - 4.0, temperatures.work_high_c + 4.0)
            if near
            else (FROM_C, TO_C)
        )
        reads_c = round(chance.uniform(*span), 1)
        mass_g = float(round(50.0 * 10 ** chance.uniform(0.0, 2.6)))
        situation = Situation(
            temperatures=temperatures,
            thermal=thermal_of(couverture),
            temperature_c=reads_c,
            mass_g=mass_g,
            room_c=round(chance.uniform(15.0, min(27.0, temperatures.work_low_c - 1.0)), 1),
            bowl=usual_bowl(chance.choice(list(BOWL_MATERIALS)), mass_g),
            corrections_done=chance.choice([0, 0, 0, 1, 2, 3]),
        )
        found.append((situation, observation, couverture.id))
    return found


def broken(situation: Situation, observation: str, answer: Correction) -> list[str]:
    """The rules that `answer` breaks."""
    both = (answer.recommended, answer.alternative)
    reads_c, bag = situation.temperature_c, situation.temperatures
    found = [rule for action in both for rule in _of_action(situation, action)]
    words = " ".join([*(action.sentence for action in both), *answer.cautions])
    first = answer.recommended
    if first == answer.alternative:
        found.append("the alternative is another thing")
    if reads_c > bag.never_above_c:
        if first.kind != "taste" or "taste" not in first.sentence:
            found.append("above the limit: smell and taste first")
        if any(action.mass_after_g != situation.mass_g for action in both):
            found.append("above the limit: nothing good goes in")
    if observation != "seized" and reads_c > bag.crystals_last_to_c and "crystal" not in words:
        found.append("above where crystals last their fate is said")
    ganache = any(action.kind == "ganache" for action in both)
    if ganache and not all(word in words for word in ("allergen", "milk", "chill")):
        found.append("cream: allergen and keeping are said")
    if (
        any(action.pieces_g or action.melted_g for action in both)
        and "same couverture" not in words
    ):
        found.append("what goes in is the same couverture")
    inside, tired = bag.contains(reads_c), situation.corrections_done >= 3
    if not bag.tempering and ("temper" in words or "crystal" in words):
        found.append("a coating has neither temper nor crystals")
    if bag.tempering and observation == "finger mark" and inside and not tired:
        found += _of_a_mark(situation, first)
    return found


def _of_a_mark(situation: Situation, first: Action) -> list[str]:
    bag, found = situation.temperatures, []
    most_g = max(situation.scale_step_g, 0.02 * situation.mass_g)
    if first.kind != "pieces" or not 0.0095 * situation.mass_g <= first.pieces_g <= most_g:
        found.append("a mark inside the window: one or two per cent of pieces")
    # The shortest blast of a gun would take a spoonful through its window.
    cool = situation.temperature_c < bag.settled_c - 0.5 and situation.mass_g >= 100.0
    if first.warm_first_to_c is None and cool:
        found.append("a mark inside the window: warm it a little first")
    return found


def _of_action(situation: Situation, action: Action) -> list[str]:
    bag, found = situation.temperatures, []
    if NOTHING.search(action.sentence):
        found.append("no step of nothing")
    for seconds in (action.hot_air_s, action.warm_first_s):
        if seconds and (seconds < SHORTEST_AIR_S or seconds != round(seconds)):
            found.append("hot air: whole seconds, three or more")
    if action.stir_min and not SHORTEST_STIR_MIN <= action.stir_min <= LONGEST_STIR_MIN:
        found.append("stirring: from half a minute on")
    for grams in (action.pieces_g, action.melted_g, action.other_g):
        if grams and abs(grams / situation.scale_step_g % 1.0) > 1e-9:
            found.append("masses in the steps of plan")
    added_g = action.pieces_g + action.melted_g + action.other_g
    if abs(action.mass_after_g - situation.mass_g - added_g) > 1e-6:
        found.append("the mass adds up")
    if added_g > 0.5 * situation.mass_g + situation.scale_step_g:
        found.append("no more than half of it goes in")
    if action.kind in TEMPERING and not bag.contains(action.predicted_c):
        found.append("no target outside the window")
    warmed_c = action.warm_first_to_c
    if warmed_c is not None and not bag.contains(warmed_c):
        found.append("warmed first, but within the window")
    return found


def main(words: list[str]) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks sweep")
    parser.add_argument("--situations", type=int, default=24_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", type=int, default=0, help="so many answers that break a rule")
    arguments = parser.parse_args(words)
    rules: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    refused: Counter[str] = Counter()
    wrong = 0
    for situation, observation, couverture in situations(arguments.situations, arguments.seed):
        try:
            answer = correct(situation, observation)
        except SnapcurveError as error:
            refused[re.sub(r"[\d.,]+", "#", str(error))] += 1
            continue
        kinds[f"{observation}: {answer.recommended.kind}"] += 1
        found = broken(situation, observation, answer)
        rules.update(set(found))
        wrong += bool(found)
        if found and wrong <= arguments.show:
            about = f"{couverture} {situation.mass_g:.0f} g at {situation.temperature_c} °C"
            print(f"{about}, room {situation.room_c}, {observation}: {found}")
            print(f"  do {answer.recommended}\n  or {answer.alternative}")
    print(
        f"{arguments.situations} situations, seed {arguments.seed}: {kinds.total()} answered, "
        f"{refused.total()} refused, {wrong} answers break a rule"
    )
    for name, counts in (("broken", rules), ("answered", kinds), ("refused", refused)):
        for what, count in sorted(counts.items()):
            print(f"  {name:<9} {count:6}  {what}")
    return 0
