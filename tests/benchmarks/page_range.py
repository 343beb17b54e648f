"""How often the page's "between so many minutes" holds, over whole rough batches.

``python -m tests.benchmarks page_range [N] [SEED]``: rough batches (tests/kitchen) through the
real firmware, with a person who acts on what sounds: bursts, handfuls, hot air. Each minute one
forecast is taken, as the page shows it, and compared with when the chocolate truly, which no
board sees, came to the target or left its window. The range is to hold for eight of ten.

Once the chocolate turns by more than TURNED_C somebody has done something, and what would have
come nobody knows: such a forecast counts only if its range was over by then. Out of the window
the page shows how soon at the soonest; held there means that it came no sooner.

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
TURNED_C = 0.3
PROCESSES = 4  # each waits for its board most of the time
OUT = "out of the window"


@dataclass(frozen=True)
class Played:
    """One batch: what the page was told, and s and °C of the chocolate."""

    profile: Profile
    readings: list[Reading]
    truth: "tuple[np.ndarray, np.ndarray]"


@dataclass(frozen=True)
class Foretold:
    """One forecast; ``took_min`` None if it had not come when, after ``known_min``, somebody did
    something else or the batch was over."""

    what: str
    between: tuple[int, int]
    took_min: float | None
    known_min: float

    @property
    def sooner(self) -> bool:
        """Whether it came before all that was shown."""
        return self.took_min is not None and self.took_min < self.between[0]

    @property
    def held(self) -> bool | None:
        """Whether it came in the range that was shown; None if nobody knows."""
        if self.what == OUT:  # no end is shown
            known = self.took_min is not None or self.known_min >= self.between[0]
            return not self.sooner if known else None
        if self.took_min is None:
            return None if self.known_min <= self.between[1] else False
        return self.between[0] <= self.took_min <= self.between[1]


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
    seconds, chocolate_c, *_ = zip(*world.truth, strict=True)
    return Played(profile, readings, (np.array(seconds), np.array(chocolate_c)))


def forecasts(batch: Played) -> Iterator[Foretold]:
    """Those of one batch, at most one a minute."""
    forecast, last_s = Forecast(), -EACH_S
    for reading in batch.readings:
        forecast.take(batch.profile, reading)
        at_s = reading.uptime_ms / 1000
        between = forecast.minutes()
        phase = batch.profile.phase(reading.phase)
        if between is None or phase is None or at_s - last_s < EACH_S:
            continue
        last_s = at_s
        what, edges = _what(reading, phase)
        yield Foretold(what, between, *_came(batch, at_s, edges))


def _came(
    batch: Played, at_s: float, edges: list[tuple[float, bool]]
) -> tuple[float | None, float]:
    """Minutes until one of ``edges`` was truly crossed, None if it was not while all went on as it
    was; and how many minutes it did."""
    times, values = batch.truth
    later = times > at_s
    times, values = (times[later] - at_s) / 60, values[later]
    crossed = np.zeros_like(times, dtype=bool)
    for edge_c, upwards in edges:
        crossed |= (values >= edge_c) if upwards else (values <= edge_c)
    # The way it goes is that of its next minute; when it has turned, somebody did something.
    rises = np.interp(1.0, times, values) > values[0] if len(edges) > 1 else edges[0][1]
    turned = (
        np.maximum.accumulate(values) - values if rises else values - np.minimum.accumulate(values)
    )
    acted = np.flatnonzero(turned > TURNED_C)
    known_min = float(times[acted[0]] if len(acted) else times[-1])
    first = np.flatnonzero(crossed)
    took_min = float(times[first[0]]) if len(first) else None
    return (took_min if took_min is not None and took_min <= known_min else None), known_min


def _what(reading: Reading, phase: "dict[str, int]") -> tuple[str, list[tuple[float, bool]]]:
    """What is foretold, and which edges the truth has to cross: °C, and whether upwards."""
    if phase["direction"] != "hold":
        rises = phase["direction"] == "rise"
        return "to the target", [(phase["target_centi_c"] / 100, rises)]
    low_c, high_c = phase["low_centi_c"] / 100, phase["high_centi_c"] / 100
    if reading.state == "inside":
        return OUT, [(low_c, False), (high_c, True)]
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
    with ProcessPoolExecutor(PROCESSES) as pool:
        for batch in pool.map(played, numbers):
            minutes += len({reading.uptime_ms // 60_000 for reading in batch.readings})
            for one in forecasts(batch):
                found[one.what].append(one)
    print(f"{count} rough batches from number {numbers[0]}, {minutes} minutes")
    for what, some in sorted(found.items()):
        known = [one for one in some if one.held is not None]
        share = sum(one.held is True for one in known) / max(1, len(known))
        sooner = sum(one.sooner for one in known) / max(1, len(known))
        text = f"  {what}: {len(some)} forecasts, of {len(known)} it is known: held {share:.0%}"
        if what == OUT:
            firsts = [one for one in known if one.took_min is not None and one.between[0] > 0]
            times = np.median([(one.took_min or 0.0) / one.between[0] for one in firsts])
            text += f"; it took {times:.1f} times the soonest (median)"
        else:
            wide = np.median([one.between[1] - one.between[0] for one in some])
            text += f", {wide:.0f} min wide (median); sooner {sooner:.0%}"
        print(text)
    return 0
