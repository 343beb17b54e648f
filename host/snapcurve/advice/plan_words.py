"""A plan of a batch in sentences for the bench, and as plain data for a script."""

from dataclasses import asdict, replace
from itertools import groupby
from typing import Any

from snapcurve.advice.batch_plan import Plan, Threshold
from snapcurve.advice.batch_plan import plan as make_plan
from snapcurve.advice.course import Burst
from snapcurve.advice.doubts import Moved, Number, moved_most, moved_words
from snapcurve.advice.inputs import PlanRequest
from snapcurve.advice.situation import span_words
from snapcurve.advice.time_ranges import down_range, minutes_words, stays_words
from snapcurve.couvertures.methods import METHODS
from snapcurve.heat.constants import (
    COLD_BATH_C,
    CRYSTAL_STIR_S,
    HANDFUL_STIR_S,
    LOW_POINT_S,
    MELT_REST_MIN,
    SHORTEST_BURST_S,
    STIR_AFTER_BURST_S,
    TABLE_MIN,
    TEST_MIN,
)
from snapcurve.shown.table import listed, row, wrapped
from snapcurve.shown.units import Style

Rows = list[tuple[str, str]]  # the word in front, and the text


def plan_lines(
    name: str,
    request: PlanRequest,
    plan: Plan,
    said: str,
    assumed: tuple[str, ...] | None,
) -> list[str]:
    """The plan as lines of text. `said` describes room, bowl and heat in one line; `assumed` are
    the assumptions that came from defaults, all are listed unless it is None."""
    temperatures, style = request.temperatures, request.style
    heading = (
        f"{style.mass_words(plan.batch_g)} of {name} {METHODS[plan.method]}, for "
        f"{style.window(temperatures.work_low_c, temperatures.work_high_c)}, "
        f"aiming at {style.degrees_words(temperatures.target_c)}; {said}"
    )
    rows = [
        *_weigh(plan, style),
        *_melt(plan, style),
        *_cool(request, plan),
        *_after(request, plan),
        ("For", heading),
        *_rests_on(request, plan),
    ]
    lines = [row(word, text) for word, text in rows]
    lines += [*listed("Mind", plan.warnings), *listed("Caution", plan.cautions)]
    if assumed is not None:
        lines += listed("Assumed", assumed + plan.assumptions)
    return wrapped(lines)


def number_of(plan: Plan) -> Number:
    """What a plan comes down to."""
    if plan.seed_g:
        return Number("the seed", plan.seed_g, "g")
    if plan.table_g:
        return Number("what goes on the slab", plan.table_g, "g")
    return _time(plan)


def _time(plan: Plan) -> Number:
    minute = next(one.minute for one in plan.thresholds if one.name == "ready to test")
    return Number("the time", minute, "min")


def plan_moved(request: PlanRequest, plan: Plan) -> tuple[Number, tuple[Moved, ...]]:
    """What the plan comes down to and the assumptions that move it most; the time where all the
    seed or slab there is goes in, whatever is assumed."""
    moved = moved_most(request, lambda asked: number_of(make_plan(asked)))
    if moved:
        return number_of(plan), moved
    return _time(plan), moved_most(request, lambda asked: _time(make_plan(asked)))


def _rests_on(request: PlanRequest, plan: Plan) -> Rows:
    words = moved_words(*plan_moved(request, plan), request.style)
    return [("Rests on", words)] if words else []


def _threshold(plan: Plan, name: str) -> Threshold | None:
    return next((one for one in plan.thresholds if one.name == name), None)


def _weigh(plan: Plan, style: Style) -> Rows:
    melt_first = style.mass_words(plan.melt_first_g)
    if plan.method == "hold":
        return [("Weigh", f"{melt_first}, in temper, none of it to be melted fully.")]
    if plan.crystals_g:
        crystals = style.mass_words(plan.crystals_g)
        return [
            ("Weigh", f"{melt_first} to melt, and {crystals} of powdered cocoa-butter crystals.")
        ]
    if not plan.seed_g:
        return [("Weigh", f"{melt_first}, all to melt.")]
    count = len(plan.handfuls)
    handfuls = "one handful" if count == 1 else f"{count} handfuls"
    seed = style.mass_words(plan.seed_g)
    return [
        (
            "Weigh",
            f"{melt_first} to melt, and hold back {seed} of pieces in temper, in {handfuls}.",
        )
    ]


def _melt(plan: Plan, style: Style) -> Rows:
    oven = [burst for burst in plan.bursts if burst.tool == "microwave"]
    air = [burst for burst in plan.bursts if burst.tool == "hot air"]
    rows = []
    if oven:
        count = "1 burst" if len(oven) == 1 else f"{len(oven)} bursts"
        text = (
            f"{count} in the microwave: {_lengths(oven)}. After each, take the bowl out, stir "
            f"{STIR_AFTER_BURST_S:.0f} s and read."
        )
        rows.append(("Heat", text))
    elif plan.method != "hold":
        rows.append(("Heat", "in a water bath or warming cabinet, stirring now and then."))
    if air and plan.method != "cold-bath":
        text = (
            f"about {span_words(sum(burst.seconds for burst in air))} of hot air in short "
            f"blasts, stirring, until it reads {style.degrees_words(air[-1].reads_c)}."
        )
        rows.append(("", f"Then with {text}") if oven else ("Heat", f"with {text}"))
    melt = _threshold(plan, "molten")
    if melt is not None:
        peak_c = max([burst.reads_c for burst in oven], default=melt.at_c)
        peak = f", down from up to {style.degrees_words(peak_c)}"
        when = f"minute {minutes_words(melt.between)}: " if plan.bursts else ""
        more = f"Another {more_burst_s(plan):.0f} s, and stir" if oven else "Warm on"
        text = (
            f"{when}it reads {style.degrees_words(melt.at_c)}"
            f"{peak if peak_c > melt.at_c + 0.5 else ''}. Too cool still? {more}. Then rest "
            f"{MELT_REST_MIN:.0f} min."
        )
        rows.append(("Molten", text))
    return rows


def more_burst_s(plan: Plan) -> float:
    """Length of one more burst where the plan's own were not enough: half a full one, s."""
    full_s = max(burst.seconds for burst in plan.bursts)
    return SHORTEST_BURST_S * max(1, round(0.5 * full_s / SHORTEST_BURST_S))


def _lengths(bursts: list[Burst]) -> str:
    parts = []
    for seconds, run in groupby(burst.seconds for burst in bursts):
        count = len(list(run))
        parts.append(f"{count} × {seconds:.0f} s" if count > 1 else f"{seconds:.0f} s")
    return ", ".join(parts)


def _cool(request: PlanRequest, plan: Plan) -> Rows:
    rows, style = [], request.style
    for number, handful in enumerate(plan.handfuls, 1):
        when = _threshold(plan, f"handful {number} of {len(plan.handfuls)}")
        assert when is not None
        text = (
            f"{number}. minute {minutes_words(when.between)}: {style.mass_words(handful.grams)} "
            f"when it reads {style.degrees_words(handful.at_c)} or less; stirred in, it reads "
            f"about {style.degrees_words(handful.reads_c)}."
        )
        if number > 1:
            text += f" Leave it out below {style.degrees_words(handful.leave_out_below_c)}."
        rows.append(("Seed" if number == 1 else "", text))
    if plan.handfuls:
        text = (
            f"Stir each for {HANDFUL_STIR_S:.0f} s, then read. Stop adding pieces as soon "
            f"as it reads {style.degrees_words(request.temperatures.work_high_c)}; lift out what "
            "has not melted. Still warmer when all is in? Stir on, or ask 'snapcurve rescue'."
        )
        rows.append(("", text))
    spread, scrape = _threshold(plan, "on the slab"), _threshold(plan, "scrape the slab")
    if plan.table_g and spread and scrape:
        share = 100 * plan.table_g / plan.batch_g
        text = (
            f"minute {minutes_words(spread.between)}: spread {style.mass_words(plan.table_g)}, "
            f"{share:.0f} %, lay the probe into it and work it {TABLE_MIN:.0f} min until it reads "
            f"{style.degrees_words(scrape.at_c)}, then stir it back into the bowl, the probe too."
        )
        rows.append(("Slab", text))
    return [*rows, *_bath(plan, style), *_crystals(request, plan)]


def _bath(plan: Plan, style: Style) -> Rows:
    bath, cooled = _threshold(plan, "into the bath"), _threshold(plan, "cooled")
    if bath is None or cooled is None:
        return []
    air_s = sum(burst.seconds for burst in plan.bursts if burst.tool == "hot air")
    lasts = stays_words(down_range(plan.method, cooled.minute - bath.minute))
    return [
        (
            "Bath",
            f"minute {minutes_words(bath.between)}: set the bowl half deep into cold water of "
            f"about {style.degrees_words(COLD_BATH_C)}; stir and scrape the wall all the time "
            f"until it reads {style.degrees_words(cooled.at_c)}, {lasts}. Take it out and dry it.",
        ),
        ("Stir", f"{LOW_POINT_S / 60:.0f} min there, for crystals to form."),
        (
            "Warm",
            f"with about {span_words(air_s)} of hot air in short blasts, stirring, until it "
            f"reads {style.degrees_words(plan.predicted_c)}.",
        ),
    ]


def _crystals(request: PlanRequest, plan: Plan) -> Rows:
    at, style = _threshold(plan, "crystals"), request.style
    if at is None:
        return []
    return [
        (
            "Cool",
            f"minute {minutes_words(at.between)}: stirred over cold water of about "
            f"{style.degrees_words(COLD_BATH_C)} and its wall scraped, it reads "
            f"{style.degrees_words(at.at_c)}. Take it off and dry the bowl.",
        ),
        (
            "Crystals",
            f"dust in the {style.mass_words(plan.crystals_g)} through a sieve and stir "
            f"{CRYSTAL_STIR_S / 60:.0f} min, until none is seen; then stir on until it reads "
            f"{style.degrees_words(plan.predicted_c)}.",
        ),
    ]


def _after(request: PlanRequest, plan: Plan) -> Rows:
    style = request.style
    ready = next(one for one in plan.thresholds if one.name == "ready to test")
    minute = minutes_words(ready.between)
    reads = style.degrees_words(plan.predicted_c)
    lasts = stays_words(plan.window_between)
    work = f"it stays in the window {lasts} without warming"
    if plan.window_min < TEST_MIN and plan.method != "coating":
        work += ", less than the test takes: hold it there with breaths of hot air"
    rows = [("Work", f"{work}. Minutes hold for 8 bowls in 10.")]
    if plan.method == "coating":
        use = f"minute {minute}: it should read {reads}. It needs no temper and no test blade."
        rows.insert(0, ("Use", use))
    else:
        settled = style.degrees_words(request.temperatures.settled_c)
        test = (
            f"minute {minute}: it should read {reads}; stir on while it reads more than "
            f"{settled}. Then dip a blade and look after 3 and 5 minutes."
        )
        rows.insert(0, ("Test", test))
    if plan.leftover_g:
        left = style.mass_words(plan.leftover_g)
        rows.append(("Left over", f"{left} beyond what goes into the moulds."))
    return rows


def plan_data(request: PlanRequest, plan: Plan, assumed: tuple[str, ...]) -> dict[str, Any]:
    """The plan for a script: the fields of Plan, and what moves it most."""
    data = asdict(replace(plan, assumptions=assumed + plan.assumptions))
    return {**data, "moved_most": [asdict(one) for one in plan_moved(request, plan)[1]]}
