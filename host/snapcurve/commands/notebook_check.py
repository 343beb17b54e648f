"""snapcurve notebook check: what was altered since it was filed, and who vouches for that."""

import argparse
import re
import sqlite3
import sys
from collections.abc import Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.errors import LinkError, RecordError, SnapcurveError, file_errors
from snapcurve.shown.progress import Progress

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook
    from snapcurve.notebook.witnesses import Witness


def check(arguments: argparse.Namespace) -> int:
    """Check, and say what was found and what vouches for it."""
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.witnesses import vouched_words

    witnesses = [one for given in arguments.sheet for one in _given(given)]
    written_down = None if arguments.end is None else _written_down(arguments.end)
    with open_notebook(arguments.notebook) as notebook:
        progress = Progress("checking seals")
        problems = notebook.check(progress.at)
        remarks = [*notebook.index_troubles(), *notebook.clock_steps()]
        progress.end()
        records = len(notebook.batches(mistakes=True))
        end = notebook.chain_end()
        known = bool(problems) or written_down is None or notebook.holds(*written_down)
        of_boards, unasked = _of_boards(arguments, notebook)
        vouched = notebook.vouched([*witnesses, *of_boards])
    problems += vouched.against
    print_each([*problems, *(f"! {one}" for one in [*remarks, *unasked])])
    if problems:
        raise RecordError(
            f"{count(problems)} in a notebook of {_records(records)}; restore a backup of it."
        )
    if not known:
        raise RecordError(
            f"The chain no longer holds {arguments.end}: what was sealed until then was "
            "changed or left out, or this is another notebook."
        )
    print(f"{_records(records)}, everything as it was filed")
    if end.late:
        day = datetime.fromtimestamp((end.late_unix_ms or 0) / 1000).date().isoformat()
        print(f"  {end.late} entries are older than the seals, which vouch for them since {day}")
    print(f"The chain ends with {end.number}:{end.hash}")
    print(f"  {vouched_words(vouched, end)}")
    return 0


def print_each(problems: Sequence[str]) -> None:
    """Each on a line of its own, to the stream of errors."""
    for problem in problems:
        print(problem, file=sys.stderr)


def count(problems: Sequence[str]) -> str:
    """How many."""
    return "1 problem" if len(problems) == 1 else f"{len(problems)} problems"


def _records(number: int) -> str:
    return "1 record" if number == 1 else f"{number} records"


def _written_down(text: str) -> tuple[int, str]:
    found = re.fullmatch(r"([0-9]{1,9}):([0-9a-f]{32}|[0-9a-f]{64})", text.strip().lower())
    if found is None:
        raise SnapcurveError(
            "--end is what check printed: a number, a colon and 64 digits from 0 to f."
        )
    return int(found[1]), found[2]


def _given(given: str) -> "list[Witness]":
    """What stands in a text, or in the file of that name."""
    from snapcurve.notebook.witnesses import in_bytes, in_text

    found = in_text(given, "what was written down")
    if found:
        return found
    path = Path(given)
    if not path.suffix:
        raise SnapcurveError(
            f"There is no end of a chain in {given!r}: give a file, or number, colon and digits as"
            " they stand on the sheet."
        )
    with file_errors(f"read {path}"):
        raw = path.read_bytes()
    if raw.startswith(b"SQLite format 3\0"):
        return [_of_backup(path)]
    found = in_bytes(raw, str(path)) or in_text(raw.decode("utf-8", "ignore"), str(path))
    if not found:
        raise SnapcurveError(
            f"{path} says nothing of a chain: give a sheet or label that snapcurve wrote, a"
            " backup, or a text with what stands on one."
        )
    return found


def _of_backup(path: Path) -> "Witness":
    """The end of a backup's own chain; it is only read."""
    from snapcurve.notebook.witnesses import Witness

    query = "SELECT number, hash FROM seals ORDER BY number DESC LIMIT 1"
    try:
        address = path.resolve().as_uri() + "?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as connection:
            row = connection.execute(query).fetchone()
    except sqlite3.Error as error:
        raise RecordError(f"The backup {path} cannot be read: give another one.") from error
    if row is None:
        raise SnapcurveError(f"The backup {path} holds nothing yet: give another one.")
    return Witness(f"the backup {path}", int(row[0]), str(row[1]))


def _of_boards(
    arguments: argparse.Namespace, notebook: "Notebook"
) -> "tuple[list[Witness], list[str]]":
    """What the boards that are attached can say, or the one that was named; and which could not
    be asked."""
    from snapcurve.board.ports import attached
    from snapcurve.collecting import chain_ends
    from snapcurve.commands.chosen_board import open_board

    named = arguments.port
    found: list[Witness] = []
    unasked = []
    for port in [named] if named else [entry.port for entry in attached()]:
        try:
            with open_board(port) as board:
                if arguments.accept:
                    chain_ends.tell(board, notebook, whatever=True)
                found += chain_ends.said(board, notebook)
        except LinkError as error:
            if named:
                raise
            unasked.append(f"The board on {port} could not be asked. {error}")
    return found, unasked
