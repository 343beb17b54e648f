"""snapcurve collect: new curves from the board into the notebook."""

import argparse
import sys
import time
from typing import Any

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.notebook(parser)
    parser.add_argument(
        "--keep", action="store_true", help="leave the curves on the board after filing them"
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Download what is new, file it, and only then let the board erase it."""
    from snapcurve.collecting import Collection
    from snapcurve.link.opening import open_board
    from snapcurve.notebook import open_notebook
    from snapcurve.settings import load

    operator = load().operator or None
    filed: list[dict[str, Any]] = []

    def tell(row: Any, code: str) -> None:
        filed.append({"curve": row.curve, "batch": code, "bytes": row.size})
        if not arguments.json:
            print(f"curve {row.curve}: batch {code} ({row.size} bytes)", flush=True)

    with open_notebook(arguments.notebook) as notebook, open_board(arguments.port) as board:
        board.set_clock(time.time())
        collection = Collection(
            board,
            notebook,
            arguments.port,
            tell,
            _progress if sys.stderr.isatty() else None,
            operator,
        )
        collection.run(keep=arguments.keep)
    for curve in collection.recording:
        print(
            f"curve {curve} is still being recorded: collect it when it has ended",
            file=sys.stderr,
        )
    if arguments.json:
        options.print_json(filed)
    elif not filed and not collection.unreadable:
        print("Nothing new on the board.")
    collection.complain()
    return 0


def _progress(got: int, total: int) -> None:
    end = "\n" if got >= total else ""
    print(f"\r  {got * 100 // max(1, total):3d} % of {total} bytes", end=end, file=sys.stderr)
