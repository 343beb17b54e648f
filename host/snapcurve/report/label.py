"""A label for tray or box: batch, name, best before and allergens in words, and all of it as a QR
code (ISO/IEC 18004, by segno). One label as PNG, a sheet of them as PDF.

What does not fit is refused: an allergen that was cut off would be worse than no label. Only the
end of the notebook's chain, which makes a label a witness of the notebook, gives way.
"""

import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import segno
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import witnesses
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.descriptions import NOT_KNOWN, plain_groups
from snapcurve.report.chart_content import clean
from snapcurve.report.chart_page import INK, PT_PER_MM, fill
from snapcurve.shown.plain_text import for_paper
from snapcurve.shown.whole_files import write_whole
from snapcurve.wire.version import __version__

EDGE_MM, GAP_MM = 2.5, 2.0
NAME_PT, LEADING = 9.0, 1.25
# Small letters of DejaVu are 0.547 of its size high: 1.2 mm with this, which Regulation (EU)
# No 1169/2011, Article 13, asks for on all but small packages (from memory).
TEXT_PT = 6.3
CHAIN_PT = 4.3  # of the chain's end, which no customer has to read
QR_MOST_MM = 26.0
MODULE_MM = 0.3  # a telephone reads a square of so much; common practice, no source
QUIET_MODULES = 4
PNG_DPI = 600


@dataclass(frozen=True)
class Layout:
    """A sheet of labels, in mm: the paper, how many across and down, a label's size, the place
    of the first, and from one to the next."""

    paper_mm: tuple[float, float]
    across: int
    down: int
    size_mm: tuple[float, float]
    first_mm: tuple[float, float]
    pitch_mm: tuple[float, float]


A4, LETTER = (210.0, 297.0), (215.9, 279.4)
# Common sizes of the trade, no source: compare one printed sheet with your labels.
LAYOUTS = {
    "70x37": Layout(A4, 3, 8, (70.0, 37.0), (0.0, 0.5), (70.0, 37.0)),
    "63.5x38.1": Layout(A4, 3, 7, (63.5, 38.1), (7.2, 15.15), (66.0, 38.1)),
    "99.1x38.1": Layout(A4, 2, 7, (99.1, 38.1), (4.65, 15.15), (101.6, 38.1)),
    "105x74": Layout(A4, 2, 4, (105.0, 74.0), (0.0, 0.5), (105.0, 74.0)),
    "66.7x25.4": Layout(LETTER, 3, 10, (66.7, 25.4), (4.8, 12.7), (69.8, 25.4)),
    "101.6x50.8": Layout(LETTER, 2, 5, (101.6, 50.8), (4.0, 12.7), (106.3, 50.8)),
}


@dataclass(frozen=True)
class Label:
    """What stands on it; ``best_before`` as the person reads it, "" if it is not noted; ``chain``
    is where the notebook's chain of seals ends, "" for none."""

    code: str
    name: str
    best_before: str
    allergens: Allergens
    rehearsal: bool = False
    chain: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """Below the name; the same words are in the code."""
        named, unknown = self.allergens.named, self.allergens.not_known
        said = [f"Contains {plain_groups(named)}"] if named else []
        if unknown:
            said.append(f"{NOT_KNOWN.capitalize()}: {', '.join(unknown)}")
        return (
            f"Batch {self.code}",
            *([f"Best before {self.best_before}"] if self.best_before else []),
            *(said or ["No allergens declared"]),
        )

    @property
    def title(self) -> str:
        """The name."""
        return f"REHEARSAL {self.name}" if self.rehearsal else self.name

    @property
    def content(self) -> str:
        """What the code holds."""
        return "\n".join((self.title, *self.lines, *([self.chain] if self.chain else [])))


def write_label(label: Label, size: str, path: Path, copies: int, first: int) -> Path:
    """Write into ``path`` one label as .png, or ``copies`` of it on a sheet of ``size`` as .pdf,
    beginning at the ``first`` place (from 1, row by row), and return that.

    SnapcurveError for a size that is none of LAYOUTS, for places beyond the sheet, and if the
    label has no room for all that it says.
    """
    if size not in LAYOUTS:
        raise SnapcurveError(f"There is no label {size!r}: use one of {', '.join(LAYOUTS)}.")
    layout = LAYOUTS[size]
    label = replace(label, chain=label.chain if _has_room(label, layout.size_mm, size) else "")
    places = layout.across * layout.down
    if not (first >= 1 and copies >= 1 and first + copies - 1 <= places):
        raise SnapcurveError(
            f"A sheet of labels of {size} mm has {places} places: {copies} from place {first} on"
            " do not fit; write two files."
        )
    if path.suffix.lower() == ".png":
        figure, axes = _page(layout.size_mm)
        _draw(axes, label, layout.size_mm, (0.0, 0.0), size)
    else:
        figure, axes = _page(layout.paper_mm)
        for place in range(first - 1, first - 1 + copies):
            row, column = divmod(place, layout.across)
            x = layout.first_mm[0] + column * layout.pitch_mm[0]
            y = layout.first_mm[1] + row * layout.pitch_mm[1]
            _draw(axes, label, layout.size_mm, (x, y), size)
    kind = path.suffix.lower().removeprefix(".")
    about: dict[str, Any] = {"Title": clean(f"Label of batch {label.code}")}
    if label.chain:
        about |= {"Keywords": witnesses.marked(label.chain)}
    about |= {"Software": f"snapcurve {__version__}"} if kind == "png" else {"CreationDate": None}
    target = io.BytesIO()
    figure.savefig(target, format=kind, dpi=PNG_DPI, metadata=about)
    write_whole(path, target.getvalue(), "label")
    return path


def _has_room(label: Label, size_mm: tuple[float, float], size: str) -> bool:
    """Whether a label of this size has room for all of it."""
    try:
        _draw(_page(size_mm)[1], label, size_mm, (0.0, 0.0), size)
    except SnapcurveError:
        return False
    return True


def _page(size_mm: tuple[float, float]) -> tuple[Figure, Axes]:
    """A page whose axes count millimetres from its upper left corner."""
    figure = Figure(figsize=(size_mm[0] / 25.4, size_mm[1] / 25.4), facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, size_mm[0])
    axes.set_ylim(size_mm[1], 0)
    axes.axis("off")
    return figure, axes


def _draw(
    axes: Axes, label: Label, size_mm: tuple[float, float], at_mm: tuple[float, float], size: str
) -> None:
    wide, high = size_mm
    qr_mm = min(high - 2 * EDGE_MM, QR_MOST_MM)
    _draw_code(axes, label, (at_mm[0] + wide - EDGE_MM - qr_mm, at_mm[1] + EDGE_MM), qr_mm, size)
    width_pt = (wide - 2 * EDGE_MM - GAP_MM - qr_mm) * PT_PER_MM
    x, y = at_mm[0] + EDGE_MM, at_mm[1] + EDGE_MM
    # in groups, so that a line may end between them
    number, _, digits = label.chain.partition(":")
    groups = [digits[at : at + 8] for at in range(0, len(digits), 8)]
    chain = [f"{number}: {' '.join(groups)}"] if label.chain else []
    # bold is wider than what is measured
    for text, points, room_pt, weight in (
        (label.title, NAME_PT, width_pt / 1.25, "bold"),
        *((line, TEXT_PT, width_pt, "normal") for line in label.lines),
        *((line, CHAIN_PT, width_pt, "normal") for line in chain),
    ):
        for line in _lines(text, room_pt, points, size):
            step_mm = points * LEADING / PT_PER_MM
            if y + step_mm > at_mm[1] + high - EDGE_MM / 2:
                raise _too_small(size)
            axes.text(
                x, y, line, fontsize=points, fontweight=weight, color=INK, va="top",
                parse_math=False,
            )  # fmt: skip
            y += step_mm


def _lines(text: str, width_pt: float, points: float, size: str) -> list[str]:
    words = clean(for_paper(text))
    lines = fill(words.split(), " ", width_pt, points)
    if " ".join(lines).split() != words.split():  # a word was cut
        raise _too_small(size)
    return lines


def _draw_code(
    axes: Axes, label: Label, at_mm: tuple[float, float], qr_mm: float, size: str
) -> None:
    code = segno.make_qr(label.content, error="m", boost_error=False, encoding="utf-8")
    rows = [list(row) for row in code.matrix]
    module_mm = qr_mm / (len(rows) + 2 * QUIET_MODULES)
    if module_mm < MODULE_MM:
        raise _too_small(size)
    x, y = (start + QUIET_MODULES * module_mm for start in at_mm)
    corners = ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))
    points = [
        (x + (column + right) * module_mm, y + (row + down) * module_mm)
        for row, modules in enumerate(rows)
        for column, dark in enumerate(modules)
        if dark
        for right, down in corners
    ]
    steps = [Outline.MOVETO, *[Outline.LINETO] * 3, Outline.CLOSEPOLY]
    outline = Outline(points, steps * (len(points) // len(corners)))
    axes.add_patch(PathPatch(outline, facecolor="black", linewidth=0, antialiased=False))


def _too_small(size: str) -> SnapcurveError:
    return SnapcurveError(
        f"A label of {size} mm has no room for all that this batch has to say: choose a larger"
        f" one of {', '.join(LAYOUTS)}."
    )
