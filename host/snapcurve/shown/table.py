"""Tables and progress on a terminal, by the width in which it shows each character.

wcwidth does the counting: 25 ms to import and nothing behind it, against 30 to 45 ms and a
syntax highlighter for rich, which also breaks lines that go into a pipe, and 50 to 70 ms for
tabulate. Import this module where something is printed.
"""

import shutil
import sys
from collections.abc import Collection, Iterable, Sequence
from itertools import zip_longest
from typing import TextIO

from wcwidth import clip, ljust, rjust, width

_APART = "  "


def table(rows: Iterable[Sequence[str]], *, right: Collection[int] = (), inset: str = "") -> str:
    """The lines of ``rows``, each column as wide as its widest cell.

    The columns of ``right``, counted from 0, end flush. A row may be short. ``inset`` begins
    each line.
    """
    rows = [*rows]
    widths = [max(map(width, column)) for column in zip_longest(*rows, fillvalue="")]
    lines = (
        _APART.join(
            (rjust if place in right else ljust)(cell, widths[place])
            for place, cell in enumerate(row)
        )
        for row in rows
    )
    return "\n".join((inset + line).rstrip() for line in lines)


def redraw(line: str, file: TextIO | None = None, *, last: bool = False) -> None:
    """Show ``line`` in place of the one before, cut so that it stays one line; ``last`` ends it.

    ``file`` is a terminal, standard output if None is given.
    """
    room = shutil.get_terminal_size().columns - 1
    end = "\n" if last else ""
    print(f"\r\x1b[K{clip(line, 0, room)}", end=end, file=file or sys.stdout, flush=True)
