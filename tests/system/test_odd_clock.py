"""A computer whose clock stands where no board can follow: before 1970, or after 2106.

A board counts seconds since 1970 in 32 bits.
"""

import pytest
from odd_computer import Odd, OddComputer
from running import DATA, Bench

YEAR_S = 365.2425 * 86400
BEFORE = (-1.0, -30 * YEAR_S, 0.0)
AFTER = (2.0**32, 2.0**32 + 0.5, 200 * YEAR_S, 7000 * YEAR_S)
BY = ("--by", "Ilka Brandner")
WITH_BOARD = (
    ("load", "milk", "--port", "rehearsal"),
    ("watch", "--port", "rehearsal", "--seconds", "1"),
    ("collect", "--port", "rehearsal"),
    ("calibrate", "show", "--port", "rehearsal"),
    ("rehearse", "milk", "--speed", "max", "--work-minutes", "0"),
    ("replay", str(DATA / "cup_a.csv"), "--couverture", "milk", "--method", "cup"),
)
WITHOUT = (
    ("today", "--room", "21"),
    ("today", "--cleaned", "bowl and probe", *BY),
    ("batches",),
    ("batches", "--since", "today"),
    ("notebook", "check"),
    ("batches", "--until", "today"),
    ("batches", "--output", "-"),
)


@pytest.mark.parametrize("words", WITH_BOARD, ids=lambda words: words[0])
@pytest.mark.parametrize("unix_s", [BEFORE[1], AFTER[0]])
def test_the_board_is_not_told_such_a_time(
    computer: OddComputer, bench: Bench, words: tuple[str, ...], unix_s: float
) -> None:
    done = computer.run(bench.folder, bench.environment, words, Odd(unix_s=unix_s))
    assert "clock" in done.sentence()
    assert done.code == 2


@pytest.mark.parametrize("unix_s", [*BEFORE, *AFTER])
def test_any_such_time_is_told_with_its_year(
    computer: OddComputer, bench: Bench, unix_s: float
) -> None:
    odd = Odd(unix_s=unix_s)
    done = computer.run(bench.folder, bench.environment, WITH_BOARD[0], odd)
    year = int(1970 + unix_s // YEAR_S)
    assert f"the year {year}" in done.sentence()


@pytest.mark.parametrize("unix_s", [1.0, 2.0**32 - 0.5])
def test_the_first_and_the_last_second_go(
    computer: OddComputer, bench: Bench, unix_s: float
) -> None:
    odd = Odd(unix_s=unix_s)
    done = computer.run(bench.folder, bench.environment, WITH_BOARD[0], odd)
    assert done.code == 0, done.stderr


@pytest.mark.parametrize("words", WITHOUT, ids=lambda words: " ".join(words[:2]))
@pytest.mark.parametrize("unix_s", [BEFORE[1], AFTER[0], AFTER[-1]])
def test_the_notebook_works_at_any_time(
    computer: OddComputer, bench: Bench, words: tuple[str, ...], unix_s: float
) -> None:
    done = computer.run(bench.folder, bench.environment, words, Odd(unix_s=unix_s))
    assert done.code == 0, done.stderr
    for shown in (("notebook", "check"), ("show", "last"), ("batches", "--rehearsals", "--json")):
        done = computer.run(bench.folder, bench.environment, shown, Odd(unix_s=unix_s))
        if done.code:
            done.sentence()
