"""snapcurve sheet: a page or two of a batch for the file."""

import argparse
from pathlib import Path

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    parser.add_argument("--output", "-o", type=Path, help="PDF file (default: BATCH.pdf here)")
    parser.add_argument("--paper", help="A4 or Letter (default: what is set)")
    options.replace(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the sheet and say where."""
    import gc

    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.commands.output_files import SHEET
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import cleaning_before
    from snapcurve.report.sheet_document import batch_sheet
    from snapcurve.report.sheet_sections import sheet_of
    from snapcurve.shown.settings_file import load

    settings = load()
    path = arguments.output
    if path is not None:
        options.output(arguments, path, SHEET)
    gc.disable()  # in so short a run it frees nothing and takes a tenth of the time
    with open_notebook(arguments.notebook) as notebook:
        found, judgement = judge_batch(notebook, arguments.batch, settings.style)
        batch = found.filed
        missing = notebook.missing_cleanings([found.now.started_unix_ms])
        cleaning = cleaning_before(found, notebook.bench_entries(), missing, settings.style)
        calibrations = notebook.calibrations(batch.curve.board_id)
    if path is None:
        path = options.output(arguments, Path(f"{batch.code}.pdf"), SHEET)
    batch_sheet(
        sheet_of(found, judgement, settings, calibrations, cleaning),
        path,
        arguments.paper or settings.paper,
        settings.style,
    )
    print(path)
    return 0
