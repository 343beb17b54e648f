"""snapcurve batches: the list of batches, those that were searched for, and to a file."""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options
from snapcurve.commands.output_files import EXPORT
from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import json_text
from snapcurve.shown.settings_file import load
from snapcurve.shown.units import PLAIN, Style, day_after, day_start_ms
from snapcurve.shown.whole_files import write_whole

if TYPE_CHECKING:
    from snapcurve.notebook.records import BatchRow, Search
    from snapcurve.notebook.store import Notebook

STDOUT = Path("-")
LISTED = 30  # a screen; each line is judged from its record


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("words", nargs="*", help="words that were written; cho* finds beginnings")
    parser.add_argument("--since", metavar="DAY", help="from this day on, such as 2026-11-01")
    parser.add_argument("--until", metavar="DAY", help="up to and with this day")
    parser.add_argument("--couverture", default="", help="words of its name")
    parser.add_argument("--lot", default="", help="lot's number as on the package")
    parser.add_argument("--outcome", default="", help="such as dull, or bloom=marked")
    parser.add_argument("--operator", default="", help="whole name")
    options.mistakes(parser)
    options.rehearsals(parser)
    parser.add_argument(
        "--limit", type=int, help=f"only the newest so many (default of the list: {LISTED})"
    )
    parser.add_argument(
        "--output",
        "-o",
        type=Path,
        metavar="FILE",
        help="write all that is known of them as .csv or .json, or CSV to - for a pipe; always in "
        "°C and g, times in ISO 8601 with their offset. In CSV a text that a spreadsheet would "
        "run as a formula begins with an apostrophe",
    )
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List or write, newest first."""
    from snapcurve.analysis.filed_batch import judged_batches
    from snapcurve.notebook import open_notebook

    style = load().style
    options.checked_limit(arguments.limit)
    if arguments.output not in (None, STDOUT):
        options.output(arguments, arguments.output, EXPORT)
    search = _search(arguments, style)
    with open_notebook(arguments.notebook) as notebook:
        if arguments.output is not None or arguments.json:
            return _export(notebook, notebook.search(search, arguments.limit), arguments.output)
        most = arguments.limit or LISTED
        rows = notebook.search(search, most + 1)
        more = len(rows) > most and arguments.limit is None
        rows = rows[:most]
        found = judged_batches(notebook, rows, style)
        missing = notebook.missing_cleanings(row.started_unix_ms for row in rows)
        empty = not rows and not notebook.batches(1, mistakes=True)
        practised = not arguments.rehearsals and notebook.search(
            replace(search, rehearsals=True, mistakes=False), (arguments.limit or LISTED) + 1
        )
        left_out = any(row.rehearsal for row in practised or ())
    if not rows:
        hint = "The notebook is empty. 'snapcurve rehearse milk' makes a first batch."
        print(hint if empty else "No matching batches.")
        if left_out:
            print("Rehearsals are left out: --rehearsals lists them.")
        return 0
    from snapcurve.notebook.descriptions import cleaning_sentences
    from snapcurve.report.batch_list import list_table

    print(list_table(found, style))
    for sentence in cleaning_sentences(missing, [row.code for row in rows]):
        print(f"! {sentence}")
    if left_out:
        print("Rehearsals are left out: --rehearsals lists them too.")
    if more:
        print(f"Older ones are not shown: --limit {2 * most} shows more, --until DAY others.")
    return 0


def _search(arguments: argparse.Namespace, style: Style) -> "Search":
    from snapcurve.notebook.records import Search

    for word in arguments.words:  # argparse takes one with a blank in it for no option
        if word.startswith("--"):
            raise SnapcurveError(f"There is no option {word.split('=')[0]!r}: check its spelling.")
    since = None if arguments.since is None else style.parse_day(arguments.since, "--since")
    until = None if arguments.until is None else style.parse_day(arguments.until, "--until")
    if since and until and until < since:
        raise SnapcurveError("--until lies before --since: exchange them.")
    return Search(
        since_unix_ms=None if since is None else day_start_ms(since),
        before_unix_ms=None if until is None else day_start_ms(day_after(until)),
        couverture=arguments.couverture,
        lot=arguments.lot,
        outcome=arguments.outcome,
        operator=arguments.operator,
        text=" ".join(arguments.words),
        mistakes=arguments.mistakes,
        rehearsals=arguments.rehearsals,
    )


def _export(notebook: "Notebook", rows: "Sequence[BatchRow]", path: Path | None) -> int:
    """All that is known of each: to a file by its ending, CSV to STDOUT, JSON without a path."""
    from snapcurve.analysis.filed_batch import judged_batches
    from snapcurve.notebook.exports import csv_of, plain
    from snapcurve.report.batch_list import handled_column, handled_data
    from snapcurve.report.batch_texts import summary, verdict_data

    listed = judged_batches(notebook, rows, PLAIN)

    def plain_all() -> list[dict[str, Any]]:
        return [
            {
                **plain(one.found),
                **({} if one.judgement is None else verdict_data(one.judgement)),
                "deviations": handled_data(one),
            }
            for one in listed
        ]

    def csv_all() -> str:
        return csv_of(
            [(one.found, {**summary(one.judgement), **handled_column(one)}) for one in listed]
        )

    if path is None:
        options.print_json(plain_all())
    elif path == STDOUT:
        sys.stdout.flush()
        sys.stdout.buffer.write(csv_all().encode())  # ends of lines as they are
    else:
        if path.suffix.lower() == ".csv":
            # a byte order mark, or spreadsheets take UTF-8 for another code
            data = csv_all().encode("utf-8-sig")
        else:
            data = (json_text(plain_all()) + "\n").encode()
        write_whole(path, data, "export")
        print(f"{len(listed)} {'batch' if len(listed) == 1 else 'batches'} to {path}")
    return 0


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
