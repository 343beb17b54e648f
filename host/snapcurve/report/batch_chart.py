"""The chart of one batch, from a curve to a file."""

from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.recording.curve import Curve
from snapcurve.report.chart_content import content_of
from snapcurve.report.chart_words import clean
from snapcurve.shown.formats import PAPERS_MM, ending_of
from snapcurve.shown.quantities import PLAIN, Style
from snapcurve.shown.whole_files import write_whole


def batch_chart(
    curve: Curve,
    title: str,
    path: Path | str,
    *,
    subtitle: str = "",
    paper: str = "a4",
    uncertainty: str = "",
    style: Style = PLAIN,
) -> Path:
    """Draw ``curve`` into ``path`` and return it.

    The ending of ``path`` chooses PNG, SVG or PDF; ``paper`` is one of PAPERS_MM and lies
    on its long side. ``uncertainty`` is said beside the calibration; ``style`` chooses
    units and signs. SnapcurveError for another ending or paper, for a curve without
    samples, and for a file that cannot be written; an older file of that name then stays as
    it was.
    """
    path = Path(path)
    ending = ending_of(path)
    paper = paper.lower()
    if paper not in PAPERS_MM:
        raise SnapcurveError(
            f"there is no paper {paper!r} here: choose one of {', '.join(PAPERS_MM)}"
        )
    content = content_of(curve, uncertainty, style)
    # Only here, so that a command that draws nothing does not wait for matplotlib.
    from snapcurve.report.drawing import picture

    data = picture(content, clean(title), clean(subtitle), PAPERS_MM[paper], ending, style)
    write_whole(path, data)
    return path
