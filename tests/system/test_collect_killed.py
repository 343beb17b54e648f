"""``snapcurve collect`` killed at random instants: nothing is lost, nothing is doubled."""

import json
import random
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from boards_with_curves import copied, record, standing, talking_to

from snapcurve.notebook import open_notebook
from tests.how_many import cases
from tests.patience import LONGEST_S

KILLS = cases(20, 50)
GROUPS = cases(2, 5)
CURVES = 3
SCRIPT = Path(__file__).with_name("forked_commands.py")


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[int, bytes]]:
    """A flash image with a few curves, and their bytes."""
    flash = tmp_path_factory.mktemp("recorded") / "flash"
    curves = record(flash, CURVES)
    assert len(curves) == CURVES
    return flash, curves


@pytest.fixture(scope="module")
def commands() -> Iterator[Any]:
    """Runs ``snapcurve`` with these words, killed after so many seconds (None: to its end)."""
    program = subprocess.Popen(
        [sys.executable, str(SCRIPT)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert program.stdin is not None
    assert program.stdout is not None
    stdin, stdout = program.stdin, program.stdout

    def run(seconds: float | None, *words: str) -> tuple[int, float]:
        stdin.write(json.dumps([seconds, *words]) + "\n")
        stdin.flush()
        code, lasted_s = json.loads(stdout.readline())
        return code, lasted_s

    yield run
    stdin.close()
    assert program.wait(timeout=LONGEST_S) == 0
    stdout.close()


def filed(place: Path, curves: dict[int, bytes]) -> list[int]:
    """The numbers of the curves in the notebook, each checked byte by byte."""
    with open_notebook(str(place)) as notebook:
        assert notebook.check() == []
        found = []
        for row in notebook.batches():
            batch = notebook.batch(str(row.id))
            assert notebook.curve_raw(batch.id) == curves[batch.curve.curve]
            found.append(batch.curve.curve)
    assert len(set(found)) == len(found), "a curve stands twice"
    return sorted(found)


def check_round(folder, recorded, commands, when, place) -> tuple[list[int], list[int]]:
    """Kill a collection at ``when`` and let another one finish it; what was on the board
    and in the notebook in between."""
    flash, curves = recorded
    with standing(copied(flash, folder)) as desk:
        words = ("collect", "--port", desk.port, "--notebook", str(place))
        code, _ = commands(when, *words)
        assert code in (-9, 0)
        with talking_to(desk) as board:
            left = [row.curve for row in board.curves()]
        before = filed(place, curves) if place.exists() else []
        # The board's copy goes only after the notebook has it.
        assert set(left) | set(before) == set(curves)
        code, _ = commands(None, *words)
        assert code == 0
        assert filed(place, curves) == sorted(curves)
        with talking_to(desk) as board:
            assert board.curves() == []
    return left, before


@pytest.mark.parametrize("group", range(GROUPS))
def test_killed_at_random_instants(group, tmp_path, recorded, commands) -> None:
    """Some with a new notebook, which takes the most time, most with one that is there."""
    flash, curves = recorded
    chance = random.Random(group)
    empty = tmp_path / "empty.db"
    open_notebook(str(empty)).close()
    length_s = 0.0
    for new, kills in ((True, 2), (False, KILLS // GROUPS - 2)):
        for number in range(kills + 1):
            folder = tmp_path / f"{new}{number}"
            folder.mkdir()
            place = folder / "notebook.db"
            if not new:
                place.write_bytes(empty.read_bytes())
            if number:
                check_round(folder, recorded, commands, chance.uniform(0, length_s), place)
                continue
            with standing(copied(flash, folder)) as desk:
                code, length_s = commands(
                    None, "collect", "--port", desk.port, "--notebook", str(place)
                )
            assert code == 0
            assert filed(place, curves) == sorted(curves)


@pytest.mark.parametrize(
    ("when", "left", "before"),
    [
        ("before filing", [2, 3], [1]),
        ("after filing", [2, 3], [1, 2]),
        ("before erasing", [2, 3], [1, 2]),
        ("after erasing", [3], [1, 2]),
    ],
)
def test_killed_between_filing_and_erasing(tmp_path, recorded, commands, when, left, before):
    place = tmp_path / "notebook.db"
    assert check_round(tmp_path, recorded, commands, when, place) == (left, before)
