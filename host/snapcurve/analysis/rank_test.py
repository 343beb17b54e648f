"""The exact rank test of Wilcoxon, Mann and Whitney, ties included.

Sources: Wilcoxon 1945; Mann and Whitney, Ann. Math. Stat. 18 (1947) 50. All ways of sorting
the values into the two groups are counted (by sums of mid-ranks), none is assumed.
"""

from collections import Counter
from collections.abc import Sequence


def pairs_higher(first: Sequence[float], second: Sequence[float]) -> float:
    """Of all pairs, the share in which the value of ``first`` is the higher; ties half."""
    score = sum((a > b) + 0.5 * (a == b) for a in first for b in second)
    return score / (len(first) * len(second))


def chance_of_split(first: Sequence[float], second: Sequence[float]) -> float:
    """How often chance alone would part the groups at least so far, in either direction.

    0 to 1; both groups must hold a value.
    """
    doubled = _doubled_ranks([*first, *second])
    size = len(first)
    sums: list[Counter[int]] = [Counter() for _ in range(size + 1)]
    sums[0][0] = 1
    for rank in doubled:
        for taken in range(size - 1, -1, -1):
            for total, ways in list(sums[taken].items()):
                sums[taken + 1][total + rank] += ways
    # Mean of the doubled rank sum; how far off it is counts.
    centre = size * (len(doubled) + 1)
    off = abs(sum(doubled[:size]) - centre)
    ways = sum(sums[size].values())
    return sum(n for total, n in sums[size].items() if abs(total - centre) >= off) / ways


def _doubled_ranks(values: Sequence[float]) -> list[int]:
    """Twice the mid-rank of each value, so that ties stay whole numbers."""
    return [
        2 * sum(other < value for other in values) + sum(other == value for other in values) + 1
        for value in values
    ]
