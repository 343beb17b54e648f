"""Each call by which pyserial uses a port fails once, under the real commands and a real board:
always one sentence, or success, and the next command finds the port free."""

import errno
import gc
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from boards_with_curves import ROOM_C, copied, record, standing, talking_to
from port_faults import KINDS, Fault, Outcome, faulty, run

from snapcurve.board import connection, ports
from snapcurve.board.client import Board, CurveRow
from snapcurve.notebook import open_notebook
from snapcurve.simulation.desk_board import DeskBoard

ERRORS = (errno.EIO, errno.ENXIO, errno.EBUSY)
SPEED = "10"
COMMANDS = {
    "probe": ("probe",),
    "load": ("load", "milk"),
    "sounds": ("sounds", "reached"),
    "mark": ("mark", "note", "--number", "3"),
    "watch": ("watch", "--seconds", "0.05"),
    "show": ("calibrate", "show"),
    "collect": ("collect", "--keep"),
}
LINK_FAILED = 3


class InTheBowl:
    """A probe that stays in chocolate: the board records."""

    def rows(self, now_ms: int) -> list[str]:
        """See Simulator."""
        second = now_ms // 1000
        return [
            f"{second + ahead},{31 + (second + ahead) % 7 / 20},{ROOM_C},0,0"
            for ahead in range(second > 0, 6)
        ]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """All that snapcurve keeps, for commands that run in this process."""
    home = tmp_path_factory.mktemp("computer")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("FOLDER", "COUVERTURES"):
            patch.setenv(f"SNAPCURVE_{name}", str(home / name.lower()))
        patch.setenv("SNAPCURVE_SETTINGS", str(home / "settings.toml"))
        patch.setenv("SNAPCURVE_NOTEBOOK", str(home / "notebook.db"))
        open_notebook(str(home / "empty.db")).close()
        yield home


@pytest.fixture(scope="module")
def recorded(folder: Path) -> tuple[Path, dict[int, bytes]]:
    """A flash image with a curve, and its bytes."""
    return folder / "flash", record(folder / "flash", 1, "faults")


@pytest.fixture(scope="module")
def desk(folder: Path, recorded) -> Iterator[DeskBoard]:
    """One board for all: it holds a curve and records another."""
    flash = copied(recorded[0], folder / "board")
    with DeskBoard(flash, InTheBowl(), SPEED, board="faults") as running:
        with talking_to(running) as board:
            while not board.reading().curve:
                time.sleep(0.05)
        yield running


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looks again at once at a port that is not free; how long: test_port_waiting.py."""
    monkeypatch.setattr(ports, "LOOK_EACH_S", 0.0)
    monkeypatch.setattr(connection, "LOOK_EACH_S", 0.0)


def command(folder: Path, name: str, port: str) -> Outcome:
    """Run a command with an empty notebook."""
    shutil.copy(folder / "empty.db", folder / "notebook.db")
    outcome = run(*COMMANDS[name], "--port", port)
    # No complaint: a curve that is not collected yet, and a board that is lost and found again.
    said = ("still being recorded", f"The board on {port} is gone", f"is back on {port}.")
    outcome.sentences = [
        line for line in outcome.sentences if not any(one in line for one in said)
    ]
    return outcome


def descriptors() -> int:
    """How many files this process has open."""
    return len(os.listdir("/proc/self/fd"))


def assert_one_sentence_or_success(outcome: Outcome, told: object) -> None:
    """Exit code 0 and no complaint, or 3 and one of ours."""
    if outcome.code == 0:
        assert outcome.sentences == [], told
        return
    assert outcome.code == LINK_FAILED, (told, outcome)
    assert len(outcome.sentences) == 1, (told, outcome)
    (sentence,) = outcome.sentences
    assert sentence.startswith("snapcurve: "), told
    for word in ("Errno", "Traceback", "Exception", "fileno", "None"):
        assert word not in sentence, (told, sentence)


def faults_of(name: str, calls: dict[str, int]) -> list[Fault]:
    """Every call with each error for one command. The others open the port in the same way, so
    each of their calls has one error, and in a long conversation not every call."""
    found = []
    for kind in KINDS:
        for turn in range(1, calls[kind] + 1):
            if name == "probe":
                found += [(kind, turn, number) for number in ERRORS]
            elif turn <= 4 or turn % 3 == 0:
                found.append((kind, turn, ERRORS[turn % len(ERRORS)]))
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_each_call_failing_once(name: str, folder: Path, desk: DeskBoard) -> None:
    with faulty() as counted:
        outcome = command(folder, name, desk.port)
    assert (outcome.code, outcome.sentences) == (0, [])
    assert counted.calls["tcdrain"] == 0  # it may hang for ever
    happened = 0
    for fault in faults_of(name, counted.calls):
        before = descriptors()
        with faulty(fault) as faults:
            outcome = command(folder, name, desk.port)
        happened += len(faults.failed)
        assert_one_sentence_or_success(outcome, fault)
        if descriptors() > before + 4 * (fault[0] == "close"):  # pyserial's own four pipe ends
            gc.collect()
            assert descriptors() <= before, fault
    assert happened > len(counted.calls)
    assert command(folder, name, desk.port).code == 0


# --- a port that goes away while curves are brought home --------------------------------------


def filed(folder: Path) -> list[bytes]:
    """The curves in the notebook, whose seals are whole."""
    with open_notebook(str(folder / "notebook.db")) as book:
        assert book.check() == []
        return [book.curve_raw(row.id) for row in book.batches()]


def test_the_port_is_lost_in_mid_collection_and_fails_again_while_it_is_reopened(
    folder: Path, desk: DeskBoard, recorded
) -> None:
    """It is opened once more, until it works: the curve comes home."""
    with faulty() as whole:
        command(folder, "collect", desk.port)
    for turn in range(1, whole.calls["read"] + 1):
        lost = ("read", turn, errno.EIO)
        with faulty(lost) as once:
            command(folder, "collect", desk.port)
        if once.calls["open"] == 2:
            break
    assert once.calls["open"] == 2
    with faulty() as opened:
        ports.SerialPort(desk.port).close()
    for kind in ("open", "flock", "tcgetattr", "tcsetattr", "tcflush", "pipe", "fcntl"):
        for number in ERRORS:
            again = (kind, 2 * opened.calls[kind], number)
            with faulty(lost, again) as faults:
                outcome = command(folder, "collect", desk.port)
            assert (outcome.code, outcome.sentences) == (0, []), (again, outcome)
            assert faults.failed == [lost[:2], again[:2]]
            assert faults.calls["open"] == 3
            assert recorded[1][1] in filed(folder)


@pytest.mark.parametrize(
    ("kind", "turn"),
    [("write", 1), ("select", 1), ("select", 2), ("read", 1), ("read", 2), ("ioctl", 1)],
)
def test_the_port_is_lost_while_the_board_erases(
    kind: str, turn: int, folder: Path, tmp_path: Path, recorded, monkeypatch
) -> None:
    """What is no longer on the board is in the notebook, and another collection ends it."""
    flash, curves = recorded
    shutil.copy(folder / "empty.db", folder / "notebook.db")
    with standing(copied(flash, tmp_path), "faults") as board, faulty() as faults:
        erase = Board.erase

        def once(talk: Board, row: CurveRow) -> None:
            monkeypatch.setattr(Board, "erase", erase)
            faults.from_now(kind, turn, errno.EIO)
            erase(talk, row)

        monkeypatch.setattr(Board, "erase", once)
        words = ("collect", "--port", board.port)
        outcome = run(*words)
        assert len(faults.failed) == 1
        assert_one_sentence_or_success(outcome, faults.failed)
        with talking_to(board) as talk:
            left = [row.curve for row in talk.curves()]
        assert left or filed(folder) == list(curves.values())
        assert run(*words).code == 0
        assert filed(folder) == list(curves.values())
        with talking_to(board) as talk:
            assert talk.curves() == []
