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
    from snapcurve.link.opening import open_board
    from snapcurve.notebook import open_notebook

    filed: list[dict[str, Any]] = []
    with open_notebook(arguments.notebook) as notebook, open_board(arguments.port) as board:
        board.set_clock(time.time())
        rehearsal = (arguments.port or "").startswith("rehearsal")
        rows = board.curves()
        for row in rows:
            if row.state != "closed":
                print(
                    f"curve {row.curve} is still being recorded: collect it when it has ended",
                    file=sys.stderr,
                )
                continue
            code = _collect(board, row, notebook, rehearsal)
            if code:
                filed.append({"curve": row.curve, "batch": code, "bytes": row.size})
                if not arguments.json:
                    print(f"curve {row.curve}: batch {code} ({row.size} bytes)")
            if not arguments.keep:
                board.erase(row)
    if arguments.json:
        options.print_json(filed)
    elif not filed:
        print("Nothing new on the board.")
    return 0


def _collect(board: Any, row: Any, notebook: Any, rehearsal: bool) -> str | None:
    """File the curve and return the batch's code; None if it was there already."""
    from snapcurve.curves import decode
    from snapcurve.filing import new_batch
    from snapcurve.link.download import download

    greeting = board.greeting
    if notebook.has_curve(greeting.board_id, row.generation, row.curve, row.crc):
        return None
    raw = download(board, row, progress=_progress if sys.stderr.isatty() else None)
    new = new_batch(decode(raw), raw, row, greeting.board, rehearsal=rehearsal)
    return str(notebook.file_batch(new).code)


def _progress(got: int, total: int) -> None:
    end = "\n" if got >= total else ""
    print(f"\r  {got * 100 // max(1, total):3d} % of {total} bytes", end=end, file=sys.stderr)
