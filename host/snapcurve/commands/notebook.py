"""snapcurve notebook: check it, copy it, bring a copy back."""

import argparse
import sys
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import RecordError, SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("action", choices=("check", "backup", "restore"))
    parser.add_argument("file", nargs="?", type=Path, help="the copy, for backup and restore")
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Do it, and say what was found."""
    from snapcurve import notebook as notebooks

    if arguments.action == "check":
        with notebooks.open_notebook(arguments.notebook) as notebook:
            problems = notebook.check()
            count = len(notebook.batches())
        for problem in problems:
            print(problem, file=sys.stderr)
        if problems:
            raise RecordError(f"{len(problems)} problems in a notebook of {count} batches")
        print(f"{count} batches, every curve as it was collected")
        return 0
    if arguments.file is None:
        raise SnapcurveError(f"name the file: snapcurve notebook {arguments.action} FILE")
    if arguments.action == "backup":
        with notebooks.open_notebook(arguments.notebook) as notebook:
            notebook.backup(str(arguments.file))
        print(f"copied to {arguments.file}")
        return 0
    aside = notebooks.restore(str(arguments.file), arguments.notebook)
    print("restored" + (f"; the notebook that was there is now {aside}" if aside else ""))
    return 0
