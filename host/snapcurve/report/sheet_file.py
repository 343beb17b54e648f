"""A batch sheet, from its matter to a file."""

from dataclasses import replace
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.report.chart_content import content_of
from snapcurve.report.sheet_matter import SheetMatter
from snapcurve.report.sheet_sections import sections_of
from snapcurve.shown.quantities import PLAIN, Style
from snapcurve.shown.whole_files import write_whole

# Upright, width and height in millimetres: ISO 216, and letter by ANSI/ASME Y14.1.
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def batch_sheet(
    matter: SheetMatter, path: Path | str, *, paper: str = "A4", style: Style = PLAIN
) -> Path:
    """Write the sheet of ``matter`` into ``path``, a PDF, and return it.

    SnapcurveError for another ending than .pdf, for a paper that is none of PAPERS_MM, and
    for a file that cannot be written; an older file of that name then stays as it was.
    """
    path = Path(path)
    if path.suffix.lower() != ".pdf":
        raise SnapcurveError(f"{path} is no name for a batch sheet: let it end in .pdf")
    if paper.lower() not in PAPERS_MM:
        raise SnapcurveError(f"there is no paper {paper!r} for sheets: choose A4 or Letter")
    # Only here, so that a command that draws nothing does not wait for matplotlib.
    from snapcurve.report.drawing import picture
    from snapcurve.report.sheet_document import chart_size_mm, pdf_of

    paper_mm, chart_svg = PAPERS_MM[paper.lower()], ""
    if matter.curve is not None:
        content = content_of(matter.curve, style=style)
        # What the caption says of the batch stands on the sheet already.
        content = replace(content, caption=content.notes)
        chart_svg = picture(content, "", "", chart_size_mm(paper_mm), "svg", style).decode()
    data = pdf_of(matter.code, matter.couverture, sections_of(matter, style), chart_svg, paper_mm)
    write_whole(path, data, "sheet")
    return path
