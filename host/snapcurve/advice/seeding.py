"""How much seed to hold back, in which handfuls, and what the probe reads at each."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import ceil

from snapcurve.advice.course import Course
from snapcurve.advice.inputs import Bench
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import HANDFUL_SHARE, HANDFUL_STIR_S
from snapcurve.heat.root_finding import find_rising

MOST_HANDFULS = 6
_FIRST_COUNT = 4
_LONGEST_WAIT_S = 8 * 3600.0
# So near the answer is looked for: far finer than any scale or clock at a bench.
_WITHIN_G, _WITHIN_S = 0.01, 0.1


@dataclass(frozen=True)
class Handful:
    """One handful of seed, g.

    at_c: the reading to wait for; minute: when it is expected; reads_c: the reading expected
    after stirring it in; leave_out_below_c: at a reading under this it would end under the
    window, so leave it out.
    """

    grams: float
    at_c: float
    minute: float
    reads_c: float
    leave_out_below_c: float


@dataclass(frozen=True)
class SeedNeed:
    """Seed in grams and in how many handfuls, and the seconds to wait before the first."""

    seed_g: float
    count: int
    wait_s: float


def handful_grams(seed_g: float, count: int, step_g: float, last_part: float = 0.5) -> list[float]:
    """Split seed into `count` handfuls of whole steps of the scale, the last about `last_part` of
    one.

    They add up to `seed_g` rounded to the step. Fewer handfuls if there are not enough
    steps; none for no seed.
    """
    steps = round(seed_g / step_g)
    count = min(count, steps)
    if count < 1:
        return []
    weight = steps / (count - 1 + last_part) if count > 1 else steps
    grams: list[float] = []
    left = steps
    for later in range(count - 1, 0, -1):
        # Every handful after this one keeps at least one step.
        part = min(max(1, round(weight)), left - later)
        grams.append(part * step_g)
        left -= part
    return [*grams, left * step_g]


def stir_in(course: Course, grams: list[float], stock_c: float, lowest_c: float) -> list[Handful]:
    """Stir the handfuls in one after the other; the course ends after the last stirring.

    `lowest_c` is the low end of the working window.
    """
    handfuls = []
    for part_g in grams:
        at_c, minute = course.batch.temperature_c, course.minute
        course.add_pieces(part_g, stock_c)
        course.stand(HANDFUL_STIR_S)
        reads_c = course.batch.temperature_c
        handfuls.append(Handful(part_g, at_c, minute, reads_c, lowest_c + at_c - reads_c))
    return handfuls


def seed_needed(
    bench: Bench,
    molten_course: Callable[[float], Course],
    seed_range_g: tuple[float, float],
    most_handfuls: int = MOST_HANDFULS,
) -> SeedNeed:
    """Seed that lands the bench's mass in its window, from the least to the most of the range.

    `molten_course(melt_g)` gives the molten batch of `melt_g` when seeding may begin. If
    the most does not cool it enough, the batch waits first; if the least is too much, it
    still gets the least, in one handful and as soon as may be. The answer is not rounded.
    Raises SnapcurveError if hours of waiting would not do.
    """
    total_g, target_c, style = bench.mass_g, bench.temperatures.target_c, bench.style
    least_g, most_g = seed_range_g

    # Negative readings, because the solver wants rising functions.
    def cooling(count: int, wait_s: float, seed_g: float) -> float:
        course = molten_course(total_g - seed_g)
        # Not `course.stand`: the points of a trial are not drawn.
        course.batch.stand(wait_s, course.room_c, course.loss_w_per_k)
        stir_in(course, _even_split(seed_g, count), bench.stock_used_c, target_c)
        return -course.batch.temperature_c

    def wait_for(count: int, seed_g: float) -> SeedNeed:
        def cooling_after(wait_s: float) -> float:
            return cooling(count, wait_s, seed_g)

        if -cooling_after(_LONGEST_WAIT_S) > target_c:
            raise SnapcurveError(
                f"{style.mass_words(seed_g)} of seed cannot bring {style.mass_words(total_g)} to "
                f"{style.degrees_words(target_c)}, not even after hours of stirring; have more "
                "seed ready, or a cooler room."
            )
        wait_s = find_rising(cooling_after, 0.0, _LONGEST_WAIT_S, -target_c, _WITHIN_S)
        return SeedNeed(seed_g, count, wait_s)

    # The number of handfuls sets the stirring time: find it once, then solve for it.
    first_g = find_rising(partial(cooling, _FIRST_COUNT, 0.0), 0.0, most_g, -target_c, _WITHIN_G)
    count = min(most_handfuls, max(2, ceil(first_g / (HANDFUL_SHARE * total_g))))
    if -cooling(count, 0.0, most_g) > target_c:
        return wait_for(count, most_g)
    seed_g = find_rising(partial(cooling, count, 0.0), 0.0, most_g, -target_c, _WITHIN_G)
    if seed_g < least_g:
        if -cooling(1, 0.0, least_g) > target_c:
            return wait_for(1, least_g)
        return SeedNeed(least_g, 1, 0.0)
    return SeedNeed(seed_g, count, 0.0)


def _even_split(seed_g: float, count: int) -> list[float]:
    if seed_g <= 0:
        return []
    weight = seed_g / (count - 0.5)
    return [weight] * (count - 1) + [0.5 * weight]
