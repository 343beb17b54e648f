"""How often the page's "between so many minutes" holds, over whole rough batches.

``python -m tests.benchmarks page_range [N] [SEED]``: rough batches (tests/kitchen) through the
real firmware, with a person who acts on what sounds: bursts, handfuls, hot air. Each minute one
forecast is taken, as the page shows it, and compared with when the chocolate truly, which no
board sees, came to the target or left its window. The range is to hold for eight of ten.

A threshold that never came, since somebody did something else meanwhile, counts as missed where
the page foretold an end; how often that was is printed beside.

Numbers 0 to 9,999 (seed 0) were used to choose the constants of page/forecast.py; those of seed
71 were played once. Take other seeds for a new look at what is unseen.
"""

from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from snapcurve.board.client import Reading
from snapcurve.couvertures.profile import compile_profile
from snapcurve.page.forecast import Forecast
from snapcurve.page.standing import Profile, profile_of
from snapcurve.simulation.desk_run import desk_run
from tests.kitchen.batch import RoughBatch

BATCHES_A_SEED = 10_000
EACH_S, READ_EACH_MS = 60.0, 500


@dataclass(frozen=True)
class Played:
    """One batch: what the page was told, and (s, °C) of the chocolate."""

    profile: Profile
    readings: list[Reading]
    truth: list[tuple[float, float]]


@dataclass(frozen=True)
class Foretold:
    """One forecast; ``took_min`` None if it never came before the next phase or state."""

    what: str
    between: tuple[int, int]
    took_min: float | None

    @property
    def held(self) -> bool:
        """Whether it came in the range that was shown."""
        return self.took_min is not None and (self.between[0] <= self.took_min <= self.between[1])


def played(number: int) -> Played:
    """Play batch ``number``."""
    world = RoughBatch(number)
    raw = compile_profile(world.couverture, "seeding")
    readings: list[Reading] = []
    with desk_run(world, raw, "max") as running:
        running.board.live(READ_EACH_MS)

        def look() -> None:
            while (reading := running.board.next_live()) is not None:
                readings.append(reading)

        running.run(look)
        look()
    profile = profile_of(raw)
    assert profile is not None
    return Played(profile, readings, [(one[0], one[1]) for one in world.truth])


def forecasts(batch: Played) -> Iterator[Foretold]:
    """Those of one batch, at most one a minute."""
    forecast, last_s = Forecast(), -EACH_S
    times = np.array([one[0] for one in batch.truth])
    values = np.array([one[1] for one in batch.truth])
    for reading in batch.readings:
        forecast.take(batch.profile, reading)
        at_s = reading.uptime_ms / 1000
        between = forecast.minutes()
        phase = batch.profile.phase(reading.phase)
        if between is None or phase is None or at_s - last_s < EACH_S:
            continue
        last_s = at_s
        what, edges = _what(reading, phase)
        later = times > at_s
        crossed = np.zeros_like(later)
        for edge_c, upwards in edges:
            crossed |= later & ((values >= edge_c) if upwards else (values <= edge_c))
        found = np.flatnonzero(crossed)
        took_min = (times[found[0]] - at_s) / 60 if len(found) else None
        yield Foretold(what, between, took_min)


def _what(reading: Reading, phase: "dict[str, int]") -> tuple[str, list[tuple[float, bool]]]:
    """What is foretold, and which edges the truth has to cross: °C, and whether upwards."""
    if phase["direction"] != "hold":
        rises = phase["direction"] == "rise"
        return "to the target", [(phase["target_centi_c"] / 100, rises)]
    low_c, high_c = phase["low_centi_c"] / 100, phase["high_centi_c"] / 100
    if reading.state == "inside":
        return "out of the window", [(low_c, False), (high_c, True)]
    if reading.estimate_c is not None and reading.estimate_c < low_c:
        return "up into the window", [(low_c, True)]
    return "down into the window", [(high_c, False)]


def main(words: list[str]) -> int:
    """Print it for N batches."""
    count = int(words[0]) if words else 60
    seed = int(words[1]) if len(words) > 1 else 71
    numbers = range(BATCHES_A_SEED * seed, BATCHES_A_SEED * seed + count)
    found: dict[str, list[Foretold]] = defaultdict(list)
    minutes = 0
    with ProcessPoolExecutor(2) as pool:
        for batch in pool.map(played, numbers):
            minutes += len({reading.uptime_ms // 60_000 for reading in batch.readings})
            for one in forecasts(batch):
                found[one.what].append(one)
                found["all"].append(one)
    print(f"{count} rough batches from number {numbers[0]}, {minutes} minutes")
    for what, some in sorted(found.items()):
        share = sum(one.held for one in some) / len(some)
        wide = np.median([one.between[1] - one.between[0] for one in some])
        early = sum(one.took_min is not None and one.took_min < one.between[0] for one in some)
        never = sum(one.took_min is None for one in some)
        print(
            f"  {what}: {len(some)} forecasts, {wide:.0f} min wide (median): holds in {share:.0%};"
            f" came sooner {early / len(some):.0%}, never {never / len(some):.0%}"
        )
    return 0
