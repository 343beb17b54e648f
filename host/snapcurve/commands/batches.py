"""snapcurve batches: the list of batches."""

import argparse
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options
from snapcurve.shown.quantities import PLAIN, Style

if TYPE_CHECKING:
    from snapcurve.notebook import BatchRow
    from snapcurve.notebook.allergens import Allergens


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
    from snapcurve.shown.settings_file import load

    style = load().style
    options.checked_limit(arguments.limit)
    with open_notebook(arguments.notebook) as notebook:
        rows = notebook.batches(arguments.limit, arguments.mistakes)
        holds = notebook.allergens([row.id for row in rows])
        missing = notebook.missing_cleanings(row.started_unix_ms for row in rows)
    show(rows, holds, missing, style, arguments.json)
    if not rows and not arguments.json:
        print("The notebook is empty. 'snapcurve rehearse milk' makes a first batch.")
    return 0


def show(
    rows: "Sequence[BatchRow]",
    holds: "Mapping[int, Allergens]",
    missing: Any,
    style: Style,
    as_json: bool,
) -> None:
    """Lines of batches with what each holds, and what was worked without a cleaning before."""
    from snapcurve.notebook.describing import allergen_words, cleaning_sentences
    from snapcurve.shown.plain_text import on_one_line

    if as_json:
        options.print_json([row_json(row, holds[row.id]) for row in rows])
        return
    for row in rows:
        note = "  (rehearsal)" if row.rehearsal else ""
        note += "  (started by mistake)" if row.mistake else ""
        started = when(row.started_unix_ms, row.utc_offset_min, style)
        name = on_one_line(row.couverture)
        allergens = allergen_words(holds[row.id], reasons=False)
        print(f"{row.code}  {started:<22}  {name} by {row.method}{note}, allergens {allergens}")
    for sentence in cleaning_sentences(missing, [row.code for row in rows]):
        print(f"! {sentence}")


def row_json(row: "BatchRow", holds: "Allergens") -> dict[str, Any]:
    """One line for a script."""
    from snapcurve.notebook.exporting import allergens_plain

    started = None
    if row.started_unix_ms is not None:
        started = when(row.started_unix_ms, row.utc_offset_min).replace(" ", "T")
    return {
        "batch": row.code,
        "started": started,
        "couverture": row.couverture,
        "method": row.method,
        "rehearsal": row.rehearsal,
        **allergens_plain(holds),
        "mistake": row.mistake,
    }
