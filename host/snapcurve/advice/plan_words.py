"""A plan of a batch in sentences for the bench, and as plain data for a script."""

from dataclasses import asdict
from itertools import groupby
from typing import Any

from snapcurve.advice.batch_plan import Plan
from snapcurve.advice.course import Burst
from snapcurve.advice.plan_request import PlanRequest
from snapcurve.heat.constants import (
    HANDFUL_STIR_S,
    MELT_REST_MIN,
    SHORTEST_BURST_S,
    STIR_AFTER_BURST_S,
    TABLE_MIN,
)
from snapcurve.shown.figures import (
    INDENT,
    about_minutes_words,
    degrees_words,
    mass_words,
    range_words,
    row,
    seconds_words,
    wrapped,
)

_METHODS = {
    "seeding": "by seeding",
    "tabling": "by tabling",
    "three-step": "in three steps",
    "hold": "warmed only as far as the window",
}


def plan_lines(
    name: str, request: PlanRequest, plan: Plan, said: str, assumed: tuple[str, ...]
) -> list[str]:
    """The plan as lines of text. `said` describes room, bowl and heat in one line;
    `assumed` are the assumptions that came from defaults."""
    temperatures = request.temperatures
    heading = (
        f"{mass_words(plan.batch_g)} of {name} {_METHODS[plan.method]}, for "
        f"{range_words(temperatures.work_low_c, temperatures.work_high_c)}, "
        f"aiming at {degrees_words(temperatures.target_c)}; {said}"
    )
    lines = [
        "",
        *_weigh(plan),
        *_melt(request, plan),
        *_cool(request, plan),
        *_after(request, plan),
    ]
    for title, sentences in (
        ("Mind", plan.warnings),
        ("Caution", plan.cautions),
        ("Assumed", assumed + plan.assumptions),
    ):
        if sentences:
            lines += ["", f"{title}:", *(f"  - {sentence}" for sentence in sentences)]
    return wrapped([heading], under="") + wrapped(lines)


def _weigh(plan: Plan) -> list[str]:
    if plan.seed_g:
        count = len(plan.handfuls)
        handfuls = "one handful" if count == 1 else f"{count} handfuls"
        return [
            row(
                "Weigh",
                f"{mass_words(plan.melt_first_g)} to melt, and hold back "
                f"{mass_words(plan.seed_g)} of pieces in temper, in {handfuls}.",
            )
        ]
    whole = "in temper, none of it to be melted fully" if plan.method == "hold" else "all to melt"
    return [row("Weigh", f"{mass_words(plan.melt_first_g)}, {whole}.")]


def _melt(request: PlanRequest, plan: Plan) -> list[str]:
    oven = [burst for burst in plan.bursts if burst.tool == "microwave"]
    air = [burst for burst in plan.bursts if burst.tool == "hot air"]
    lines = []
    if oven:
        count = "1 burst" if len(oven) == 1 else f"{len(oven)} bursts"
        lines.append(
            row(
                "Heat",
                f"{count} in the microwave: {_lengths(oven)}. After each, "
                f"take the bowl out, stir {STIR_AFTER_BURST_S.value:.0f} s and read.",
            )
        )
    elif plan.method != "hold":
        lines.append(row("Heat", "in a water bath or warming cabinet, stirring now and then."))
    if air and plan.method != "three-step":
        seconds = sum(burst.seconds for burst in air)
        word, how = ("", "Then with") if oven else ("Heat", "with")
        lines.append(
            row(
                word,
                f"{how} about {seconds_words(seconds)} of hot air in short blasts, stirring, "
                f"until it reads {degrees_words(air[-1].reads_c)}.",
            )
        )
    melt = next((t for t in plan.thresholds if t.name == "molten"), None)
    if melt is not None:
        peak_c = max([burst.reads_c for burst in oven], default=melt.at_c)
        peak = ""
        if peak_c > melt.at_c + 0.5:
            peak = f", down from up to {degrees_words(peak_c)}"
        when = f"minute {melt.minute:.0f}: " if plan.bursts else ""
        more = f"Another {more_burst_s(plan):.0f} s, and stir" if oven else "Warm on"
        lines.append(
            row(
                "Molten",
                f"{when}it reads {degrees_words(melt.at_c)}{peak}. Too cool still? {more}. "
                f"Then rest {MELT_REST_MIN.value:.0f} min.",
            )
        )
    return lines


def more_burst_s(plan: Plan) -> float:
    """Length of one more burst where the plan's own were not enough: half a full one, s."""
    full_s = max(burst.seconds for burst in plan.bursts)
    return SHORTEST_BURST_S.value * max(1, round(0.5 * full_s / SHORTEST_BURST_S.value))


def _lengths(bursts: list[Burst]) -> str:
    parts = []
    for seconds, run in groupby(burst.seconds for burst in bursts):
        count = len(list(run))
        parts.append(f"{count} × {seconds:.0f} s" if count > 1 else f"{seconds:.0f} s")
    return ", ".join(parts)


def _cool(request: PlanRequest, plan: Plan) -> list[str]:
    temperatures = request.temperatures
    lines = []
    for number, handful in enumerate(plan.handfuls, 1):
        words = (
            f"minute {handful.minute:.0f}: {mass_words(handful.grams)} when it reads "
            f"{degrees_words(handful.at_c)} or less; stirred in, it reads about "
            f"{degrees_words(handful.reads_c)}."
        )
        if number > 1:
            words += f" Leave it out below {degrees_words(handful.leave_out_below_c)}."
        lines.append(row("Seed" if number == 1 else "", f"{number}. {words}"))
    if plan.handfuls:
        lines.append(
            INDENT + f"Stir each for {HANDFUL_STIR_S.value:.0f} s, then read. "
            "Stop adding pieces as soon as it reads "
            f"{degrees_words(temperatures.work_high_c)}; lift out what has not melted. "
            "Still warmer when all is in? Stir on, or ask 'snapcurve rescue'."
        )
    if plan.table_g:
        spread = next(t for t in plan.thresholds if t.name == "on the slab")
        lines.append(
            row(
                "Slab",
                f"minute {spread.minute:.0f}: spread {mass_words(plan.table_g)} and work it "
                f"{TABLE_MIN.value:.0f} min until it reads "
                f"{degrees_words(temperatures.cool_c or 0.0)}, "
                "then stir it back into the bowl.",
            )
        )
    if plan.method == "three-step":
        cooled = next(t for t in plan.thresholds if t.name == "cooled")
        air_s = sum(burst.seconds for burst in plan.bursts if burst.tool == "hot air")
        lines.append(
            row(
                "Cool",
                f"minute {cooled.minute:.0f}: stirring, down to {degrees_words(cooled.at_c)}.",
            )
        )
        lines.append(
            row(
                "Warm",
                f"with about {seconds_words(air_s)} of hot air in short blasts, stirring, until "
                f"it reads {degrees_words(plan.predicted_c)}.",
            )
        )
    return lines


def _after(request: PlanRequest, plan: Plan) -> list[str]:
    ready = next(t for t in plan.thresholds if t.name == "ready to test")
    lines = [
        row(
            "Test",
            f"minute {ready.minute:.0f}: it should read {degrees_words(plan.predicted_c)}; stir "
            f"on while it reads more than {degrees_words(request.temperatures.settled_c)}. Then "
            "dip a blade and look after 3 and 5 minutes.",
        ),
        row(
            "Work",
            f"it stays in the window {about_minutes_words(plan.window_min)} without warming.",
        ),
    ]
    if plan.leftover_g:
        lines.append(
            row("Left over", f"{mass_words(plan.leftover_g)} beyond what goes into the moulds.")
        )
    return lines


def plan_data(plan: Plan, assumed: tuple[str, ...]) -> dict[str, Any]:
    """The plan for a script: names with units, figures as they were reckoned."""
    data = asdict(plan)
    data["points"] = [{"minute": minute, "reads_c": reads_c} for minute, reads_c in plan.points]
    data["assumptions"] = [*assumed, *plan.assumptions]
    return data
