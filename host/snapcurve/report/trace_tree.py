"""A trace in words: a tree of batches, what was made of them, and what is not known. Pure."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from snapcurve.notebook.codes import parts_of
from snapcurve.notebook.descriptions import (
    NOT_KNOWN,
    allergen_words,
    day_words,
    lot_words,
    made_words,
)
from snapcurve.notebook.records import Lot, TracedBatch
from snapcurve.notebook.tracing import Trace
from snapcurve.notebook.vocabulary import LEFTOVER
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style, local

MADE_HEAD = ("made", "pieces", "mass", "best before", "went to", "of batch")
NOT_NOTED = "not noted"
_MOST_INDENTS = 20


@dataclass(frozen=True)
class Line:
    """A line of the tree; ``batch`` if it is the heading of one."""

    depth: int
    words: str
    batch: TracedBatch | None = None


def forward_lines(trace: Trace, style: Style) -> list[Line]:
    """The batches with it, and below each those that its leftover went into."""
    into: defaultdict[str, list[TracedBatch]] = defaultdict(list)
    for one in reversed(trace.forward):
        for code in one.through:
            into[code].append(one)
    roots = [trace.itself] if trace.itself else list(reversed(trace.forward))
    # itself, or with nothing before it that is in the list
    listed = {one.batch.code for one in trace.batches}
    roots = [one for one in roots if one is trace.itself or not listed.intersection(one.through)]
    direct = [one for one in reversed(trace.forward) if not trace.itself and _has(one, trace)]
    roots += [one for one in direct if one not in roots]
    return _tree(trace, roots, lambda one: into[one.batch.code], style)


def backward_lines(trace: Trace, style: Style) -> list[Line]:
    """The batch, and below it those whose leftover went into it, to the very first."""
    if trace.itself is None:
        return []
    by_code = {parts_of(code): one for one in trace.batches for code in one.records}

    def before(batch: TracedBatch) -> list[TracedBatch]:
        named = (by_code.get(parts_of(lot.lot)) for lot in (*batch.lots, *batch.replaced))
        return list({one.batch.id: one for one in named if one is not None}.values())

    return _tree(trace, [trace.itself], before, style, made=False)


def drawn(lines: Sequence[Line]) -> list[str]:
    """The lines with their branches."""
    found: list[str] = []
    more: set[int] = set()  # depths at which another line follows
    for line in reversed(lines):
        depth = min(line.depth, _MOST_INDENTS)
        branch = ""
        if depth:
            branch = "".join("│  " if at in more else "   " for at in range(1, depth))
            branch += "├─ " if depth in more else "└─ "
        more = {at for at in more if at < depth} | {depth}
        found.append(branch + line.words)
    return found[::-1]


def made_rows(trace: Trace, style: Style) -> list[tuple[str, ...]]:
    """A row of MADE_HEAD for everything that was made of these batches, the oldest first, and
    for each batch of which that is not noted. Leftover that a batch took up is in the tree."""
    rows: list[tuple[str, ...]] = []
    for one in _ahead(trace):
        for made in one.made:
            day = made.best_before
            rows.append(
                (
                    on_one_line(made.name),
                    "" if made.pieces is None else str(made.pieces),
                    "" if made.mass_mg is None else style.mass(made.mass_mg / 1000),
                    "" if day is None else day_words(day, style),
                    on_one_line(made.where) or ("" if made.name == LEFTOVER else NOT_NOTED),
                    one.batch.code,
                )
            )
        if not one.made:
            rows.append((NOT_NOTED, "", "", "", NOT_NOTED, one.batch.code))
    return rows


def not_known(trace: Trace, style: Style) -> list[str]:
    """A sentence for everything that a recall would ask and the notebook does not say."""
    taken, said = _taken(trace), []
    for one in _ahead(trace):
        found = []
        if not one.made:
            found.append("nothing is noted of what was made of it")
        lost = [made.name for made in one.made if not made.where and made.name != LEFTOVER]
        if lost:
            found.append(f"not noted where it went: {', '.join(map(on_one_line, lost))}")
        if balance := _balance(one, taken.get(one.batch.code, []), style):
            found.append(balance)
        if names := trace.allergens[one.batch.id].not_known:
            found.append(f"allergens {NOT_KNOWN} of {', '.join(map(on_one_line, names))}")
        if found:
            said.append(f"{one.batch.code}: {'; '.join(found)}.")
    return said


def _ahead(trace: Trace) -> list[TracedBatch]:
    return [*([trace.itself] if trace.itself else []), *reversed(trace.forward)]


def _taken(trace: Trace) -> Mapping[str, list[Lot]]:
    """By code, what later batches took up of a batch's leftover."""
    whose = {parts_of(code): one.batch.code for one in trace.batches for code in one.records}
    found: defaultdict[str, list[Lot]] = defaultdict(list)
    for one in trace.forward:
        for lot in one.lots:
            if (code := whose.get(parts_of(lot.lot))) is not None:
                found[code].append(lot)
    return found


def _balance(one: TracedBatch, taken: Sequence[Lot], style: Style) -> str:
    """What of the batch's mass is not accounted for; empty if all is, to the gram, and if
    nothing is noted that could account for it."""
    # leftover that was taken up is counted where it went
    went = [made.mass_mg for made in one.made if made.name != LEFTOVER]
    went += [lot.mass_mg for lot in taken]
    if not went:
        return ""
    if one.mass_mg is None:
        return "its mass is not noted, so nothing shows whether something is missing"
    whole, rest = style.mass(one.mass_mg / 1000), one.mass_mg - sum(mass or 0 for mass in went)
    if rest < 0:
        return f"{style.mass(-rest / 1000)} more went out than its {whole}: check the masses"
    if rest < 1000:
        return ""
    unweighed = ", and not all that went out has its mass noted" if None in went else ""
    return f"{style.mass(rest / 1000)} of its {whole} is not accounted for{unweighed}"


def _has(one: TracedBatch, trace: Trace) -> bool:
    asked = trace.asked.casefold().split()
    return any(lot.lot.casefold().split() == asked for lot in (*one.lots, *one.replaced))


def _tree(
    trace: Trace,
    roots: Sequence[TracedBatch],
    below: Callable[[TracedBatch], Sequence[TracedBatch]],
    style: Style,
    made: bool = True,
) -> list[Line]:
    """Each batch with all that belongs to it once; where it comes again, that is said."""
    lines: list[Line] = []
    seen: set[int] = set()
    waiting = [(0, one) for one in reversed(roots)]
    while waiting:  # not a recursion: leftover may have gone on for years
        depth, one = waiting.pop()
        again = one.batch.id in seen
        seen.add(one.batch.id)
        if again:
            lines += [Line(depth, f"{one.batch.code}  (see above)", one)] if depth else []
            continue
        lines.append(Line(depth, _heading(one, trace, style), one))
        own = [f"with {lot_words(lot, style)}" for lot in one.lots]
        own += [f"with {lot_words(lot, style)} (replaced since)" for lot in one.replaced]
        if made:
            own += [f"made {made_words(each, style)}" for each in one.made]
            if not one.made:
                own.append("nothing is noted of what was made of it")
        lines += [Line(depth + 1, text) for text in own]
        waiting += [(depth + 1, other) for other in reversed(below(one))]
    return lines


def _heading(one: TracedBatch, trace: Trace, style: Style) -> str:
    row = one.batch
    notes = ["rehearsal"] if row.rehearsal else []
    notes += ["started by mistake"] if row.mistake else []
    notes += [f"recorded as {', '.join(one.records)}"] if len(one.records) > 1 else []
    began = "time unknown"
    if row.started_unix_ms is not None:
        began = style.minute(local(row.started_unix_ms, row.utc_offset_min))
    parts = [
        f"{row.code}  {began}  {on_one_line(row.couverture)} by {row.method}",
        "mass not noted" if one.mass_mg is None else style.mass(one.mass_mg / 1000),
        f"allergens {allergen_words(trace.allergens[row.id], reasons=False)}",
    ]
    return ", ".join(parts) + (f" ({', '.join(notes)})" if notes else "")
