"""Who makes an entry, and the options of commands that add to the notebook."""

import argparse
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def by(parser: argparse.ArgumentParser) -> None:
    """--by"""
    parser.add_argument("--by", metavar="NAME", help="who says so (default: the set operator)")


def who(arguments: argparse.Namespace, settings: Any) -> str:
    """The person who makes the entry; SnapcurveError if nobody is named."""
    name = str(arguments.by if arguments.by is not None else settings.operator)
    if not name.strip():
        raise SnapcurveError(
            "who says so? give --by NAME, or set it once: snapcurve settings set operator NAME"
        )
    return name


def add_entry(arguments: argparse.Namespace, kind: str, payload: Any, why: str = "") -> int:
    """File one entry on ``arguments.batch`` and show it."""
    from snapcurve.notebook import NewEntry, open_notebook
    from snapcurve.notebook.allergens import of
    from snapcurve.notebook.describing import allergen_words, entry_line
    from snapcurve.shown.settings_file import load

    settings = load()
    new = NewEntry(kind, who(arguments, settings), payload, why)
    with open_notebook(arguments.notebook) as notebook:
        entry = notebook.add_entry(new, arguments.batch)
        print(f"{entry.code}: {entry_line(entry, settings.style)}")
        if kind == "lot" or payload.get("field") == "allergens":
            found = notebook.as_amended(str(entry.code))
            print(f"{entry.code}: allergens {allergen_words(of(found))}")
    return 0


def batch(parser: argparse.ArgumentParser) -> None:
    """BATCH --by --notebook"""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    by(parser)
    options.notebook(parser)
