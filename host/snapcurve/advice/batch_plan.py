"""The plan of a batch: what to melt, what to hold back, how to heat, what to wait for."""

from dataclasses import dataclass, replace
from functools import partial
from math import ceil, floor

from snapcurve.advice import plan_remarks as remarks
from snapcurve.advice.course import (
    Burst,
    Course,
    CoursePoint,
    hot_air_source,
    microwave_source,
    warm_in_bursts,
)
from snapcurve.advice.inputs import PlanRequest
from snapcurve.advice.seeding import (
    MOST_HANDFULS,
    Handful,
    handful_grams,
    seed_needed,
    stir_in,
)
from snapcurve.advice.time_ranges import Range, ranges, window_range
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch
from snapcurve.heat.constants import (
    COLD_BATH_AT_1_KG_W_PER_K,
    COLD_BATH_C,
    CRYSTAL_SEED_SHARE,
    CRYSTAL_STIR_S,
    LARGEST_SEED_SHARE,
    LARGEST_TABLE_SHARE,
    LOW_POINT_S,
    MELT_REST_MIN,
    SLAB_STEP_SHARE,
    SMALLEST_SEED_SHARE,
    TABLE_MIN,
    WHOLE_TABLE_SHARE,
)
from snapcurve.heat.guards import require_between, require_positive
from snapcurve.heat.root_finding import find_rising
from snapcurve.heat.transfer import power_into_chocolate_w, surface_scale, usual_hot_air_w
from snapcurve.shown.units import PLAIN, Style


@dataclass(frozen=True)
class Threshold:
    """A reading that matters, °C, and the minute it is expected; in eight of ten bowls it comes
    ``between`` those minutes."""

    name: str
    at_c: float
    minute: float
    between: Range = (0, 0)


@dataclass(frozen=True)
class Plan:
    """The plan. Masses in g, temperatures in °C, times in minutes from the first heat.

    table_g: what goes on the slab; crystals_g: powdered cocoa-butter crystals. predicted_c: the
    reading when all is done; unmelted_share: what of the batch the model says is then still
    solid; window_min: how long it then stays in the window without warming, window_between the
    same for eight of ten bowls, None if the room keeps it there.
    """

    method: str
    batch_g: float
    melt_first_g: float
    seed_g: float
    handfuls: tuple[Handful, ...]
    table_g: float
    crystals_g: float
    bursts: tuple[Burst, ...]
    thresholds: tuple[Threshold, ...]
    leftover_g: float
    predicted_c: float
    unmelted_share: float
    window_min: float
    window_between: Range | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    points: tuple[CoursePoint, ...]


def batch_for_shells_g(
    shells: int, shell_g: float, waste_share: float, style: Style = PLAIN
) -> tuple[float, float]:
    """Finished mass to plan and mass that ends in the moulds, g.

    `waste_share` (0 to 1) of the moulds' mass is added for bowl, tools and tests. The
    finished mass is rounded up to 5 g. Raises SnapcurveError for impossible numbers.
    """
    require_positive("The number of shells", shells, "shells", style)
    require_positive("The mass of a shell", shell_g, "g", style)
    require_between("The waste", waste_share, 0.0, 1.0, "of the mass", style)
    used_g = shells * shell_g
    return 5.0 * ceil(used_g * (1 + waste_share) / 5.0 - 1e-9), used_g


def plan(request: PlanRequest) -> Plan:
    """Plan one batch. Raises SnapcurveError where no plan is possible at all; where one
    is doubtful the plan carries warnings."""
    step_g = request.scale_step_g
    mass_g = step_g * ceil(request.mass_g / step_g - 1e-9)
    used_g = request.mass_g if request.used_g is None else request.used_g
    request = replace(request, mass_g=mass_g, used_g=min(used_g, mass_g))
    planned = {
        "seeding": _plan_seeding,
        "slab": _plan_slab,
        "cold-bath": _plan_cold_bath,
        "crystal-seed": _plan_crystal_seed,
        "hold": _plan_holding,
        "coating": _plan_coating,
    }
    return planned[request.method](request)


def _melted(request: PlanRequest, melt_g: float) -> tuple[Course, list[Burst]]:
    """Melt `melt_g` of stock until it reads the melting temperature."""
    temperatures = request.temperatures
    if request.microwave_w is None:
        batch = Batch(request.thermal, melt_g, temperatures.melt_c, bowl=request.bowl)
        return request.course_of(batch), []
    course = _stock(request, melt_g)
    return course, _warm(request, course, temperatures.melt_c, temperatures.never_above_c)


def _stock(request: PlanRequest, mass_g: float) -> Course:
    """`mass_g` of pieces in a bowl as warm as the room."""
    stock_c, bowl_c = request.stock_used_c, request.room_c
    batch = Batch(request.thermal, mass_g, stock_c, bowl=request.bowl, bowl_c=bowl_c)
    return request.course_of(batch)


def _warm(request: PlanRequest, course: Course, target_c: float, ceiling_c: float) -> list[Burst]:
    """Warm with the oven if there is one; hot air does the rest where a burst is too coarse."""
    bursts: list[Burst] = []
    mass_g = course.batch.mass_g
    sources = [hot_air_source(usual_hot_air_w(mass_g))]
    if request.microwave_w is not None:
        power_w = power_into_chocolate_w(request.microwave_w, request.style)
        sources.insert(0, microwave_source(power_w, mass_g))
    for source in sources:
        bursts += warm_in_bursts(course, target_c, ceiling_c, source)
    return bursts


def _rest(course: Course, melt_c: float) -> Threshold:
    """Let the molten batch read the melting temperature, note when, and rest."""
    course.cool_to(melt_c)
    molten = Threshold("molten", course.batch.temperature_c, course.minute)
    course.stand(60.0 * MELT_REST_MIN)
    return molten


def _plan_seeding(request: PlanRequest) -> Plan:
    temperatures, total_g, step_g = request.temperatures, request.mass_g, request.scale_step_g
    most_g = LARGEST_SEED_SHARE * total_g
    if request.seed_available_g is not None:
        most_g = min(most_g, request.seed_available_g)
    most_g = step_g * floor(most_g / step_g + 1e-9)
    if most_g <= 0:
        raise SnapcurveError("Seeding needs seed; have some at hand or use another method.")
    least_g = min(most_g, step_g * ceil(SMALLEST_SEED_SHARE * total_g / step_g))

    def molten_course(melt_g: float) -> Course:
        batch = Batch(request.thermal, melt_g, start_c, melted_share=1.0, bowl=request.bowl)
        batch.stand(60.0 * MELT_REST_MIN, request.room_c, request.loss_used_w_per_k)
        return request.course_of(batch)

    # Heat that must stop a little short of the melting temperature leaves a cooler melt,
    # which takes less seed: then solve once more from there. Seed stops when the window is
    # reached, so none is planned for a reading inside it: then the last handful is a full one,
    # or there are fewer.
    start_c, count, cooler = temperatures.melt_c, MOST_HANDFULS, False
    while True:
        need = seed_needed(request, molten_course, (least_g, most_g), count)
        seed_g = step_g * round(need.seed_g / step_g)
        course, bursts = _melted(request, total_g - seed_g)
        if course.batch.temperature_c < start_c and not cooler:
            start_c, cooler = course.batch.temperature_c, True
            continue
        thresholds = [_rest(course, temperatures.melt_c)]
        course.stand(need.wait_s)
        start = course
        for last_part in (0.5, 1.0):
            course = start.copy()
            course.points = list(start.points)
            grams = handful_grams(seed_g, need.count, step_g, last_part)
            handfuls = stir_in(course, grams, request.stock_used_c, temperatures.work_low_c)
            if handfuls[-1].at_c > temperatures.work_high_c:
                break
        if need.count <= 1 or handfuls[-1].at_c > temperatures.work_high_c:
            break
        count = need.count - 1
    thresholds += [
        Threshold(f"handful {i} of {len(handfuls)}", handful.at_c, handful.minute)
        for i, handful in enumerate(handfuls, 1)
    ]
    warnings = []
    if need.wait_s > 0 and seed_g >= most_g:
        warnings.append(remarks.little_seed(most_g / total_g, need.wait_s / 60.0))
    elif need.seed_g <= least_g:
        warnings.append(remarks.cools_by_itself(seed_g, request.style))
    return _finished(request, course, bursts, thresholds, warnings, tuple(handfuls))


def _plan_slab(request: PlanRequest) -> Plan:
    temperatures, total_g, step_g = request.temperatures, request.mass_g, request.scale_step_g
    step_g *= max(1, round(SLAB_STEP_SHARE * total_g / step_g))
    assert temperatures.cool_c is not None  # PlanRequest has checked it
    cool_c = temperatures.cool_c
    course, bursts = _melted(request, total_g)
    thresholds = [_rest(course, temperatures.melt_c)]

    def after_table(wait_s: float, table_g: float) -> Course:
        bowl_part = course.copy()
        bowl_part.stand(wait_s)
        cold_g = bowl_part.batch.take(table_g)
        bowl_part.stand(60.0 * TABLE_MIN)
        if cold_g > 0:
            bowl_part.batch.add(cold_g, cool_c, 1.0)
        bowl_part.stand(60.0)
        return bowl_part

    def cooling(wait_s: float, table_g: float) -> float:
        return -after_table(wait_s, table_g).batch.temperature_c

    wait_s, target_c = 0.0, temperatures.target_c
    most_g = step_g * floor(LARGEST_TABLE_SHARE * total_g / step_g)
    if -cooling(0.0, most_g) > target_c:
        most_g = step_g * floor(WHOLE_TABLE_SHARE * total_g / step_g)
    table_g = most_g
    if -cooling(0.0, most_g) > target_c:
        longest_s = request.seconds_to_cool(course.batch, target_c)
        wait_s = find_rising(lambda s: cooling(s, most_g), 0.0, longest_s, -target_c, 0.5)
    if wait_s == 0:
        needed_g = find_rising(partial(cooling, 0.0), 0.0, most_g, -target_c, 0.05)
        table_g = step_g * round(needed_g / step_g)
    mixed = after_table(wait_s, table_g)
    spread_min = mixed.minute - (TABLE_MIN + 1.0)
    course.stand(wait_s)
    thresholds.append(Threshold("on the slab", course.batch.temperature_c, spread_min))
    thresholds.append(Threshold("scrape the slab", cool_c, mixed.minute - 1.0))
    warnings = []
    if table_g < SMALLEST_SEED_SHARE * total_g:
        warnings.append(remarks.needs_no_slab())
    before = [point for point in course.points if point.minute <= spread_min]
    mixed.points = before + [point for point in mixed.points if point.minute > spread_min]
    return _finished(request, mixed, bursts, thresholds, warnings, table_g=table_g)


def _plan_cold_bath(request: PlanRequest) -> Plan:
    temperatures = request.temperatures
    assert temperatures.cool_c is not None  # PlanRequest has checked it
    course, bursts = _melted(request, request.mass_g)
    thresholds = [_rest(course, temperatures.melt_c)]
    thresholds.append(
        Threshold("into the bath", course.batch.temperature_c, course.minute),
    )
    _bathe(request, course, temperatures.cool_c)
    thresholds.append(Threshold("cooled", course.batch.temperature_c, course.minute))
    course.stand(LOW_POINT_S)
    # A few seconds of microwave would overshoot a narrow window; hot air is gentler.
    air = hot_air_source(usual_hot_air_w(request.mass_g))
    bursts += warm_in_bursts(course, temperatures.target_c, temperatures.work_high_c, air)
    return _finished(request, course, bursts, thresholds, [])


def _bathe(request: PlanRequest, course: Course, target_c: float) -> None:
    """Cool it to `target_c` in cold water."""
    room = course.room_c, course.loss_w_per_k
    course.room_c = COLD_BATH_C
    course.loss_w_per_k = COLD_BATH_AT_1_KG_W_PER_K * surface_scale(request.mass_g)
    course.cool_to(target_c)
    course.room_c, course.loss_w_per_k = room


def _plan_crystal_seed(request: PlanRequest) -> Plan:
    temperatures, total_g = request.temperatures, request.mass_g
    crystals_g = max(1.0, round(CRYSTAL_SEED_SHARE * total_g))
    course, bursts = _melted(request, total_g - crystals_g)
    thresholds = [_rest(course, temperatures.melt_c)]
    _bathe(request, course, temperatures.crystal_seed_c)
    thresholds.append(Threshold("crystals", course.batch.temperature_c, course.minute))
    course.add_pieces(crystals_g, request.stock_used_c)
    course.stand(CRYSTAL_STIR_S)
    course.cool_to(temperatures.target_c)
    return _finished(request, course, bursts, thresholds, [], crystals_g=crystals_g)


def _plan_coating(request: PlanRequest) -> Plan:
    temperatures = request.temperatures
    course, bursts = _melted(request, request.mass_g)
    thresholds = [_rest(course, temperatures.melt_c)]
    course.cool_to(temperatures.target_c)
    return _finished(request, course, bursts, thresholds, [])


def _plan_holding(request: PlanRequest) -> Plan:
    temperatures = request.temperatures
    course = _stock(request, request.mass_g)
    bursts = _warm(request, course, temperatures.target_c, temperatures.work_high_c)
    return _finished(request, course, bursts, [], [])


def _dated(method: str, thresholds: list[Threshold], window_min: float) -> tuple[Threshold, ...]:
    """``thresholds`` with the minutes between which they come."""
    between = ranges(method, [(one.name, one.minute) for one in thresholds], window_min)
    return tuple(
        replace(one, between=found) for one, found in zip(thresholds, between, strict=True)
    )


def _finished(
    request: PlanRequest,
    course: Course,
    bursts: list[Burst],
    thresholds: list[Threshold],
    warnings: list[str],
    handfuls: tuple[Handful, ...] = (),
    table_g: float = 0.0,
    crystals_g: float = 0.0,
) -> Plan:
    batch, low_c = course.batch, request.temperatures.work_low_c
    tools = [burst.tool for burst in bursts]
    seed_g = sum(handful.grams for handful in handfuls)
    window_min = request.seconds_to_cool(batch, low_c) / 60.0
    thresholds += [
        Threshold("ready to test", batch.temperature_c, course.minute),
        Threshold("leaves the window", low_c, course.minute + window_min),
    ]
    warnings += remarks.warnings(request, batch.temperature_c, batch.unmelted_share, tools)
    return Plan(
        method=request.method,
        batch_g=request.mass_g,
        melt_first_g=request.mass_g - seed_g - crystals_g,
        seed_g=seed_g,
        handfuls=handfuls,
        table_g=table_g,
        crystals_g=crystals_g,
        bursts=tuple(bursts),
        thresholds=_dated(request.method, thresholds, window_min),
        leftover_g=request.mass_g - (request.used_g or 0.0),
        predicted_c=batch.temperature_c,
        unmelted_share=batch.unmelted_share,
        window_min=window_min,
        window_between=window_range(request.method, window_min),
        warnings=tuple(warnings),
        cautions=remarks.cautions(request, tools),
        assumptions=remarks.assumptions(request, tools),
        points=tuple(course.points),
    )
