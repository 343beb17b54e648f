"""Which dip a result belongs to. Pure."""

from collections.abc import Iterable, Sequence


def dip_numbers(noted: Sequence[int]) -> list[int]:
    """The numbers of dips, in the order they were made, that were noted with ``noted``.

    A board numbers them from 1 on. Where they were not numbered, or not each differently, their
    order does.
    """
    if all(noted) and len(set(noted)) == len(noted):
        return list(noted)
    return list(range(1, len(noted) + 1))


def dips_with_results(
    dips: Sequence[tuple[float, int]], results: Iterable[tuple[float, int]]
) -> list[list[int]]:
    """For each dip (when, number) the places in ``results`` (when, number) that are about it.

    A result with a number is that dip's, whenever it was told; without one (0) it is about the
    dip before it.
    """
    found: list[list[int]] = [[] for _ in dips]
    for place, (at, number) in enumerate(results):
        if number:
            about = [index for index, (_, own) in enumerate(dips) if own == number]
        else:
            about = [index for index, (dipped, _) in enumerate(dips) if dipped <= at][-1:]
        for index in about:
            found[index].append(place)
    return found
