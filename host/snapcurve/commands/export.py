"""snapcurve export: batches for a spreadsheet or another program."""

import argparse
import sys
from pathlib import Path
from typing import Any

from snapcurve.commands import find, options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} Always °C and g, times in ISO 8601 with their offset. In CSV a "
        "text that a spreadsheet would run as a formula begins with an apostrophe; JSON holds "
        "every text as it is."
    )
    find.searching(parser)
    parser.add_argument("--format", choices=("csv", "json"), help="default: by --output, or csv")
    parser.add_argument("--output", "-o", type=Path, help="file (default: on the screen)")
    parser.add_argument("--curve", metavar="BATCH", help="instead: the curve of one batch")
    options.replace(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write all that were asked for, newest first."""
    from snapcurve.commands.output_files import EXPORT
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.settings_file import load
    from snapcurve.shown.whole_files import write_whole

    if arguments.output is not None:
        options.output(arguments, arguments.output, EXPORT)
    kind = _kind(arguments)
    wanted = find.search_of(arguments, load().style)
    with open_notebook(arguments.notebook) as notebook:
        if arguments.curve is not None:
            count, text = 1, _curve(notebook, arguments.curve, kind)
        else:
            found = [notebook.as_amended(str(row.code)) for row in notebook.search(wanted)]
            count, text = len(found), _batches(found, kind)
    if arguments.output is None:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8"))  # ends of lines as they are
        return 0
    # a byte order mark, or spreadsheets take UTF-8 for another code
    encoding = "utf-8-sig" if kind == "csv" else "utf-8"
    write_whole(arguments.output, text.encode(encoding), "export")
    print(f"{count} {'batch' if count == 1 else 'batches'} to {arguments.output}")
    return 0


def _kind(arguments: argparse.Namespace) -> str:
    if arguments.format is not None:
        return str(arguments.format)
    ending = "" if arguments.output is None else arguments.output.suffix.lower()
    return "json" if ending == ".json" else "csv"


def _batches(found: list[Any], kind: str) -> str:
    from snapcurve.notebook.exporting import csv_of, plain
    from snapcurve.shown.plain_text import json_text

    if kind == "csv":
        return csv_of(found)
    return json_text([plain(one) for one in found]) + "\n"


def _curve(notebook: Any, code: str, kind: str) -> str:
    from snapcurve.notebook.exporting import curve_csv
    from snapcurve.recording.curve import decode
    from snapcurve.shown.plain_text import json_text

    batch = notebook.batch(code)
    curve = decode(notebook.curve_raw(batch.id))
    if kind == "csv":
        return curve_csv(curve)
    held = {
        "batch": batch.code,
        "time_s": curve.times_s,
        "temperature_c": curve.temperatures_c,
    }
    return json_text(held, indent=None) + "\n"
