"""Tables, sentences and progress on a terminal, by the width in which it shows each character.

wcwidth does the counting: 25 ms to import and nothing behind it, against 30 to 45 ms and a
syntax highlighter for rich, which also breaks lines that go into a pipe, and 50 to 70 ms for
tabulate. Import this module where something is printed.
"""

import re
import shutil
import sys
from collections.abc import Collection, Iterable, Sequence
from itertools import zip_longest
from typing import TextIO

from wcwidth import clip, ljust, rjust, width, wrap

INDENT = " " * 10
_APART = "  "
_LINE_WIDTH = 92
_FIGURE = re.compile(r"(\d) (°C|°F|K|g|kg|oz|s|min|W|%)")


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


def row(word: str, text: str) -> str:
    """A line with its word in front; without one it goes on with the line before."""
    return ljust(word, len(INDENT)) + text


def listed(title: str, sentences: Collection[str]) -> list[str]:
    """A title and its sentences as items, after an empty line; nothing without sentences."""
    return ["", f"{title}:", *(f"  - {one}" for one in sentences)] if sentences else []


def wrapped(lines: list[str], under: str = INDENT) -> list[str]:
    """Long lines broken; what follows is set in by `under`, or under the text of an item."""
    broken = []
    for line in lines:
        hang = "    " if line.startswith("  - ") else under
        tied = _FIGURE.sub("\\1\u00a0\\2", line)  # no unit on a line of its own
        parts = wrap(tied, _LINE_WIDTH, subsequent_indent=hang) if line else [""]
        broken += [part.replace("\u00a0", " ") for part in parts]
    return broken


def redraw(line: str, file: TextIO | None = None, *, last: bool = False) -> None:
    """Show ``line`` in place of the one before, cut so that it stays one line; ``last`` ends it.

    ``file`` is a terminal, standard output if None is given.
    """
    room = shutil.get_terminal_size().columns - 1
    end = "\n" if last else ""
    print(f"\r\x1b[K{clip(line, 0, room)}", end=end, file=file or sys.stdout, flush=True)
