"""Whether a bench was cleaned before a batch that must not take up what came before it."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Worked:
    """One batch at one place. `allergens` are groups of `vocabulary.ALLERGEN_GROUPS`, None
    when nobody said which it holds."""

    code: str
    place: str | None
    at_unix_ms: int
    allergens: frozenset[str] | None


@dataclass(frozen=True)
class Cleaned:
    """One cleaning of one place; of a place without a name, None."""

    place: str | None
    at_unix_ms: int


@dataclass(frozen=True)
class MissingCleaning:
    """`after` was worked where `before` had left `allergens`, which `after` does not hold."""

    before: str
    after: str
    allergens: frozenset[str]


def missing_cleanings(
    worked: Iterable[Worked], cleanings: Iterable[Cleaned]
) -> list[MissingCleaning]:
    """Every batch that followed an allergen at its place without a cleaning between.

    What is left stays until a cleaning: after milk, dark, dark without one both dark batches
    are named, each with the batch that brought the allergen last. A batch of unknown
    allergens is neither named nor taken to leave any; a cleaning counts for its own place
    only, and when it falls on the same moment as a batch, after that batch.
    """
    events: list[tuple[int, int, Worked | Cleaned]] = [
        *((one.at_unix_ms, 0, one) for one in worked),
        *((one.at_unix_ms, 1, one) for one in cleanings),
    ]
    events.sort(key=lambda event: event[:2])
    left: dict[str | None, dict[str, str]] = {}  # place -> group -> code that brought it
    found = []
    for _, _, event in events:
        here = left.setdefault(event.place, {})
        if isinstance(event, Cleaned):
            here.clear()
            continue
        if event.allergens is None:
            continue
        strange = {group: code for group, code in here.items() if group not in event.allergens}
        for code in sorted(set(strange.values())):  # sets have no order of their own
            groups = frozenset(group for group, by in strange.items() if by == code)
            found.append(MissingCleaning(code, event.code, groups))
        here.update(dict.fromkeys(event.allergens, event.code))
    return found
