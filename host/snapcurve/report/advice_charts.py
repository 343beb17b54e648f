"""Charts of what is calculated rather than recorded: plan, correction, a couverture's heat."""

from pathlib import Path

from matplotlib.axes import Axes

from snapcurve.advice.batch_plan import Plan
from snapcurve.advice.correction import Correction
from snapcurve.advice.inputs import PlanRequest, WorkingTemperatures
from snapcurve.advice.situation import Action, Situation
from snapcurve.advice.time_ranges import stays_words
from snapcurve.couvertures.methods import METHODS
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    enthalpy_j_per_g,
    heat_to_warm_j,
    heated_enthalpy_j_per_g,
)
from snapcurve.report.chart_page import (
    CHOCOLATE,
    INK,
    QUIET,
    WINDOW,
    ChartPage,
    paper_mm,
    scale_degrees,
)
from snapcurve.shown.units import GRAMS_PER_OUNCE, Style, seconds_words

FROM_C, STEP_C = 15.0, 0.1
ROOM_C = 20.0


def plan_chart(
    plan: Plan, request: PlanRequest, name: str, path: Path, paper: str, style: Style
) -> Path:
    """Draw temperature over the minutes, with bursts and handfuls, into ``path``."""
    temperatures = request.temperatures
    page = ChartPage(
        f"Plan: {style.mass_words(plan.batch_g)} of {name} {METHODS[plan.method]}",
        [
            f"{style.mass_words(plan.melt_first_g)} to melt",
            f"{style.mass_words(plan.seed_g)} of seed" if plan.seed_g else METHODS[plan.method],
            f"room {style.degrees_words(request.room_c)}",
            f"ends at {style.degrees_words(plan.predicted_c)}",
            f"then {stays_words(plan.window_between)} in the window",
            "calculated, not measured",
        ],
        paper_mm(paper),
        style,
    )
    axes = page.axes
    minutes = [point.minute for point in plan.points]
    readings = [point.reads_c for point in plan.points]
    last = plan.thresholds[-1]
    end = max(1.0, minutes[-1], last.minute) * 1.06
    low_c = min([*readings, request.room_c]) - 2.0
    high_c = max(*readings, temperatures.never_above_c) + 2.0
    span_c = high_c - low_c
    page.across(0, end, "minutes")
    page.degrees(low_c, high_c)
    page.window(temperatures.work_low_c, temperatures.work_high_c)
    page.level("melt", temperatures.melt_c, 0, end)
    page.level("never", temperatures.never_above_c, 0, end)
    for at, at_c, words in (
        (0.88, temperatures.never_above_c, "never above"),
        (0.88, temperatures.melt_c, "melt"),
        (0.25, temperatures.work_high_c, "working window"),
    ):
        page.say(at * end, at_c + 0.006 * span_c, words, va="bottom")
    axes.plot(minutes, readings, color=CHOCOLATE, linewidth=2.0, zorder=2.5)
    rest = ([minutes[-1], last.minute], [readings[-1], last.at_c])
    axes.plot(*rest, color=CHOCOLATE, linewidth=1.2, linestyle=(0, (3, 2)), zorder=2.4)
    for burst in plan.bursts:
        microwave = burst.tool == "microwave"
        axes.bar(
            burst.minute,
            0.035 * span_c,
            width=burst.seconds / 60.0,
            bottom=low_c,
            align="edge",
            facecolor=QUIET if microwave else "white",
            edgecolor=INK,
            linewidth=0.6,
            hatch=None if microwave else "////",
            zorder=2.0,
        )
    for tool in dict.fromkeys(burst.tool for burst in plan.bursts):
        bursts = [burst for burst in plan.bursts if burst.tool == tool]
        words = f"{len(bursts)} bursts, {tool}" if len(bursts) > 1 else f"1 burst, {tool}"
        last_min = bursts[-1].minute + bursts[-1].seconds / 60.0
        before = last_min > 0.7 * end
        x = bursts[0].minute - 0.01 * end if before else last_min + 0.01 * end
        page.say(x, low_c + 0.012 * span_c, words, ha="right" if before else "left", va="bottom")
    for handful in plan.handfuls:
        _mark(axes, handful.minute, handful.at_c, "v", 10)
        words = f"{style.mass_words(handful.grams)} at {style.degrees_words(handful.at_c)}"
        x, y = handful.minute + 0.012 * end, handful.at_c + 0.012 * span_c
        page.say(x, y, words, va="bottom")
    for one in plan.thresholds:
        if one.name == "crystals":
            _mark(axes, one.minute, one.at_c, "v", 10)
            words = f"{style.mass_words(plan.crystals_g)} of crystals"
            page.say(one.minute + 0.012 * end, one.at_c + 0.012 * span_c, words, va="bottom")
    ready = next(one for one in plan.thresholds if one.name == "ready to test")
    _mark(axes, ready.minute, ready.at_c, "D", 8)
    # Away from where the line comes from.
    if plan.method in ("seeding", "slab", "crystal-seed"):
        y, va = temperatures.work_low_c - 0.02 * span_c, "top"
    else:
        y, va = temperatures.work_high_c + 0.02 * span_c, "bottom"
    word = "ready" if plan.method == "coating" else "test blade"
    page.say(ready.minute, y, word, ha="center", va=va)
    return page.save(path)


def _mark(axes: Axes, x: float, at_c: float, shape: str, size: float, fill: str = INK) -> None:
    axes.plot([x], [at_c], shape, markersize=size, color=fill, markeredgecolor=INK, zorder=3.5)


def action_words(action: Action, style: Style) -> list[str]:
    """An action in a few short lines."""
    lines = []
    if action.warm_first_to_c is not None:
        lines.append(f"warm first to {style.degrees_words(action.warm_first_to_c)}")
    if action.kind in ("stir", "pieces") and action.stir_min:
        lines.append(f"stir {style.about_minutes_words(action.stir_min)}")
    if action.pieces_g:
        lines.append(f"{style.mass_words(action.pieces_g)} of pieces")
    if action.melted_g and action.melted_at_c is not None:
        lines.append(f"{style.mass_words(action.melted_g)} melted,")
        lines.append(f"at {style.degrees_words(action.melted_at_c)}")
    if action.hot_air_s:
        lines.append(f"hot air, {seconds_words(action.hot_air_s)}")
    return lines or [action.kind]


def correction_chart(
    answer: Correction, situation: Situation, name: str, path: Path, paper: str, style: Style
) -> Path:
    """Draw where the bowl is and where each action takes it into ``path``."""
    temperatures = situation.temperatures
    page = ChartPage(
        f"Correction: {name}, {answer.observation}",
        [
            f"{style.mass_words(situation.mass_g)} in the bowl",
            f"room {style.degrees_words(situation.room_c)}",
            f"window {style.window(temperatures.work_low_c, temperatures.work_high_c)}",
            "calculated, not measured: go by the reading and a fresh test blade",
        ],
        paper_mm(paper),
        style,
    )
    axes = page.axes
    now_c = situation.temperature_c
    first, second = answer.recommended, answer.alternative
    heights = [now_c, temperatures.work_low_c, temperatures.work_high_c]
    heights += [first.predicted_c, second.predicted_c]
    margin_c = max(0.8, 0.15 * (max(heights) - min(heights)))
    low_c, high_c = min(heights) - margin_c, max(heights) + margin_c
    page.degrees(low_c, high_c)
    page.window(temperatures.work_low_c, temperatures.work_high_c)
    axes.set_xlim(0, 3)
    axes.set_xticks([])
    now_x = 0.45
    _mark(axes, now_x, now_c, "o", 13, CHOCOLATE)
    rises = first.predicted_c > now_c
    raised_c = 0.03 * (high_c - low_c) * (-1 if rises else 1)
    va = "top" if rises else "bottom"
    page.say(now_x, now_c + raised_c, f"now {style.degrees_words(now_c)}", ha="center", va=va)
    for x, word, action, shape, fill, width, line in (
        (1.35, "do", first, "s", INK, 1.6, "solid"),
        (2.35, "or", second, "D", "white", 1.0, "dashed"),
    ):
        look = {"color": INK, "linewidth": width, "linestyle": line, "shrinkA": 10, "shrinkB": 9}
        arrow = {"arrowstyle": "-|>", **look}
        axes.annotate("", (x, action.predicted_c), (now_x, now_c), arrowprops=arrow)
        _mark(axes, x, action.predicted_c, shape, 12, fill)
        lines = [f"{word}: {style.degrees_words(action.predicted_c)}"]
        lines += action_words(action, style)
        page.say(x + 0.06, action.predicted_c, "\n".join(lines), va="center")
    return page.save(path)


def enthalpy_chart(
    thermal: CouvertureThermal,
    temperatures: WorkingTemperatures,
    name: str,
    path: Path,
    paper: str,
    style: Style,
) -> Path:
    """Draw the heat over temperature, solid, melting and molten, into ``path``."""
    melt_c, melting = temperatures.melt_c, thermal.melting
    taken = style.heat_per_mass(heat_to_warm_j(thermal, 1.0, ROOM_C, melt_c), 0)
    solid, liquid = (
        style.heat_per_mass(heat, 2, "K")
        for heat in (thermal.specific_heat_solid_j_per_g_k, thermal.specific_heat_liquid_j_per_g_k)
    )
    page = ChartPage(
        f"Heat in {name}",
        [
            f"latent heat {style.heat_per_mass(thermal.latent_heat_j_per_g, 1)}",
            f"specific heat {solid} solid, {liquid} molten",
            f"melts from {style.window(melting.start_c, melting.end_c)}",
            f"{style.window(ROOM_C, melt_c)} takes {taken}",
        ],
        paper_mm(paper),
        style,
        above_pt=18,
    )
    axes = page.axes
    count = round((max(55.0, melt_c + 4.0) - FROM_C) / STEP_C)
    grid_c = [FROM_C + STEP_C * step for step in range(count + 1)]
    zero = heated_enthalpy_j_per_g(thermal, FROM_C)
    unit = GRAMS_PER_OUNCE if style.ounces else 1.0
    warmed = [unit * (heated_enthalpy_j_per_g(thermal, at_c) - zero) for at_c in grid_c]
    molten = [
        unit * (enthalpy_j_per_g(thermal, at_c, 1.0) - zero)
        for at_c in grid_c
        if at_c <= melting.end_c
    ]
    high = 1.12 * warmed[-1]
    axes.set_xlim(grid_c[0], grid_c[-1])
    scale_degrees(axes.xaxis, grid_c[0], grid_c[-1], style)
    axes.set_xlabel(style.degree, size=14)
    axes.set_ylim(0, high)
    page.numbers(axes.yaxis)
    axes.set_ylabel(
        f"heat, J/{style.mass_unit}, above pieces at {style.temperature(FROM_C, 0)}", size=12
    )
    axes.axvspan(
        temperatures.work_low_c,
        temperatures.work_high_c,
        facecolor=WINDOW,
        linewidth=0,
        zorder=0.8,
    )
    axes.axvline(melt_c, color=INK, linewidth=1.3, linestyle=(0, (9, 4)))
    axes.plot(grid_c, warmed, color=CHOCOLATE, linewidth=2.4, zorder=2.5)
    below_c = grid_c[: len(molten)]
    axes.plot(below_c, molten, color=CHOCOLATE, linewidth=1.4, linestyle=(0, (5, 3)))
    share = axes.twinx()
    melted = [100 * melting.melted_share(at_c) for at_c in grid_c]
    share.plot(grid_c, melted, color=QUIET, linewidth=1.4, linestyle=(0, (1, 1.5)))
    share.set_ylim(0, 112)
    share.set_ylabel("melted on warming, % (dotted)", size=12)
    share.spines["top"].set_visible(False)
    up = 0.02 * high
    page.say(temperatures.work_low_c, high, "working window", ha="center", va="bottom")
    page.say(melt_c, high, "melt", ha="center", va="bottom")
    middle = len(molten) // 3
    page.say(below_c[middle], molten[middle] + up, "molten, cooling", ha="right", va="bottom")
    at = round((melting.end_c + 1.0 - FROM_C) / STEP_C)
    page.say(grid_c[at], warmed[at] - 2 * up, "pieces, warming", va="top")
    return page.save(path)
