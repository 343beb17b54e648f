"""The chart of a couverture's heat over temperature, solid, melting and molten."""

from pathlib import Path

from snapcurve.advice.inputs import WorkingTemperatures
from snapcurve.heat.enthalpy import (
    CouvertureThermal,
    enthalpy_j_per_g,
    heat_to_warm_j,
    heated_enthalpy_j_per_g,
)
from snapcurve.shown.figures import degrees_words
from snapcurve.shown.formats import ending_of

FROM_C, STEP_C = 15.0, 0.1
START_C = 20.0  # a usual room


def enthalpy_chart(
    thermal: CouvertureThermal, temperatures: WorkingTemperatures, name: str, path: Path
) -> None:
    """Draw it into `path`; SnapcurveError for an ending or file that cannot be written."""
    ending_of(path)
    from matplotlib.ticker import MultipleLocator

    from snapcurve.report.sketch import CHOCOLATE, INK, QUIET, WINDOW, Sketch

    melt_c = temperatures.melt_c
    heat_kj_per_kg = heat_to_warm_j(thermal, 1.0, START_C, melt_c)
    sketch = Sketch(
        f"Heat in {name}",
        [
            f"latent heat {thermal.latent_heat_j_per_g:.1f} J/g",
            f"specific heat {thermal.specific_heat_solid_j_per_g_k:g} J/(g K) solid, "
            f"{thermal.specific_heat_liquid_j_per_g_k:g} molten",
            f"melts from {degrees_words(thermal.melting.start_c)} to "
            f"{degrees_words(thermal.melting.end_c)}",
            f"{START_C:g} to {melt_c:g} °C takes {heat_kj_per_kg:.0f} kJ/kg",
        ],
    )
    axes = sketch.axes
    count = round((max(55.0, melt_c + 4.0) - FROM_C) / STEP_C)
    grid_c = [FROM_C + STEP_C * i for i in range(count + 1)]
    zero = heated_enthalpy_j_per_g(thermal, FROM_C)
    warmed = [heated_enthalpy_j_per_g(thermal, at_c) - zero for at_c in grid_c]
    molten = [enthalpy_j_per_g(thermal, at_c, 1.0) - zero for at_c in grid_c]
    high = 1.12 * warmed[-1]
    axes.set_xlim(grid_c[0], grid_c[-1])
    axes.set_ylim(0, high)
    axes.xaxis.set_major_locator(MultipleLocator(5))
    axes.grid(True, axis="y", color="#e2e2e2", linewidth=0.6)
    axes.set_xlabel("°C", size=14)
    axes.set_ylabel("heat, J/g, above pieces at 15 °C", size=12)
    axes.axvspan(
        temperatures.work_low_c,
        temperatures.work_high_c,
        facecolor=WINDOW,
        linewidth=0,
        zorder=0.8,
    )
    axes.axvline(melt_c, color=INK, linewidth=1.3, linestyle=(0, (9, 4)))
    axes.plot(grid_c, warmed, color=CHOCOLATE, linewidth=2.4, zorder=2.5)
    below = [(t, h) for t, h in zip(grid_c, molten, strict=True) if t <= thermal.melting.end_c]
    axes.plot(*zip(*below, strict=True), color=CHOCOLATE, linewidth=1.4, linestyle=(0, (5, 3)))
    share = axes.twinx()
    share.plot(
        grid_c,
        [100 * thermal.melting.melted_share(at_c) for at_c in grid_c],
        color=QUIET,
        linewidth=1.4,
        linestyle=(0, (1, 1.5)),
    )
    share.set_ylim(0, 112)
    share.set_ylabel("melted on warming, % (dotted)", size=12)
    share.spines["top"].set_visible(False)
    up = 0.02 * high
    sketch.say(temperatures.work_low_c, high, "working window", ha="center", va="bottom")
    sketch.say(melt_c, high, "melt", ha="center", va="bottom")
    middle = len(below) // 3
    sketch.say(below[middle][0], below[middle][1] + up, "molten, cooling", ha="right", va="bottom")
    at = round((thermal.melting.end_c + 1.0 - FROM_C) / STEP_C)
    sketch.say(grid_c[at], warmed[at] - 2 * up, "pieces, warming", ha="left", va="top")
    sketch.write(path)
