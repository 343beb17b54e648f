"""Where in a couverture file something stands, and how a sentence shows it."""

import re
import tomllib
from bisect import bisect_left
from collections.abc import Iterable

from snapcurve.errors import hidden

# What tomllib raises: its own error is a ValueError, a number of thousands of digits is a
# plain one, and brackets nested without end exhaust the stack.
TOML_ERRORS = (ValueError, RecursionError)

_LONGEST_SHOWN = 48


def printable(text: str) -> str:
    """`text` in full, without what would break a sentence or upset a terminal."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def one_line(text: str) -> str:
    """`text` printable and cut to a length that a sentence can carry."""
    if len(text) > _LONGEST_SHOWN:
        # hidden first: the @ that shows a password to be one may be cut off
        text = hidden(text)[: _LONGEST_SHOWN - 1] + "…"
    return printable(text)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ " (did you mean …?)" with the closest of `known`, or nothing if none is close."""
    from difflib import get_close_matches

    close = get_close_matches(word.lower(), list(known), n=1)
    return f" (did you mean {one_line(close[0])}?)" if close else ""


def shown(value: object) -> str:
    """A TOML value as a sentence shows it."""
    match value:
        case bool():
            text = "true" if value else "false"
        case str():
            text = f'the text "{one_line(value)}"'
        case int() if value.bit_length() > 64:
            text = "a number of very many digits"  # str() refuses thousands of them
        case int() | float():
            text = f"{value}"
        case list():
            text = f"a list of {len(value)}"
        case dict():
            text = "a table"
        case _:
            text = f"the date or time {value}"
    return text


def line_of(text: str, key: str) -> int | None:
    """The line, from 1, on which the top-level `key` is set in the valid TOML `text`.

    tomllib keeps no lines, so the text is searched. A line counts if all before it is
    complete TOML: one within a longer text in quotes is none. None if there is no such line,
    as with a key spelt with escapes.
    """
    name = re.escape(key)
    start = re.compile(rf"^[ \t]*\[{{0,2}}[ \t]*([\"']?){name}\1[ \t]*[=.\]]", re.MULTILINE)
    for found in start.finditer(text):
        before = text[: found.start()]
        try:
            tomllib.loads(before)
        except TOML_ERRORS:
            continue
        return before.count("\n") + 1
    return None


def syntax_fault(error: BaseException, text: str) -> tuple[int, str]:
    """The line, from 1, at which `error` arose in `text`, and the reason in words."""
    message = str(error)
    reason = re.sub(r"\s*\(at .*\)$", "", message, flags=re.DOTALL)
    if found := re.search(r"\(at line (\d+),", message):
        return int(found[1]), reason
    if "(at end of document)" in message:
        return text.rstrip("\n").count("\n") + 1, reason
    if isinstance(error, RecursionError):
        reason = "brackets are nested too deeply"
    else:
        reason = "a number has too many digits"
    # These two come without a line: it is the last of the fewest lines that raise them.
    lines = text.split("\n")

    def raises(count: int) -> bool:
        try:
            tomllib.loads("\n".join(lines[:count]))
        except TOML_ERRORS as raised:
            return not isinstance(raised, tomllib.TOMLDecodeError)
        return False

    return bisect_left(range(len(lines)), True, key=raises), reason
