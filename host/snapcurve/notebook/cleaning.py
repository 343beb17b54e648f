"""Whether a bench was cleaned before a batch that must not take up what came before it."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from snapcurve.notebook.allergens import Allergens


@dataclass(frozen=True)
class Worked:
    """One batch at one place, and what it holds."""

    code: str
    place: str | None
    at_unix_ms: int
    allergens: Allergens


@dataclass(frozen=True)
class Cleaned:
    """One cleaning of one place; of a place without a name, None."""

    place: str | None
    at_unix_ms: int


@dataclass(frozen=True)
class MissingCleaning:
    """`after` was worked where `before` had left `allergens`, which `after` does not hold, and
    `not_known`, the names of what may have left any."""

    before: str
    after: str
    allergens: frozenset[str]
    not_known: tuple[str, ...] = ()


@dataclass
class _Left:
    """What was left at a place: by group, and by name of what is not known, the code of the
    batch that brought it last."""

    named: dict[str, str] = field(default_factory=dict)
    not_known: dict[str, str] = field(default_factory=dict)


def missing_cleanings(
    worked: Iterable[Worked], cleanings: Iterable[Cleaned]
) -> list[MissingCleaning]:
    """Every batch that followed an allergen at its place without a cleaning between.

    What is left stays until a cleaning: after milk, dark, dark without one both dark batches
    are named, each with the batch that brought the allergen last. What is not known of a
    batch is left too, and named for a batch that was declared to hold none: any other would be
    named each time. A batch of which nothing is known at all is not named itself. A cleaning
    counts for its own place only, and when it falls on the same moment as a batch, after that
    batch.
    """
    events: list[Worked | Cleaned] = [*worked, *cleanings]
    events.sort(key=lambda event: (event.at_unix_ms, isinstance(event, Cleaned)))
    left: dict[str | None, _Left] = {}
    found = []
    for event in events:
        if isinstance(event, Cleaned):
            left.pop(event.place, None)
            continue
        here = left.setdefault(event.place, _Left())
        holds = event.allergens
        if not holds.wholly_unknown:
            strange = {
                group: code for group, code in here.named.items() if group not in holds.named
            }
            unsure = here.not_known if holds.groups == () else {}
            for code in sorted({*strange.values(), *unsure.values()}):
                groups = frozenset(group for group, by in strange.items() if by == code)
                names = tuple(name for name, by in unsure.items() if by == code)
                found.append(MissingCleaning(code, event.code, groups, names))
        here.named.update(dict.fromkeys(holds.named, event.code))
        here.not_known.update(dict.fromkeys(holds.not_known, event.code))
    return found
