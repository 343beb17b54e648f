"""How often ``learn`` proposes a window where there is none, and how soon it finds one.

Notebooks drawn at random grow batch by batch to 160, and somebody looks after every batch. In the
first table outcomes have nothing to do with the temperature; in the second they do, in the first
half of each name. For a proposal that is right its edges should lie near those of the truth.
"""

from collections.abc import Callable
from statistics import median

import numpy as np

from snapcurve.analysis.window_test import find_window, test_sizes

WINDOW_C = (30.0, 32.0)
LIFE = 160
Draw = Callable[[np.random.Generator], tuple[list[float], list[bool]]]


def temperatures(chance: np.random.Generator, how: str) -> np.ndarray:
    """Working temperatures of a life: all over the window, by habit near one, in few steps."""
    if how == "evenly":
        return chance.uniform(29.8, 32.2, LIFE)
    if how == "by habit":
        return chance.normal(30.8, 0.35, LIFE)
    return np.round(chance.uniform(30.0, 32.0, LIFE) * 2) / 2


def drawn(
    chance: np.random.Generator, how: str, well: Callable[[np.ndarray], np.ndarray]
) -> tuple[list[float], list[bool]]:
    """A notebook; ``well`` says with what probability a batch at a temperature turns out well."""
    values = temperatures(chance, how)
    return list(map(float, values)), list(map(bool, chance.random(LIFE) < well(values)))


def nothing(share: float) -> Callable[[np.ndarray], np.ndarray]:
    """The temperature says nothing."""
    return lambda values: np.full(len(values), share)


def between(low_c: float, high_c: float, inside: float, outside: float) -> Callable:
    """Good batches come between two temperatures."""
    return lambda values: np.where((values >= low_c) & (values <= high_c), inside, outside)


def first_found(values: list[float], good: list[bool], place: int = 1) -> int | None:
    """After how many batches the first proposal comes to somebody who looks after each."""
    for test in find_window(values, good, WINDOW_C, place).tests:
        if test.found:
            return test.batches
    return None


def false_share(how: str, share: float, notebooks: int, seed: int) -> float:
    """Of notebooks without anything to find, how many ever got a proposal."""
    chance = np.random.default_rng(seed)
    found = 0
    for _ in range(notebooks):
        found += first_found(*drawn(chance, how, nothing(share))) is not None
    return found / notebooks


def false_in_a_notebook(couvertures: int, notebooks: int, seed: int) -> float:
    """Of notebooks with so many couvertures and nothing to find, how many ever got a proposal."""
    chance = np.random.default_rng(seed)
    found = 0
    for _ in range(notebooks):
        found += any(
            first_found(*drawn(chance, "evenly", nothing(0.7)), place) is not None
            for place in range(1, couvertures + 1)
        )
    return found / notebooks


TRUTHS = {
    "good 30.5 to 31.5, 95 against 40 %": (30.5, 31.5, 0.95, 0.4),
    "good 30.5 to 31.5, 90 against 60 %": (30.5, 31.5, 0.9, 0.6),
    "good below 31.2, 95 against 40 %": (30.0, 31.2, 0.95, 0.4),
    "good above 30.8, 90 against 60 %": (30.8, 32.0, 0.9, 0.6),
}


def power(
    truth: tuple[float, float, float, float], notebooks: int, seed: int
) -> tuple[dict[int, float], tuple[float, float]]:
    """How many notebooks got a proposal by each size, and how far its edges then lay off at the
    end of life (medians, °C)."""
    chance = np.random.default_rng(seed)
    firsts, lows, highs = [], [], []
    for _ in range(notebooks):
        values, good = drawn(chance, "evenly", between(*truth))
        firsts.append(first_found(values, good))
        window = find_window(values, good, WINDOW_C).window_c
        if window is not None:
            lows.append(abs(window[0] - truth[0]))
            highs.append(abs(window[1] - truth[1]))
    by_size = {
        size: sum(first is not None and first <= size for first in firsts) / notebooks
        for size in test_sizes_until(LIFE)
    }
    return by_size, (median(lows or [9.0]), median(highs or [9.0]))


def test_sizes_until(most: int) -> list[int]:
    """The sizes of tests up to so many batches."""
    found = []
    for size in test_sizes():
        if size > most:
            return found
        found.append(size)
    return found


def main(words: list[str]) -> int:
    """Print both tables; ``words`` may give the number of notebooks."""
    notebooks = int(words[0]) if words else 1000
    print(f"{notebooks} notebooks each, {LIFE} batches, a look after every batch")
    print("nothing to find: a window is proposed all the same in")
    for how in ("evenly", "by habit", "in steps"):
        for share in (0.5, 0.7, 0.9):
            found = false_share(how, share, notebooks, seed=7)
            print(f"  {found:6.1%}  worked {how}, {share:.0%} turn out well")
    for couvertures in (3, 6):
        found = false_in_a_notebook(couvertures, notebooks, seed=9)
        print(f"  {found:6.1%}  in a notebook with {couvertures} couvertures, 160 batches of each")
    print("something to find: proposed by so many batches worked inside the window")
    sizes = "".join(f"{size:>6}" for size in test_sizes_until(LIFE))
    print(f"  {'':36}{sizes}  edges off by")
    for name, truth in TRUTHS.items():
        by_size, (low, high) = power(truth, max(1, notebooks // 4), seed=8)
        cells = "".join(f"{100 * share:5.0f}%" for share in by_size.values())
        print(f"  {name:36}{cells}  {low:.1f} and {high:.1f} °C")
    return 0
