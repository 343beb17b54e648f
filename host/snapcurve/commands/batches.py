"""snapcurve batches: the list of batches."""

import argparse
from datetime import datetime, timedelta, timezone

from snapcurve.commands import options
from snapcurve.quantities import PLAIN, Style


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.notebook(parser)
    parser.add_argument("--limit", type=int, help="only the newest so many")
    options.as_json(parser)


def when(unix_ms: int | None, utc_offset_min: int, style: Style = PLAIN) -> str:
    """Local date and time of a batch with its offset; "time unknown" if so.

    ISO 8601 unless ``style`` writes days otherwise.
    """
    if unix_ms is None:
        return "time unknown"
    zone = timezone(timedelta(minutes=utc_offset_min))
    moment = datetime.fromtimestamp(unix_ms / 1000, zone)
    offset = moment.strftime("%z")
    return f"{style.day(moment)} {moment:%H:%M}{offset[:3]}:{offset[3:5]}"


def run(arguments: argparse.Namespace) -> int:
    """List, newest first."""
    from snapcurve.notebook import open_notebook
    from snapcurve.settings import load

    style = load().style
    with open_notebook(arguments.notebook) as notebook:
        rows = notebook.batches(arguments.limit)
    if arguments.json:
        options.print_json(
            [
                {
                    "batch": row.code,
                    "started": None
                    if row.started_unix_ms is None
                    else when(row.started_unix_ms, row.utc_offset_min).replace(" ", "T"),
                    "couverture": row.couverture,
                    "method": row.method,
                    "rehearsal": row.rehearsal,
                }
                for row in rows
            ]
        )
        return 0
    if not rows:
        print("The notebook is empty. 'snapcurve rehearse milk' makes a first batch.")
    for row in rows:
        note = "  (rehearsal)" if row.rehearsal else ""
        started = when(row.started_unix_ms, row.utc_offset_min, style)
        print(f"{row.code}  {started:<22}  {row.couverture} by {row.method}{note}")
    return 0
