"""All batches of a couverture over each other, told apart by how they turned out."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.analysis.lessons import Lesson
from snapcurve.errors import SnapcurveError
from snapcurve.shown.formats import ending_of

if TYPE_CHECKING:
    from snapcurve.analysis.filed_outcomes import Learned

BEFORE_S, AFTER_S = 15 * 60.0, 60 * 60.0  # around coming into the window
ABOVE_C, BELOW_C = 5.0, 3.0  # of the window, so that its width can be seen
BROKEN_S = 20.0


def outcomes_chart(
    batches: "Sequence[Learned]", lesson: Lesson, window_c: tuple[float, float], path: Path
) -> Path:
    """Draw them into ``path``, each from when it came into the window; what is not known
    of a batch is not drawn. SnapcurveError if none of them ever came into the window."""
    kind = ending_of(path)
    drawn = [one for one in batches if one.facts.entered_s is not None]
    if not drawn:
        raise SnapcurveError("none of these batches came into its window: nothing to draw")
    from snapcurve.report.drawing import CHOCOLATE, QUIET, WARNING, WINDOW
    from snapcurve.report.single_plot import SimplePage

    caption = f"{lesson.good} batches released with gloss, {lesson.bad} did not. {lesson.why}"
    if len(drawn) < len(batches):
        caption += f" Not drawn, as never in the window: {len(batches) - len(drawn)}."
    page = SimplePage(
        f"{lesson.couverture}: batches by outcome",
        f"{caption} {lesson.warning}",
        "minutes after coming into the working window",
        "°C",
    )
    axes = page.axes
    axes.axhspan(*window_c, color=WINDOW)
    if lesson.window_c is not None:
        for edge_c in lesson.window_c:
            axes.axhline(edge_c, color=QUIET, linewidth=1.4, linestyle=(0, (2, 2)))
    looks = {
        True: (CHOCOLATE, "solid", 1.8, "released with gloss"),
        False: (WARNING, (0, (4, 2)), 1.6, "did not"),
        None: (QUIET, (0, (1, 2)), 1.2, "not noted"),
    }
    told: set[bool | None] = set()
    for one in sorted(drawn, key=lambda each: each.outcome.good is not True):
        colour, style, width, words = looks[one.outcome.good]
        entered_s = one.facts.entered_s or 0.0
        since_s = max(entered_s - BEFORE_S, one.facts.descent_start_s or 0.0)
        times, values = one.facts.known.between(since_s, entered_s + AFTER_S)
        xs: list[float] = []
        ys: list[float] = []
        for at_s, value in zip(times, values, strict=True):
            if xs and at_s - entered_s - xs[-1] * 60 > BROKEN_S:
                xs.append(xs[-1])
                ys.append(float("nan"))
            xs.append((at_s - entered_s) / 60)
            ys.append(value)
        label = words if one.outcome.good not in told else None
        told.add(one.outcome.good)
        axes.plot(xs, ys, color=colour, linestyle=style, linewidth=width, label=label)
    axes.set_ylim(window_c[0] - BELOW_C, window_c[1] + ABOVE_C)
    axes.axvline(0.0, color=QUIET, linewidth=0.8)
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=3, fontsize=12, frameon=False)
    return page.save(path, kind)
