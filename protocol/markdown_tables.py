"""Tables of a README, made from data: each stands between ``<!-- table NAME -->`` and
``<!-- end NAME -->``."""

from collections.abc import Mapping, Sequence


class MarkerError(Exception):
    """A README lacks a table's place, or has one too many."""


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """The lines of a table."""
    lines = [_row(head), "|" + " --- |" * len(head)]
    lines.extend(map(_row, rows))
    return "\n".join(lines)


def filled(text: str, tables: Mapping[str, str]) -> str:
    """``text`` with every table replaced. Raises MarkerError."""
    for name, lines in tables.items():
        start, end = f"<!-- table {name} -->", f"<!-- end {name} -->"
        if text.count(start) != 1 or text.count(end) != 1:
            raise MarkerError(
                f"README.md: the markers of table {name} must be there exactly once."
            )
        before, _, rest = text.partition(start)
        _, _, after = rest.partition(end)
        text = "\n".join([before + start, lines, end + after])
    return text
