"""A trace on paper, as a PDF for the file: what was made of it and where it went comes first."""

from datetime import datetime
from pathlib import Path

from snapcurve.notebook import witnesses
from snapcurve.notebook.records import ChainEnd
from snapcurve.notebook.tracing import Trace
from snapcurve.report import sheet_sections as s
from snapcurve.report.sheet_document import written
from snapcurve.report.trace_tree import (
    MADE_HEAD,
    Line,
    backward_lines,
    forward_lines,
    made_rows,
    not_known,
)
from snapcurve.shown.plain_text import for_paper
from snapcurve.shown.settings_file import Settings

CAUTION = (
    "This lists what was noted in this notebook, and no more. The law where you work and your own "
    "plan for a recall say whom to tell, and how fast."
)
PARTS = (2.4, 0.8, 0.9, 1.3, 2.4, 1.7)


def trace_document(
    trace: Trace,
    head: list[str],
    traced_at: datetime,
    path: Path,
    paper: str,
    settings: Settings,
    chain: ChainEnd,
) -> Path:
    """Write ``trace`` into ``path``, a PDF, and return that; ``head`` sums it up, ``chain`` is
    where the notebook's chain of seals ends. SnapcurveError as in `sheet_document.written`."""
    style = settings.style
    rows = made_rows(trace, style)
    sections = [
        s.Section("", s.Sentences((*map(for_paper, head), f"Traced {style.minute(traced_at)}."))),
        s.Section(
            "What was made, and where it went",
            s.table_of(
                MADE_HEAD,
                [tuple(for_paper(cell) or "—" for cell in row) for row in rows],
                PARTS,
                (1, 2),
            ),
        ),
        s.Section("What is not known", s.sentences(not_known(trace, style))),
        s.Section("Where it went", _tree(forward_lines(trace, style))),
    ]
    if trace.itself is not None:
        sections.append(s.Section("What went in", _tree(backward_lines(trace, style))))
    sections += [
        s.Section("", s.Signature(settings.operator, settings.bench)),
        s.Section("", s.Sentences((CAUTION,))),
        *s.chain_section(chain, "trace"),
    ]
    title = f"Trace of {'batch' if trace.itself else 'lot'} {for_paper(trace.asked)}"
    rehearsal = trace.itself is not None and trace.itself.batch.rehearsal
    across = "REHEARSAL" if rehearsal else ""
    end = witnesses.written(chain, len(chain.hash))
    return written(title, title, sections, path, paper, style, across, end)


def _tree(lines: list[Line]) -> s.Tree | s.Sentences:
    if not lines:
        return s.Sentences((s.NOTHING,))
    return s.Tree(tuple((one.depth, for_paper(one.words), one.batch is not None) for one in lines))
