"""What is wrong with the board itself is in the overview and in watch."""

import pytest
from boards_with_curves import Still
from running import READING, Bench

from snapcurve.board.troubles import SENTENCES, sentence
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.wire import catalogue


class Stuck(Still):
    """The button is down all the time."""

    def rows(self, now_ms: int) -> list[str]:
        return [row[:-1] + "1" for row in super().rows(now_ms)]


def told(bench: Bench, world: Still, **files: bytes) -> tuple[dict, str, str]:
    """What the overview and watch say of a board that has ``files`` stored."""
    store = bench.folder / "store"
    store.mkdir()
    for name, raw in files.items():
        (store / name).write_bytes(raw)
    with DeskBoard(bench.folder / "none", world, "real", store=str(store)) as desk:

        def watch() -> list[str]:
            return bench.watch("--port", desk.port, until=lambda line: bool(READING.match(line)))

        watch()  # it answers before it has looked at its button, and reads its probe after that
        (found,) = bench.ok_json("probe", "--port", desk.port)["boards"]
        overview = bench.ok("probe", "--port", desk.port)
        watched = watch()
        return found, overview, "\n".join(watched)


@pytest.mark.parametrize("name", ["profile", "calibration"])
def test_what_is_stored_and_cannot_be_read(bench: Bench, name: str) -> None:
    found, overview, watched = told(bench, Still(), **{name: b"rubbish"})
    assert found["troubles"] == [name]
    assert found["profile"] == ("unreadable" if name == "profile" else "none")
    for text in (overview, watched):
        assert SENTENCES[name] in text
        assert "Traceback" not in text
    assert f"trouble: {name}" in watched.splitlines()[-1]
    assert "♪ unreadable" in watched.splitlines()[-1]


def test_a_button_that_is_stuck(bench: Bench) -> None:
    found, overview, watched = told(bench, Stuck())
    assert found["troubles"] == ["button"]
    assert SENTENCES["button"] in overview
    assert SENTENCES["button"] in watched


def test_a_board_that_is_well_says_nothing_of_it(bench: Bench) -> None:
    found, overview, watched = told(bench, Still())
    assert found["troubles"] == []
    assert overview.splitlines()[1] == ""  # nothing between the board and its probe
    assert "trouble" not in overview + watched


def test_every_trouble_has_its_sentence() -> None:
    assert set(SENTENCES) == set(catalogue.TROUBLES)
    assert "(smoke)" in sentence("smoke")
