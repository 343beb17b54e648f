"""List, search and trace in a notebook of 10,000 batches against one of 100.

``python -m tests.benchmarks notebook [sqlite] [postgresql]``; a PostgreSQL server of its own
is started for it. Rows are written past the notebook, whose seals are not what is measured.
"""

import sys
import tempfile
from pathlib import Path

from sqlalchemy import insert

from snapcurve.notebook import open_notebook, search_words, tables
from snapcurve.notebook.records import Search

from .store import best_ms

sys.path.append(str(Path(__file__).parents[1] / "host"))
from postgresql_server import Server, programs

SIZES = (100, 10_000)
PAGE = 50
START_UNIX_MS = 1_795_500_000_000
HOUR_MS = 3_600_000
OPERATORS = ("Ilka Brandner", "Jean Petit", "Łucja Nowak", "Eleni Pappa")
COUVERTURES = ("Generic milk", "Generic dark", "Ivory white")
OUTCOMES = ("high", "satin", "dull")


def write_past(connection, table, rows) -> None:
    """Rows of a table past what refuses and numbers them."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
    if "id" in table.c:
        rows = [{"id": at, **row} for at, row in enumerate(rows, start=1)]
    connection.execute(insert(table), rows)


def fill(book, count: int) -> None:
    """Batches one hour apart; each couverture lot serves ten, one in 50 has a word of its own."""
    heads, curves, lots, keys = [], [], [], []
    for number in range(1, count + 1):
        moment = START_UNIX_MS + number * HOUR_MS
        head = {
            "id": number, "day": "2026-11-24", "day_number": number, "utc_offset_min": 60,
            "started_unix_ms": moment, "couverture": COUVERTURES[number % 3],
            "method": "seeding", "profile": bytes(150), "rehearsal": False,
            "created_unix_ms": moment, "operator": OPERATORS[number % 4],
            "notes": f"bowl {number % 7}" + (" cracked" if number == count // 2 else ""),
            "place": "bench 1",
        }  # fmt: skip
        lot = {
            "batch_id": number, "ingredient": "couverture", "supplier": "Hollerbach",
            "lot": f"L-{number // 10:05d}", "allergens": "[]",
        }  # fmt: skip
        heads.append(head)
        lots.append(lot)
        curves.append(
            {
                "batch_id": number, "board_id": 7, "board_name": "bench", "boot": 1,
                "curve": number, "generation": number, "size": 300, "crc": 1,
                "raw": bytes(300), "collected_unix_ms": moment,
            }
        )  # fmt: skip
        outcome = OUTCOMES[number % 3]
        its = search_words.of_batch(head, "bench") | search_words.of_lot(lot)
        its |= {("outcome", outcome), ("outcome", f"gloss={outcome}")}
        keys += [
            {"field": field, "word": word, "newest_unix_ms": moment, "batch_id": number}
            for field, word in its
        ]
    with book.engine.begin() as connection:
        for table, rows in (
            (tables.batches, heads), (tables.curves, curves), (tables.lots, lots),
            (tables.words, keys),
        ):  # fmt: skip
            write_past(connection, table, rows)
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("ANALYZE")


def questions(count: int):
    """What is asked: a name, the question, and how many answers there must be."""
    page = min(PAGE, count)
    middle = START_UNIX_MS + count // 2 * HOUR_MS
    lot = f"L-{count // 20:05d}"
    return {
        "list": (lambda book: book.batches(PAGE), page),
        "allergens of the list": (
            lambda book: book.allergens([row.id for row in book.batches(PAGE)]), page,
        ),
        "search a day": (
            lambda book: book.search(Search(middle, middle + 24 * HOUR_MS), PAGE), 24,
        ),
        "search couverture": (
            lambda book: book.search(Search(couverture="milk"), 20), 20,
        ),
        "search operator": (
            lambda book: book.search(Search(operator="jean petit"), 20), 20,
        ),
        "search outcome": (lambda book: book.search(Search(outcome="dull"), 20), 20),
        "search lot": (lambda book: book.search(Search(lot=lot), PAGE), 10),
        "search rare word": (lambda book: book.search(Search(text="cracked"), PAGE), 1),
        "search three words": (
            lambda book: book.search(Search(text="bowl 3", outcome="high"), 3), 3,
        ),
        "trace": (lambda book: book.trace(lot).forward, 10),
    }  # fmt: skip


def measure(place_of) -> None:
    """The table for one database."""
    ms: dict[str, list[float]] = {}
    for count in SIZES:
        with open_notebook(place_of(count)) as book:
            fill(book, count)
            for name, (ask, answers) in questions(count).items():
                assert len(ask(book)) == answers, (name, len(ask(book)))
                ms.setdefault(name, []).append(best_ms(lambda ask=ask: ask(book), 25))
    for name, (small, large) in ms.items():
        print(f"  {name:<22}{small:9.2f} ms{large:9.2f} ms{large / small:8.2f}")


def on_each(words_given: list[str], measure) -> int:
    """``measure``, given what makes a place, on both databases or those that are named."""
    wanted = words_given or ["sqlite", "postgresql"]
    if "sqlite" in wanted:
        print("SQLite")
        with tempfile.TemporaryDirectory() as folder:
            measure(lambda name: f"{folder}/{name}.db")
    if "postgresql" in wanted:
        found = programs()
        if found is None:
            print("PostgreSQL is not installed: not measured")
            return 1
        print("PostgreSQL")
        server = Server(found)
        try:
            measure(lambda _name: server.new_database())
        finally:
            server.stop()
    return 0


def main(words_given: list[str]) -> int:
    """Both databases, or those that are named."""
    print(f"{'':24}{SIZES[0]:>9}   {SIZES[1]:>9}       ratio  (wanted: under 3)")
    return on_each(words_given, measure)
