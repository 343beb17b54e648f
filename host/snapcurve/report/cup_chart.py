"""The chart of a cooling curve: readings, inflection, tangent, and the slope below."""

from pathlib import Path

import numpy as np

from snapcurve.analysis.cooling_curve import Inflection, slopes_c_per_min
from snapcurve.analysis.cup_temper import CupVerdict
from snapcurve.recording.curve import Curve
from snapcurve.shown.formats import ending_of

TANGENT_S = 70.0


def cup_chart(
    curve: Curve, inflection: Inflection, verdict: CupVerdict, title: str, path: Path
) -> Path:
    """Draw it into ``path`` (.png, .svg or .pdf) and return that."""
    kind = ending_of(path)
    from snapcurve.report.drawing import CHOCOLATE, INK, QUIET, WARNING, WINDOW
    from snapcurve.report.single_plot import SimplePage

    page = SimplePage(title, verdict.sentence, "seconds since the fall began", "°C")
    axes = page.axes
    times = np.array(curve.times_s)
    values = np.array([np.nan if v is None else v for v in curve.temperatures_c], float)
    part = (times >= inflection.start_s) & (times <= inflection.end_s)
    since, values = times[part] - inflection.start_s, values[part]
    axes.plot(since, values, color=CHOCOLATE, linewidth=1.8)
    at = inflection.at_s - inflection.start_s
    reach = np.array([-TANGENT_S, TANGENT_S])
    axes.plot(
        at + reach,
        inflection.temperature_c + inflection.slope_c_per_min / 60 * reach,
        color=WARNING,
        linewidth=1.6,
        linestyle=(0, (6, 3)),
    )
    axes.plot([at], [inflection.temperature_c], "o", color=WARNING, markersize=9)
    axes.annotate(
        f"{inflection.slope_c_per_min:+.2f} ± {inflection.slope_uncertainty_c_per_min:.2f} °C/min"
        f"\nat {inflection.temperature_c:.1f} °C",
        (at, inflection.temperature_c),
        xytext=(18, 22 if inflection.slope_c_per_min < 0.3 else 56),
        textcoords="offset points",
        fontsize=13,
        color=INK,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 2.0, "alpha": 0.9},
    )
    low_c, high_c = float(np.nanmin(values)), float(np.nanmax(values))
    # The slope has the lower third to itself, on its own scale.
    axes.set_ylim(low_c - 0.75 * (high_c - low_c), high_c + 0.08 * (high_c - low_c))
    axes.set_xlim(0, float(since[-1]))
    axes.set_yticks([tick for tick in axes.get_yticks() if low_c - 1 <= tick <= high_c + 2])
    below = axes.inset_axes((0.0, 0.0, 1.0, 0.34))
    below.patch.set_alpha(0.0)
    below.set_xlim(axes.get_xlim())
    below.set_xticks([])
    below.yaxis.tick_right()
    below.yaxis.set_label_position("right")
    below.set_ylabel("slope, °C/min", fontsize=12)
    for side in ("top", "left"):
        below.spines[side].set_visible(False)
    if verdict.limits is not None:
        low, high = verdict.limits.low_c_per_min, verdict.limits.high_c_per_min
        below.axhspan(low, high, color=WINDOW)
        below.text(
            float(since[-1]) * 0.99, high, "good cups", ha="right", va="bottom", fontsize=11
        )
    step_s = float(np.median(np.diff(times)))
    slopes = slopes_c_per_min([float(v) for v in values], step_s, inflection.half_window_s)
    below.axhline(0.0, color=QUIET, linewidth=0.8)
    below.plot(since, slopes, color=QUIET, linewidth=1.6)
    below.plot([at], [inflection.slope_c_per_min], "o", color=WARNING, markersize=7)
    return page.save(path, kind)
