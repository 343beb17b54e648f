"""A few batches over each other, told apart by line and shade."""

from collections.abc import Sequence
from pathlib import Path

from snapcurve.analysis.facts import Facts
from snapcurve.errors import SnapcurveError
from snapcurve.report.chart_words import clean
from snapcurve.shown.formats import ending_of
from snapcurve.shown.quantities import PLAIN, Style, fahrenheit

BROKEN_S = 20.0
LABEL_LETTERS = 34


def compared_chart(batches: Sequence[tuple[str, Facts]], path: Path, style: Style = PLAIN) -> Path:
    """Draw each of ``batches`` (name, facts) into ``path``.

    Each begins where it came into its window, if all of them did, else at its start. Drawn is
    what is known of the chocolate, not the probe in the air. SnapcurveError for a curve of
    which nothing is known, and if the file cannot be written.
    """
    kind = ending_of(path)
    at_window = all(facts.entered_s is not None for _, facts in batches)
    for name, facts in batches:
        if not facts.known.times_s:
            raise SnapcurveError(f"{clean(name)} has no settled reading: nothing to draw")
    from snapcurve.report.drawing import CHOCOLATE, INK, QUIET, WARNING, WINDOW
    from snapcurve.report.single_plot import SimplePage

    since = "coming into the working window" if at_window else "the record began"
    page = SimplePage(
        "Batches over each other",
        "Where the probe was out of the chocolate, settling or without a reading, nothing is "
        "drawn. "
        + ("" if at_window else "Not all of them came into the window, so each begins at 0."),
        f"minutes after {since}",
        style.degree,
    )
    windows = {facts.window_c for _, facts in batches}
    if len(windows) == 1 and (window_c := windows.pop()) is not None:
        page.axes.axhspan(*(_shown(end, style) for end in window_c), color=WINDOW)
    looks = [
        (CHOCOLATE, "solid", 2.0),
        (WARNING, (0, (5, 2)), 1.8),
        (QUIET, "solid", 1.3),
        (INK, (0, (1, 1.5)), 1.8),
        (CHOCOLATE, (0, (6, 2, 1, 2)), 1.6),
        (QUIET, (0, (3, 3)), 1.6),
    ]
    for (name, facts), (colour, line, width) in zip(batches, looks, strict=False):
        zero_s = facts.entered_s if at_window and facts.entered_s is not None else 0.0
        xs, ys = _line(facts, zero_s, style)
        label = clean(name).replace("$", r"\$")
        if len(label) > LABEL_LETTERS:
            label = label[: LABEL_LETTERS - 1] + "…"
        page.axes.plot(xs, ys, color=colour, linestyle=line, linewidth=width, label=label)
    if at_window:
        page.axes.axvline(0.0, color=QUIET, linewidth=0.8)
    page.axes.legend(loc="upper right", fontsize=11, frameon=True, framealpha=0.9)
    return page.save(path, kind)


def _line(facts: Facts, zero_s: float, style: Style) -> tuple[list[float], list[float]]:
    xs: list[float] = []
    ys: list[float] = []
    last_s: float | None = None
    for at_s, value in zip(facts.known.times_s, facts.known.values_c, strict=True):
        if last_s is not None and at_s - last_s > BROKEN_S:
            xs.append((last_s - zero_s) / 60)
            ys.append(float("nan"))
        xs.append((at_s - zero_s) / 60)
        ys.append(_shown(value, style))
        last_s = at_s
    return xs, ys


def _shown(value_c: float, style: Style) -> float:
    return fahrenheit(value_c) if style.fahrenheit else value_c
