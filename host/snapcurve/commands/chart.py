"""snapcurve chart: draw a batch."""

import argparse
from pathlib import Path

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    parser.add_argument(
        "--output", "-o", type=Path, help=".png, .svg or .pdf (default: BATCH.png here)"
    )
    options.replace(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Draw and say where."""
    from snapcurve.commands.output_files import CHART
    from snapcurve.notebook import open_notebook
    from snapcurve.recording.curve import decode
    from snapcurve.report.batch_chart import batch_chart
    from snapcurve.report.chart_words import batch_uncertainty
    from snapcurve.shown.settings_file import load

    settings = load()
    path = arguments.output
    if path is not None:
        options.output(arguments, path, CHART)
    with open_notebook(arguments.notebook) as notebook:
        batch = notebook.batch(arguments.batch)
        raw = notebook.curve_raw(batch.id)
    if path is None:
        path = options.output(arguments, Path(f"{batch.code}.png"), CHART)
    batch_chart(
        decode(raw),
        f"Batch {batch.code}: {batch.couverture}",
        path,
        paper=settings.paper,
        uncertainty=batch_uncertainty(batch, settings.style),
        style=settings.style,
    )
    print(path)
    return 0
