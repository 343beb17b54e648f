"""snapcurve batches: the list of batches."""

import argparse
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options
from snapcurve.quantities import PLAIN, Style

if TYPE_CHECKING:
    from snapcurve.notebook import BatchRow


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.notebook(parser)
    options.mistakes(parser)
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
    options.checked_limit(arguments.limit)
    with open_notebook(arguments.notebook) as notebook:
        rows = notebook.batches(arguments.limit, arguments.mistakes)
        missing = notebook.missing_cleanings(row.started_unix_ms for row in rows)
    show(rows, missing, style, arguments.json)
    if not rows and not arguments.json:
        print("The notebook is empty. 'snapcurve rehearse milk' makes a first batch.")
    return 0


def show(rows: "Sequence[BatchRow]", missing: Any, style: Style, as_json: bool) -> None:
    """Lines of batches, and what was worked without a cleaning before."""
    from snapcurve.notebook.describing import cleaning_sentences
    from snapcurve.notebook.plain_text import on_one_line

    if as_json:
        options.print_json([row_json(row) for row in rows])
        return
    for row in rows:
        note = "  (rehearsal)" if row.rehearsal else ""
        note += "  (started by mistake)" if row.mistake else ""
        started = when(row.started_unix_ms, row.utc_offset_min, style)
        name = on_one_line(row.couverture)
        print(f"{row.code}  {started:<22}  {name} by {row.method}{note}")
    for sentence in cleaning_sentences(missing, [row.code for row in rows]):
        print(f"! {sentence}")


def row_json(row: "BatchRow") -> dict[str, Any]:
    """One line for a script."""
    started = None
    if row.started_unix_ms is not None:
        started = when(row.started_unix_ms, row.utc_offset_min).replace(" ", "T")
    return {
        "batch": row.code,
        "started": started,
        "couverture": row.couverture,
        "method": row.method,
        "rehearsal": row.rehearsal,
        "mistake": row.mistake,
    }
