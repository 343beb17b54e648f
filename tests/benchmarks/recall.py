"""A recall in a large notebook: traces both ways, and allergens through all leftovers.

``python -m tests.benchmarks recall [sqlite] [postgresql]`` asks 20,000 batches; wanted is under a
second each. Rows are written past the notebook, whose seals are not what is measured. The same
graph, smaller, is what tests/host/test_leftovers.py holds against networkx.
"""

import random
import time
from dataclasses import dataclass, field

from snapcurve.notebook import open_notebook, search_words, tables
from snapcurve.notebook.vocabulary import ALLERGEN_GROUPS, stored_groups

from .notebook import on_each, write_past
from .store import best_ms

START_UNIX_MS = 1_795_500_000_000  # 2026-11-24T06:00:00Z
HOUR_MS = 3_600_000
BATCHES, LOTS, LEFTOVERS, CUT = 20_000, 5_000, 10_000, 200


@dataclass
class Graph:
    """What went into what: by code of a batch the numbers of its lots, and the codes of the
    batches that it had leftover of; the groups of each lot, None if nobody knows."""

    codes: list[str] = field(default_factory=list)
    lots: dict[str, list[str]] = field(default_factory=dict)
    earlier: dict[str, list[str]] = field(default_factory=dict)
    groups: dict[str, tuple[str, ...] | None] = field(default_factory=dict)

    @property
    def edges(self) -> list[tuple[str, str]]:
        """From what went in to the batch it went into."""
        return [
            (one, code) for code in self.codes for one in (*self.lots[code], *self.earlier[code])
        ]


def drawn(batches: int, lots: int, leftovers: int, seed: int) -> Graph:
    """Each batch has one or two lots; leftover is mostly of a batch of the last weeks."""
    chance = random.Random(seed)
    graph = Graph()
    for number in range(lots):
        groups = None if chance.random() < 0.1 else (chance.choice(ALLERGEN_GROUPS),)
        graph.groups[f"L-{number:05d}"] = groups
    graph.codes = [f"2026-11-24-{number:02d}" for number in range(1, batches + 1)]
    for code in graph.codes:
        graph.lots[code] = chance.sample(list(graph.groups)[:lots], chance.choice((1, 2)))
        graph.earlier[code] = []
    for _ in range(leftovers):
        later = chance.randrange(1, batches)
        back = later if chance.random() < 0.05 else min(later, 60)
        earlier = graph.codes[later - chance.randint(1, back)]
        if earlier not in graph.earlier[graph.codes[later]]:
            graph.earlier[graph.codes[later]].append(earlier)
    return graph


def fill(book, graph: Graph, cut: int = 0) -> None:
    """Write it into an empty notebook; ``cut`` batches go on in a second record of their own."""
    heads, curves, marks, lots, keys = [], [], [], [], []
    every = len(graph.codes) + cut
    for number in range(1, every + 1):
        moment = START_UNIX_MS + number * HOUR_MS
        code = f"2026-11-24-{number:02d}"
        heads.append(
            {
                "id": number, "day": "2026-11-24", "day_number": number, "utc_offset_min": 60,
                "started_unix_ms": moment, "couverture": "Generic milk", "method": "seeding",
                "profile": bytes(150), "rehearsal": False, "created_unix_ms": moment,
                "place": "bench 1", "allergens": [], "mass_mg": 1_200_000,
            }
        )  # fmt: skip
        curves.append(
            {
                "batch_id": number, "board_id": number if number <= every - cut else number - cut,
                "board_name": "bench", "boot": 1, "curve": 1 if number <= every - cut else 2,
                "generation": number, "size": 300, "crc": 1, "raw": bytes(300),
                "collected_unix_ms": moment,
            }
        )  # fmt: skip
        if number > every - cut:
            marks.append(
                {"batch_id": number, "offset_ms": 0, "kind": "resumed", "number": 1,
                 "phase": "work"}
            )  # fmt: skip
        marks.append(
            {"batch_id": number, "offset_ms": 9, "kind": "dip_test", "number": 1, "phase": "work"}
        )
        its = [(lot, graph.groups[lot]) for lot in graph.lots.get(code, ())]
        its += [(one, None) for one in graph.earlier.get(code, ())]
        for lot, groups in its:
            row = {
                "batch_id": number, "ingredient": "couverture", "supplier": "", "lot": lot,
                "allergens": stored_groups(groups),
            }  # fmt: skip
            lots.append(row)
            keys += [
                {"field": name, "word": word, "newest_unix_ms": moment, "batch_id": number}
                for name, word in search_words.of_lot(row)
                if name == "lot"
            ]
    with book.engine.begin() as connection:
        for table, rows in (
            (tables.batches, heads), (tables.curves, curves), (tables.marks, marks),
            (tables.lots, lots), (tables.words, keys),
        ):  # fmt: skip
            write_past(connection, table, rows)
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("ANALYZE")


def measure(place_of) -> None:
    """The table for one database."""
    graph = drawn(BATCHES, LOTS, LEFTOVERS, 1)
    with open_notebook(place_of("recall")) as book:
        fill(book, graph, CUT)
        lots = random.Random(2).sample(sorted(graph.groups), 8)
        reached = {lot: len(book.trace(lot).forward) for lot in lots}
        farthest = max(reached, key=lambda lot: reached[lot])
        last = graph.codes[-1]
        questions = {
            f"a lot in {reached[lots[0]]} batches": lambda: book.trace(lots[0]),
            f"a lot in {reached[farthest]} batches": lambda: book.trace(farthest),
            f"a batch and {len(book.trace(last).backward)} before": lambda: book.trace(last),
            f"the first and {len(book.trace(graph.codes[0]).forward)} after": (
                lambda: book.trace(graph.codes[0])
            ),
            "allergens of 50 batches": lambda: book.allergens(range(BATCHES - 50, BATCHES)),
            "near a slip in a lot": lambda: book.lots_like("L-0001O"),
        }
        for name, ask in questions.items():
            wall_ms, begun_s = best_ms(ask, 3), time.process_time()
            ask()
            own_ms = (time.process_time() - begun_s) * 1000
            print(f"  {name:<36}{wall_ms:9.1f} ms, {own_ms:7.1f} ms of this program's own time")


def main(words_given: list[str]) -> int:
    """Both databases, or those that are named."""
    print(f"{BATCHES} batches, {LOTS} lots, {LEFTOVERS} leftovers; wanted: under 1000 ms")
    return on_each(words_given, measure)
