"""Texts made harmless for where they are shown: a terminal, a table.

What a board says goes through ``visible`` where it comes in (board/structs.py), and so does every
sentence that the command line ends with; what people wrote is kept as it is and made harmless
where it is shown.
"""

import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from snapcurve.errors import hidden

_LONGEST_SHORT = 48
_FIRST_STRONG, _POP = "\u2068", "\u2069"  # Unicode bidirectional algorithm, UAX #9
_CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def visible(text: str) -> str:
    """`text` in full, with every character that would move the cursor, end the line or turn
    the order of letters shown as its code. What it made it leaves as it is."""
    return "".join(char if char.isprintable() else _code(char) for char in text)


def on_one_line(text: str) -> str:
    """What `visible` makes of `text`, and right-to-left words are kept from turning what stands
    beside them."""
    shown = visible(text)
    if any(unicodedata.bidirectional(char) in ("R", "AL") for char in shown):
        return _FIRST_STRONG + shown + _POP
    return shown


def short(text: str) -> str:
    """What `visible` makes of `text`, cut to a length that a sentence can carry."""
    if len(text) > _LONGEST_SHORT:
        # hidden first: the @ that shows a password to be one may be cut off
        text = hidden(text)[: _LONGEST_SHORT - 1] + "…"
    return visible(text)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ " (did you mean …?)" with the closest of `known`, or nothing if none is close."""
    from difflib import get_close_matches

    close = get_close_matches(word.lower(), list(known), n=1)
    return f" (did you mean {short(close[0])}?)" if close else ""


def for_paper(text: str) -> str:
    """What `on_one_line` made, for a page that puts right-to-left words in order itself."""
    return text.replace(_FIRST_STRONG, "").replace(_POP, "")


def cell(text: str) -> str:
    """`text` for a cell of a table: what a spreadsheet would take for a formula gets an
    apostrophe before it. Full-width signs count, and so does a sign after spaces. Control
    characters other than tabs and ends of lines are shown as their codes."""
    text = _CONTROLS.sub(lambda found: _code(found[0]), text)
    begins = text.lstrip(" \u00a0\ufeff\u200b\u200e\u200f")
    return "'" + text if begins.startswith(_FORMULA) else text


def json_text(value: Any, indent: int | None = 2) -> str:
    """`value` as JSON that holds every text as it is, and of which a terminal takes no
    character for more than a character."""
    text = json.dumps(value, ensure_ascii=False, indent=indent)
    if text.replace("\n", "").isprintable():  # as nearly always, and much sooner
        return text
    return "".join(
        char if char.isprintable() or char == "\n" else json.dumps(char)[1:-1] for char in text
    )


def _code(char: str) -> str:
    known = {"\n": "\\n", "\r": "\\r", "\t": "\\t", "\u00a0": " "}
    return known.get(char) or (f"\\x{ord(char):02x}" if ord(char) < 256 else f"\\u{ord(char):04x}")
