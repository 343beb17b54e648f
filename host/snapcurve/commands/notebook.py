"""snapcurve notebook: check it, copy it, bring a copy back, hand it to other programs."""

import argparse
import codecs
from contextlib import ExitStack
from pathlib import Path

from snapcurve.commands import options
from snapcurve.commands.notebook_check import count, print_each
from snapcurve.errors import RecordError, SnapcurveError, file_errors


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("action", choices=("check", "backup", "restore", "export", "roles"))
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        help="the copy, or the folder of an export",
    )
    parser.add_argument(
        "--sheet",
        action="append",
        default=[],
        metavar="TEXT|FILE",
        help="for check: compare with a sheet, label or backup of this notebook: its file, or "
        "what stands on it, NUMBER:HASH; also several",
    )
    parser.add_argument(
        "--end", metavar="NUMBER:HASH", help="for check: an end of the chain written down once"
    )
    parser.add_argument(
        "--accept",
        action="store_true",
        help="for check: have the boards take the chain as it is now, after an older backup was "
        "restored",
    )
    parser.add_argument(
        "--damaged", action="store_true", help="for restore: take a damaged backup as it is"
    )
    options.rehearsals(parser)
    options.replace(parser)
    options.port(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Do it, and say what was found."""
    from snapcurve.notebook import backups

    if arguments.action == "check":
        from snapcurve.commands.notebook_check import check

        return check(arguments)
    if arguments.action == "roles":
        from snapcurve.notebook.postgresql import roles_sql

        print(roles_sql(), end="")
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
            print_each(problems)
            raise RecordError(
                f"Copied to {arguments.file} as it is, with {count(problems)}: keep older "
                "backups too; what can be read of it is restored with --damaged."
            )
        from snapcurve.notebook import open_notebook

        with open_notebook(str(arguments.file)) as copy:
            end = copy.chain_end()
        print(f"Copied to {arguments.file}; its chain ends with {end.number}:{end.hash}.")
        return 0
    restored = backups.restore(str(arguments.file), arguments.notebook, damaged=arguments.damaged)
    print_each(restored.problems)
    print(
        "Restored"
        + (f" as it is, with {count(restored.problems)}" if restored.problems else "")
        + (f"; the notebook that was there is now {restored.aside}" if restored.aside else "")
        + "."
    )
    return 0


def _export(arguments: argparse.Namespace) -> int:
    """Tables and document of every batch, a cut one once; what was started by mistake is none."""
    from snapcurve.analysis.filed_batch import judged_one_by_one
    from snapcurve.commands.output_files import EXPORT
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.records import Search
    from snapcurve.report.export import DOCUMENT, TABLES, Export
    from snapcurve.shown.progress import Progress
    from snapcurve.shown.units import PLAIN
    from snapcurve.shown.whole_files import writing_whole

    folder, names = arguments.file, (*TABLES, DOCUMENT)
    for name in names:
        options.output(arguments, folder / name, EXPORT)
    unreadable: list[str] = []
    with (
        file_errors(f"write an export into {folder}"),
        open_notebook(arguments.notebook) as notebook,
        ExitStack() as stack,
    ):
        folder.mkdir(parents=True, exist_ok=True)
        files = {name: stack.enter_context(writing_whole(folder / name)) for name in names}
        for name in TABLES:  # or spreadsheets take UTF-8 for another code
            files[name].write(codecs.BOM_UTF8)

        def write(name: str, text: str) -> None:
            files[name].write(text.encode())

        export = Export(write, notebook.chain_end())
        rows = notebook.search(Search(rehearsals=arguments.rehearsals))
        judged = judged_one_by_one(notebook, rows, PLAIN, unreadable.append)
        for one in Progress("writing batches", len(rows)).over(judged):
            try:
                export.add(one)
            except (TypeError, ValueError, LookupError):
                if not one.found.not_as_filed:
                    raise
                unreadable.append(f"{one.found.not_as_filed[0][:-1]}, and cannot be read.")
        export.finish(notebook.bench_entries())
    for name in names:
        print(folder / name)
    print_each(unreadable)
    if unreadable:
        raise RecordError(
            f"Of {len(rows)} batches {len(unreadable)} could not be read and were left out:"
            " restore a backup of the notebook."
        )
    return 0
