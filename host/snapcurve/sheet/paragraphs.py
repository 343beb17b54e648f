"""Text into lines that are no wider than their column, by the typeface's own widths."""

import math
from collections.abc import Callable

from snapcurve.sheet.letters import pieces

Width = Callable[[str], float]  # of a text, in points


def lines_of(text: str, most: float, width: Width) -> list[str]:
    """``text`` in lines of at most ``most`` points; at least one line.

    Breaks between words, and within a word that is wider than a line.
    """
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if width(longer) <= most:
                line = longer
                continue
            if line:
                lines.append(line)
            *full, line = _torn(word, most, width)
            lines += full
        lines.append(line)
    return lines


def _torn(word: str, most: float, width: Width) -> list[str]:
    if width(word) <= most:
        return [word]
    rest, lines = pieces(word), []
    while rest:
        count = _fitting(rest, most, width)
        lines.append("".join(rest[:count]))
        rest = rest[count:]
    return lines


def _fitting(parts: list[str], most: float, width: Width) -> int:
    """How many of ``parts`` fit, at least one: found by halving, as texts may be very long."""
    low, high = 1, 1
    while high < len(parts) and width("".join(parts[:high])) <= most:
        low, high = high, min(high * 2, len(parts))
    if high == len(parts) and width("".join(parts)) <= most:
        return high
    while high - low > 1:
        middle = math.floor((low + high) / 2)
        if width("".join(parts[:middle])) <= most:
            low = middle
        else:
            high = middle
    return low


def cut(text: str, most: float, width: Width) -> str:
    """``text`` on one line of at most ``most`` points, with an ellipsis if it was longer."""
    text = text.replace("\n", " ")
    if width(text) <= most:
        return text
    parts = pieces(text)
    kept = _fitting(parts, most - width("…"), width)
    return "".join(parts[:kept]).rstrip() + "…"
