"""The chart of a plan: temperature over the minutes, with bursts and handfuls."""

from pathlib import Path

from snapcurve.advice.batch_plan import Plan
from snapcurve.advice.inputs import PlanRequest
from snapcurve.shown.figures import about_minutes_words, degrees_words, mass_words
from snapcurve.shown.formats import ending_of


def plan_chart(plan: Plan, request: PlanRequest, name: str, path: Path) -> None:
    """Draw `plan` into `path`; SnapcurveError for an ending or file that cannot be written."""
    ending_of(path)
    # Only here, so that a command that draws nothing does not wait for matplotlib.
    from snapcurve.report.sketch import CHOCOLATE, INK, QUIET, Sketch

    temperatures = request.temperatures
    caption = [
        f"{mass_words(plan.melt_first_g)} to melt",
        f"{mass_words(plan.seed_g)} of seed" if plan.seed_g else plan.method,
        f"room {degrees_words(request.room_c)}",
        f"ends at {degrees_words(plan.predicted_c)}",
        f"then {about_minutes_words(plan.window_min)} in the window",
        "reckoned, not measured",
    ]
    sketch = Sketch(f"Plan: {mass_words(plan.batch_g)} of {name}, {plan.method}", caption)
    axes = sketch.axes
    minutes = [point.minute for point in plan.points]
    readings = [point.reads_c for point in plan.points]
    end = max(1.0, minutes[-1], plan.thresholds[-1].minute) * 1.06
    low_c = min([*readings, request.room_c]) - 2.0
    high_c = max(*readings, temperatures.never_above_c) + 2.0
    sketch.minutes(end)
    sketch.degrees(low_c, high_c)
    sketch.window(temperatures.work_low_c, temperatures.work_high_c)
    sketch.level(temperatures.melt_c, "melt")
    sketch.level(temperatures.never_above_c, "never")
    for at, at_c, words in (
        (0.88, temperatures.never_above_c, "never above"),
        (0.88, temperatures.melt_c, "melt"),
        (0.25, temperatures.work_high_c, "working window"),
    ):
        sketch.say(at * end, at_c + 0.006 * (high_c - low_c), words, ha="left", va="bottom")
    axes.plot(minutes, readings, color=CHOCOLATE, linewidth=2.0, zorder=2.5)
    axes.plot(
        [minutes[-1], plan.thresholds[-1].minute],
        [readings[-1], plan.thresholds[-1].at_c],
        color=CHOCOLATE,
        linewidth=1.2,
        linestyle=(0, (3, 2)),
        zorder=2.4,
    )
    floor_c = low_c + 0.035 * (high_c - low_c)
    for burst in plan.bursts:
        hatch = None if burst.tool == "microwave" else "////"
        axes.bar(
            burst.minute,
            floor_c - low_c,
            width=burst.seconds / 60.0,
            bottom=low_c,
            align="edge",
            facecolor=QUIET if hatch is None else "white",
            edgecolor=INK,
            linewidth=0.6,
            hatch=hatch,
            zorder=2.0,
        )
    for tool in dict.fromkeys(burst.tool for burst in plan.bursts):
        bursts = [burst for burst in plan.bursts if burst.tool == tool]
        words = f"{len(bursts)} bursts, {tool}" if len(bursts) > 1 else f"1 burst, {tool}"
        last_min = bursts[-1].minute + bursts[-1].seconds / 60.0
        before = last_min > 0.7 * end
        x = bursts[0].minute - 0.01 * end if before else last_min + 0.01 * end
        ha = "right" if before else "left"
        sketch.say(x, low_c + 0.012 * (high_c - low_c), words, ha=ha, va="bottom")
    for handful in plan.handfuls:
        axes.plot(
            [handful.minute],
            [handful.at_c],
            marker="v",
            markersize=10,
            color=INK,
            markeredgecolor="white",
            linestyle="none",
            zorder=3.5,
        )
        sketch.say(
            handful.minute + 0.012 * end,
            handful.at_c + 0.012 * (high_c - low_c),
            f"{mass_words(handful.grams)} at {degrees_words(handful.at_c)}",
            ha="left",
            va="bottom",
        )
    ready = next(t for t in plan.thresholds if t.name == "ready to test")
    axes.plot([ready.minute], [ready.at_c], marker="D", markersize=8, color=INK, zorder=3.6)
    # Away from where the line comes from.
    gap_c = 0.02 * (high_c - low_c)
    if plan.method in ("seeding", "tabling"):
        sketch.say(
            ready.minute, temperatures.work_low_c - gap_c, "test blade", ha="center", va="top"
        )
    else:
        sketch.say(
            ready.minute, temperatures.work_high_c + gap_c, "test blade", ha="center", va="bottom"
        )
    sketch.write(path)
