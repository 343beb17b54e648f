"""The lines a command prints for a terminal, as HTML that fits any width. Pure.

Commands break their lines at a fixed width; here broken lines are joined again. A word and two
blanks begin a row with a head; ``- ``, ``! `` and numbers begin points.
"""

import re
from collections.abc import Sequence

from snapcurve.page.html import text

_HEADED = re.compile(r" {0,4}(\S[^ ]*) {2,}(\S.*)")
_POINT = re.compile(r"\s*(-|!|\d+\.) +(\S.*)")
_BROKEN_AT = 72  # a line at least so long was broken by its width, not by its end
_DEEP = " " * 8  # what begins so far in goes on with the line before


def prose(lines: Sequence[str]) -> str:
    """Paragraphs, points and headed rows."""
    blocks: list[tuple[str, str, list[str]]] = []  # kind, head, texts
    long = False
    for line in lines:
        stripped = line.strip()
        headed, point = _HEADED.fullmatch(line), _POINT.fullmatch(line)
        goes_on = bool(blocks and blocks[-1][2]) and (long or line.startswith(_DEEP))
        if not stripped:
            blocks.append(("", "", []))
        elif point and goes_on and blocks[-1][0] == "row":
            blocks[-1][2].append(_pointed(point))
        elif point:
            blocks.append(("point", point[1], [point[2]]))
        elif headed and not line.startswith(_DEEP):
            first = _POINT.fullmatch(headed[2])
            blocks.append(("row", headed[1], [headed[2] if first is None else _pointed(first)]))
        elif goes_on:
            blocks[-1][2][-1] += f" {stripped}"
        else:
            blocks.append(("words", "", [stripped]))
        long = len(line) >= _BROKEN_AT
    return "".join(_block(*one) for one in blocks)


def _pointed(point: "re.Match[str]") -> str:
    """A numbered point within a row, with its number."""
    return f"{point[1]} {point[2]}"


def _block(kind: str, head: str, texts: Sequence[str]) -> str:
    if not texts:
        return ""
    body = "<br>".join(map(text, texts))
    if kind == "row":
        return f'<div class="headed"><strong>{text(head)}</strong><p>{body}</p></div>'
    if kind == "point":
        mark = "" if head == "-" else f"<strong>{text(head)}</strong> "
        return f'<p class="point">{mark}{body}</p>'
    return f"<p>{body}</p>"
