"""The cable pulled out and put in again, over and over, while ``watch`` or ``temper`` runs: each
goes on by itself."""

import os
import pty
import re
import select
import threading
import time
import tty
from contextlib import suppress
from pathlib import Path

import pytest
from boards_with_curves import ROOM_C

from snapcurve import cli
from snapcurve.board import connection, ports
from snapcurve.commands import live
from snapcurve.simulation.desk_board import DeskBoard
from tests.patience import LONGEST_S

TIMES = 20
READING = re.compile(r"probe +\d+\.\d °C")


class InTheBowl:
    """A batch that a long press ends once the cable has been out often enough."""

    def __init__(self):
        self.over_ms = None

    def rows(self, now_ms):
        second = now_ms // 1000
        return [self._row(second + ahead) for ahead in range(second > 0, 2)]

    def _row(self, second):
        over = self.over_ms is not None and second * 1000 >= self.over_ms
        probe_c = 31 + second % 7 / 20 if second > 2 else ROOM_C
        return f"{second},{probe_c},{ROOM_C},0,{int(over and second % 20 < 3)}"

    def heard(self, now_ms, words):
        self.now_ms = now_ms


class Cable:
    """Between a board and a port that comes and goes, under a name or another."""

    def __init__(self, board_port: str, folder: Path):
        self._folder = folder  # of links: the port's own name may soon be another program's
        self._count = 0
        self._board = os.open(board_port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        self._ends: tuple[int, int] | None = None
        self._lock = threading.Lock()
        self._done = False
        self.name = ""
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def put_in(self, spare: bool) -> None:
        """The port appears; with ``spare`` it has another name."""
        board, port = pty.openpty()
        tty.setraw(port)
        with self._lock:
            self._ends = (board, port)
            self._count += 1
            link = self._folder / f"port{self._count if spare else 0}"
            link.symlink_to(os.ttyname(port))
            self.name = str(link)

    def pull(self) -> None:
        """The port is gone, and whoever has it open is told so."""
        with self._lock:
            ends, self._ends = self._ends, None
            if self.name:
                Path(self.name).unlink()
            self.name = ""
        for number in ends or ():
            os.close(number)

    def attached(self) -> list[ports.AttachedPort]:
        """In place of the computer's own list."""
        return [ports.AttachedPort(self.name, "", "")] if self.name else []

    def _carry(self) -> None:
        while not self._done:
            with self._lock:
                ends = self._ends
                fds = [self._board] + ([ends[0]] if ends else [])
                for number in select.select(fds, [], [], 0)[0]:
                    with suppress(OSError):
                        data = os.read(number, 4096)
                        if ends:
                            os.write(ends[0] if number == self._board else self._board, data)
            time.sleep(0.002)

    def close(self) -> None:
        self._done = True
        self._thread.join()
        self.pull()
        os.close(self._board)


class Screen:
    """What the command has said so far, with the moment of each reading."""

    def __init__(self):
        self.readings = 0
        self.at_s = 0.0
        self.while_out = 0
        self.out = False

    def show(self, reading):
        self.readings += 1
        self.while_out += self.out
        self.at_s = time.monotonic()
        return False


def wait_for(condition) -> None:
    end_s = time.monotonic() + LONGEST_S
    while not condition():
        assert time.monotonic() < end_s
        time.sleep(0.005)


@pytest.mark.parametrize("command", ["watch", "temper"])
def test_it_comes_back_each_time(command, tmp_path: Path, monkeypatch, capsys) -> None:
    for name in ("FOLDER", "COUVERTURES"):
        monkeypatch.setenv(f"SNAPCURVE_{name}", str(tmp_path / name.lower()))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    screen, world, waits_s = Screen(), InTheBowl(), []
    line = live.line
    monkeypatch.setattr(live, "line", lambda *given: (screen.show(given[0]), line(*given))[1])
    with DeskBoard(tmp_path / "flash", world, "real") as desk:
        desk.wait_until_up()
        cable = Cable(desk.port, tmp_path)
        for module in (connection, ports):
            monkeypatch.setattr(module, "attached", cable.attached)
        cable.put_in(False)

        def hands() -> None:
            for turn in range(TIMES):
                seen = screen.readings
                wait_for(lambda seen=seen: screen.readings > seen)
                cable.pull()
                time.sleep(0.05)  # a reading that was on its way
                screen.out = True
                time.sleep(0.4 if turn % 4 else 1.0)
                screen.out = False
                seen, back_s = screen.readings, time.monotonic()
                cable.put_in(turn % 2 == 1)
                wait_for(lambda seen=seen: screen.readings > seen)
                waits_s.append(screen.at_s - back_s)
            if command == "temper":
                world.over_ms = world.now_ms + 1000
            else:
                os.kill(os.getpid(), 2)  # Ctrl-C

        puller = threading.Thread(target=hands, daemon=True)
        puller.start()
        try:
            code = cli.main(["temper", "milk"] if command == "temper" else ["watch"])
        finally:
            puller.join(LONGEST_S)
            cable.close()
    out, err = capsys.readouterr()
    assert code == 0, err
    assert len(waits_s) == TIMES
    assert screen.while_out == 0, "no number is shown while the board is away"
    told = [one for one in err.splitlines() if one]
    # On a busy machine an answer may be so late that the board counts as gone once more.
    gone = len([one for one in told if "is gone: waiting for it" in one])
    assert gone >= TIMES
    assert len([one for one in told if "The board is back on" in one]) == gone
    assert len(told) == 2 * gone, told
    assert "Traceback" not in out + err
    if command == "temper":
        assert "batch" in out
    print(f"{command}: back after {max(waits_s):.1f} s at most")
