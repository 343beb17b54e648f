"""The lines of the acceptance, and the table they make."""

from dataclasses import dataclass

OK = "ok"
FAILED = "FAILED"
NOT_ON_A_DESK = "not on a desk board"
NEEDS_A_TAPE = "needs a tape"
NEEDS_A_PERSON = "for a person"


@dataclass(frozen=True)
class Line:
    """One thing that was asked of the board; verdicts other than OK and FAILED say why this
    bench cannot show it."""

    name: str
    expected: str
    found: str
    verdict: str


def judged(name: str, expected: str, found: str, good: bool) -> Line:
    """A line this bench can show."""
    return Line(name, expected, found, OK if good else FAILED)


def table(lines: list[Line]) -> str:
    """A Markdown table to paste, and the count."""
    rows = [("line", "expected", "found", "verdict")]
    rows += [(line.name, line.expected, line.found, line.verdict) for line in lines]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    text = ["| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |"
            for row in rows]  # fmt: skip
    text.insert(1, "|" + "|".join("-" * (width + 2) for width in widths) + "|")
    failed = sum(line.verdict == FAILED for line in lines)
    shown = failed + sum(line.verdict == OK for line in lines)
    text.append("")
    text.append(f"{shown - failed} of {shown} lines ok, {len(lines) - shown} not shown here")
    for verdict in (NOT_ON_A_DESK, NEEDS_A_TAPE, NEEDS_A_PERSON):
        names = [line.name for line in lines if line.verdict == verdict]
        if names:
            text.append(f"- {verdict}: {', '.join(names)}")
    return "\n".join(text)
