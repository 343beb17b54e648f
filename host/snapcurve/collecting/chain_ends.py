"""Boards as witnesses of the notebook: each is told where the chain ends when it was collected
from, and asked when the notebook is checked."""

from snapcurve.board.client import Board, ChainEndRow
from snapcurve.board.connection import reconnect
from snapcurve.errors import LinkError
from snapcurve.notebook.store import Notebook
from snapcurve.notebook.witnesses import DIGITS, Witness


def tell(board: Board, notebook: Notebook, *, whatever: bool = False) -> str | None:
    """Have the board keep where the chain ends now.

    A board that knows an end of this notebook which the chain does not hold any more keeps it,
    unless ``whatever``: that is then said, in a sentence.
    """
    key, end = notebook.notebook_number(), notebook.chain_end()
    if not end.number:
        return None
    if not whatever:
        known = [_witness(board, row) for row in board.chain_ends() if row.notebook == key]
        if against := notebook.vouched(known).against:
            return f"{against[0]} Run 'snapcurve notebook check'."
    board.put_chain_end(ChainEndRow(key, end.number, end.hash[:DIGITS]))
    return None


def said(board: Board, notebook: Notebook) -> list[Witness]:
    """What a board can say of this notebook: the end it was told by it, else all that it was
    told, for the notebook may be another than it says."""
    rows = board.chain_ends()
    own = [row for row in rows if row.notebook == notebook.notebook_number()]
    return [_witness(board, row) for row in own or rows]


def tell_or_say(board: Board, notebook: Notebook, port: str | None) -> str | None:
    """As `tell`, once more if the line is lost and comes back; a board that cannot be told is no
    reason not to collect from it."""
    try:
        return tell(board, notebook)
    except LinkError as lost:
        try:
            if reconnect(board, port):
                return tell(board, notebook)
        except LinkError:
            pass
        return f"The board was not told where the notebook's chain ends. {lost}"


def _witness(board: Board, row: ChainEndRow) -> Witness:
    greeting = board.greeting
    return Witness(f"board {greeting.board} {greeting.board_id:08x}", row.number, row.hash)
