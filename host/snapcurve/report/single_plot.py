"""A page with one plot, words above and below: for charts that need no labels placed."""

import io
import textwrap
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from snapcurve.report.chart_words import clean
from snapcurve.report.drawing import GRID, INK, PNG_DPI, SERIF, SETTINGS
from snapcurve.shown.whole_files import write_whole
from snapcurve.wire.version import __version__

SIZE_IN = (11.69, 8.27)  # ISO 216 A4, landscape
LETTERS = 128  # in a line of the caption


class SimplePage:
    """``axes`` is the plot; ``save`` writes the page whole."""

    def __init__(self, title: str, caption: str, x_words: str, y_words: str):
        self._title = clean(title)
        with mpl.rc_context(SETTINGS):
            self.figure = Figure(figsize=SIZE_IN, facecolor="white")
            FigureCanvasAgg(self.figure)
            lines = textwrap.wrap(clean(caption), LETTERS)
            below = 0.07 + 0.024 * len(lines)
            self.axes: Axes = self.figure.add_axes((0.08, below + 0.07, 0.84, 0.83 - below))
            self._text(0.035, 0.94, self._title, 17, fontfamily=SERIF, fontweight="bold")
            for number, line in enumerate(reversed(lines)):
                self._text(0.035, 0.04 + 0.024 * number, line, 11)
            self.axes.set_xlabel(x_words, fontsize=12)
            self.axes.set_ylabel(y_words, fontsize=12)
            self.axes.grid(True, color=GRID, linewidth=0.8)
            for side in ("top", "right"):
                self.axes.spines[side].set_visible(False)

    def _text(self, x: float, y: float, words: str, size: float, **how: Any) -> None:
        text = Text(x, y, words, parse_math=False, color=INK, fontsize=size, **how)
        self.figure.add_artist(text)

    def save(self, path: Path, kind: str) -> Path:
        """Write the page to ``path``; SnapcurveError if that cannot be done."""
        metadata: dict[str, Any] = {"Title": self._title}
        maker = f"snapcurve {__version__}"
        if kind == "png":
            metadata["Software"] = maker
        else:
            metadata |= {"Creator": maker, ("Date" if kind == "svg" else "CreationDate"): None}
        target = io.BytesIO()
        with mpl.rc_context(SETTINGS):
            self.figure.savefig(target, format=kind, dpi=PNG_DPI, metadata=metadata)
        write_whole(path, target.getvalue())
        return path
