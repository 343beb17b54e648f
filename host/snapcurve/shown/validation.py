"""Data that others wrote, checked by a schema; what is wrong becomes one sentence.

The schemas are voluptuous'. Beyond what the tool has imported anyway it costs 10 ms; msgspec
takes 20, pydantic 55, cattrs with attrs 50 and marshmallow 80. It is all Python (msgspec has no
wheel for 32-bit ARM), says by a path where a fault lies, and lets a check bring its own words, so
that none of the library's reach a person.
"""

import math
import re
import tomllib
from collections.abc import Callable, Mapping
from typing import Any

from voluptuous import Invalid, MultipleInvalid, Schema

from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import did_you_mean, short

# What tomllib raises: its own error is a ValueError, a number of thousands of digits is a
# plain one, and brackets nested without end exhaust the stack.
_TOML_ERRORS = (ValueError, RecursionError)


class Fault(Invalid):
    """What is wrong with a value; without a ``remedy`` the example of its field is one.

    ``field`` is for a check of several fields at once: the one to put right.
    """

    def __init__(self, cause: str, remedy: str = "", field: str = "") -> None:
        super().__init__(cause, [field] if field else None)
        self.remedy = remedy


def checked(
    schema: Schema,
    values: Mapping[str, Any],
    examples: Mapping[str, str],
    place: str | Callable[[str], str],
) -> Any:
    """What ``schema`` makes of ``values``.

    ``examples`` shows each known field done right; ``place`` says where they stand ("a.csv, line
    3"), or where one of them does. SnapcurveError with place, field, cause and remedy: first for
    a field that there is not, then for one that is missing, then in the order of ``examples``.
    """
    try:
        return schema(values)
    except MultipleInvalid as error:
        found = error.errors
    order = list(examples)

    def rank(fault: Invalid) -> tuple[bool, bool, int]:
        field = str(fault.path[0])
        known = field in examples
        return known, field in values, order.index(field) if known else 0

    fault = min(found, key=rank)
    field = str(fault.path[0])
    if field not in examples:
        cause = f"there is no such field{did_you_mean(field, examples)}"
        remedy = f"known are {', '.join(examples)}"
    elif field not in values:
        cause, remedy = "this field is missing", f"add a line such as {examples[field]}"
    else:
        cause, remedy = (
            fault.error_message,
            getattr(fault, "remedy", "") or f"write {examples[field]}",
        )
    where = place if isinstance(place, str) else place(field)
    raise SnapcurveError(f"{where}, {short(field)}: {cause}; {remedy}.")


def checked_toml(schema: Schema, text: str, file: str, examples: Mapping[str, str]) -> Any:
    """What ``schema`` makes of the TOML ``text`` of ``file``; SnapcurveError as in checked, and
    with line and field for what is no TOML."""
    try:
        values = tomllib.loads(text)
    except _TOML_ERRORS as error:
        raise _syntax_refusal(error, text, file, examples) from error

    def place(field: str) -> str:
        line = _line_of(text, field)
        return f"{file}, line {line}" if line else file

    return checked(schema, values, examples, place)


# --- checks ------------------------------------------------------------------------------


def text_value(value: object) -> str:
    """A text without blanks at its ends, of characters that can be printed."""
    if not isinstance(value, str):
        raise Fault(f"{value_words(value)} is not a text in quotation marks")
    text = value.strip()
    for character in text:
        if not character.isprintable():
            raise Fault(
                f"it holds the character U+{ord(character):04X}, which cannot be printed",
                "remove it",
            )
    return text


def number_value(value: object) -> float:
    """A finite number, but infinite for an integer that no float can hold."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Fault(f"{value_words(value)} is not a number")
    if isinstance(value, float) and not math.isfinite(value):
        raise Fault(f"{value_words(value)} is not a finite number")
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def one_of(choices: tuple[str, ...]) -> Callable[[object], str]:
    """One of ``choices``, in capitals or not; temperatures may have their sign for degrees."""
    *others, last = (f'"{choice}"' for choice in choices)

    def choice_value(value: object) -> str:
        text = text_value(value)
        for choice in choices:
            if text.lower().removeprefix("°") == choice.lower():
                return choice
        raise Fault(f'"{short(text)}" is no choice', f"write {', '.join(others)} or {last}")

    return choice_value


def value_words(value: object) -> str:
    """A TOML value as a sentence shows it."""
    match value:
        case bool():
            text = "true" if value else "false"
        case str():
            text = f'the text "{short(value)}"'
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


# --- where in a TOML file ----------------------------------------------------------------


def _line_of(text: str, key: str) -> int | None:
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
        except _TOML_ERRORS:
            continue
        return before.count("\n") + 1
    return None


def _syntax_refusal(
    error: BaseException, text: str, file: str, examples: Mapping[str, str]
) -> SnapcurveError:
    place, example = file, next(iter(examples.values()))
    remedy = f"write it like this: {example}"
    reason = re.sub(r"\s*\(at .*\)$", "", str(error), flags=re.DOTALL)
    lines = text.rstrip("\n").split("\n")
    if isinstance(error, RecursionError):
        reason = "brackets are nested too deeply"
    elif not isinstance(error, tomllib.TOMLDecodeError):
        reason = "a number has too many digits"
    else:
        found = re.search(r"\(at line (\d+),", str(error))
        number = int(found[1]) if found else len(lines)
        place += f", line {number}"
        if key := re.match(r"\s*([A-Za-z_-]+)\s*=", lines[number - 1]):
            place += f", {short(key[1])}"
            remedy = f"write it like this: {examples.get(key[1], example)}"
        if comma := re.search(r"=\s*(\d+),(\d+)\s*(#.*)?$", lines[number - 1]):
            remedy = f"write the decimals after a point, {short(f'{comma[1]}.{comma[2]}')}"
    return SnapcurveError(f"{place}: this is not TOML ({short(reason)}); {remedy}.")
