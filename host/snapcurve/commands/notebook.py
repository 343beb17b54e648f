"""snapcurve notebook: check it, copy it, bring a copy back, hand it to other programs."""

import argparse
import re
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import RecordError, SnapcurveError, file_errors


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("action", choices=("check", "backup", "restore", "export"))
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        help="the copy, or the folder of an export",
    )
    parser.add_argument(
        "--end", metavar="NUMBER:HASH", help="for check: an end of the chain written down once"
    )
    parser.add_argument(
        "--damaged", action="store_true", help="for restore: take a damaged backup as it is"
    )
    options.rehearsals(parser)
    options.replace(parser)
    options.notebook(parser)


def _day(unix_ms: int | None) -> str:
    """The local day of a moment."""
    return datetime.fromtimestamp((unix_ms or 0) / 1000).date().isoformat()


def _written_down(text: str) -> tuple[int, str]:
    found = re.fullmatch(r"([0-9]{1,9}):([0-9a-f]{64})", text.strip().lower())
    if found is None:
        raise SnapcurveError(
            "--end is what check printed: a number, a colon and 64 digits from 0 to f."
        )
    return int(found[1]), found[2]


def run(arguments: argparse.Namespace) -> int:
    """Do it, and say what was found."""
    from snapcurve.notebook import backups, open_notebook

    if arguments.action == "check":
        written_down = None if arguments.end is None else _written_down(arguments.end)
        with open_notebook(arguments.notebook) as notebook:
            problems = notebook.check()
            count = len(notebook.batches(mistakes=True))
            end = notebook.chain_end()
            known = bool(problems) or written_down is None or notebook.holds(*written_down)
        _print_each(problems)
        if problems:
            raise RecordError(
                f"{_count(problems)} in a notebook of {_records(count)}; restore a backup of it."
            )
        if not known:
            raise RecordError(
                f"The chain no longer holds {arguments.end}: what was sealed until then was "
                "changed or left out, or this is another notebook."
            )
        print(f"{_records(count)}, everything as it was filed")
        if end.late:
            day = _day(end.late_unix_ms)
            print(
                f"  {end.late} entries are older than the seals, which vouch for them since {day}"
            )
        print(f"The chain ends with {end.number}:{end.hash}")
        print("  written down elsewhere and given to --end later, it proves that nothing went")
        return 0
    if arguments.file is None:
        what = "folder" if arguments.action == "export" else "file"
        raise SnapcurveError(
            f"Name the {what}: snapcurve notebook {arguments.action} {what.upper()}."
        )
    if arguments.action == "export":
        return _export(arguments)
    if arguments.action == "backup":
        from snapcurve.commands.output_files import BACKUP

        options.output(arguments, arguments.file, BACKUP)
        problems = backups.backup(
            str(arguments.file), arguments.notebook, replace=arguments.replace
        )
        if problems:
            _print_each(problems)
            raise RecordError(
                f"Copied to {arguments.file} as it is, with {_count(problems)}: keep older "
                "backups too; what can be read of it is restored with --damaged."
            )
        print(f"Copied to {arguments.file}.")
        return 0
    restored = backups.restore(str(arguments.file), arguments.notebook, damaged=arguments.damaged)
    _print_each(restored.problems)
    print(
        "Restored"
        + (f" as it is, with {_count(restored.problems)}" if restored.problems else "")
        + (f"; the notebook that was there is now {restored.aside}" if restored.aside else "")
        + "."
    )
    return 0


def _export(arguments: argparse.Namespace) -> int:
    """Tables and document of every batch, a cut one once; what was started by mistake is none."""
    from snapcurve.analysis.filed_batch import judged_batches
    from snapcurve.commands.output_files import EXPORT
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.records import Search
    from snapcurve.report import export
    from snapcurve.shown.plain_text import json_text
    from snapcurve.shown.units import PLAIN
    from snapcurve.shown.whole_files import write_whole

    folder = arguments.file
    with open_notebook(arguments.notebook) as notebook:
        rows = notebook.search(Search(rehearsals=arguments.rehearsals))
        batches = judged_batches(notebook, rows, PLAIN)
        bench, end = notebook.bench_entries(), notebook.chain_end()
    # a byte order mark, or spreadsheets take UTF-8 for another code
    files = {
        name: text.encode("utf-8-sig") for name, text in export.tables(batches, bench).items()
    }
    document = export.document(batches, bench, end)
    files["notebook.json"] = (json_text(document) + "\n").encode()
    for name in files:
        options.output(arguments, folder / name, EXPORT)
    with file_errors(f"write an export into {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        write_whole(folder / name, data, "export")
        print(folder / name)
    return 0


def _print_each(problems: Sequence[str]) -> None:
    for problem in problems:
        print(problem, file=sys.stderr)


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"


def _count(problems: Sequence[str]) -> str:
    return "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
