"""How good the alarms are: rough batches (tests/kitchen), beside a plain threshold and an oracle.

``python -m tests.benchmarks alarms [--batches N] [--seed S] [--processes P] [--here]``

The real firmware under MicroPython plays each batch with a person who acts on what sounds. On the
same readings a plain threshold and a Kalman filter that is told lag, noise, patches and place say
what they would have sounded. Every figure has its 95 % interval; what is finer than that is no
difference. ``--here`` runs the board's code in this process instead, and adds what only its inside
shows: deafness by room, the honesty of the spread, and every sound with repeats and answers to
presses.

Numbers 0 to 9,999 (seed 0) are for choosing constants; 0 to 99 were looked at. Those of seeds
51, 52, 61, 62, 63 and 72 to 75 were played once and nothing was tuned on them; take other
seeds for a new look at what is unseen.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor

from snapcurve.couvertures.profile import compile_profile
from snapcurve.simulation.desk_run import desk_run
from tests.kitchen import oracle
from tests.kitchen.batch import RoughBatch
from tests.kitchen.in_process import Played
from tests.kitchen.scores import Score, plain_alarms, score
from tests.kitchen.table import Trust, table, trust_text
from tests.kitchen.watch import Watch

BATCHES_A_SEED = 10_000
COLUMNS = ("plain threshold", "now", "oracle")


def one_batch(number: int, here: bool) -> tuple[tuple[Score, ...], Trust]:
    """Scores in the order of COLUMNS, and what the estimate said of itself."""
    world = RoughBatch(number)
    watch = Watch()
    sounds = 0
    if here:
        sounds = Played(world, each=watch).audible
    else:
        with desk_run(world, compile_profile(world.couverture, "seeding"), "max") as running:
            running.run()
    couverture = world.couverture
    window = (couverture.melt_c, couverture.work_low_c, couverture.work_high_c)
    heard = [(alarm.seconds, alarm.alarm, alarm.phase) for alarm in world.alarms]
    now = score(world.truth, heard, *window)
    now.sounds = sounds
    plain = score(world.truth, plain_alarms(world.seen, *window), *window)
    best = score(world.truth, oracle.alarms(world), *window)
    return (plain, now, best), watch.trust


def main(words: list[str]) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks alarms")
    parser.add_argument("--batches", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--here", action="store_true")
    arguments = parser.parse_args(words)
    if arguments.batches < 1:
        parser.error("--batches must be 1 or more.")
    begin = BATCHES_A_SEED * arguments.seed
    numbers = range(begin, begin + arguments.batches)
    start_s = time.monotonic()
    scores: dict[str, Score] = {}
    trust = Trust()
    with ProcessPoolExecutor(arguments.processes) as pool:
        played = pool.map(one_batch, numbers, [arguments.here] * len(numbers))
        for done, (found, trusted) in enumerate(played, 1):
            for name, one in zip(COLUMNS, found, strict=True):
                if name in scores:
                    scores[name].add(one)
                else:
                    scores[name] = one
            trust.add(trusted)
            if sys.stderr.isatty():
                print(f"\r{done} of {arguments.batches}", end="", file=sys.stderr)
    how = "in this process" if arguments.here else "under MicroPython"
    took_s = time.monotonic() - start_s
    print(f"{arguments.batches} rough batches from number {begin}, {how}, {took_s:.0f} s")
    print(table(scores))
    if arguments.here:
        print(trust_text(trust))
    return 0
