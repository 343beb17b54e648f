"""The process of the practice bench, which lives on between commands.

``python -m snapcurve.simulation.practice_process SETTING`` runs the desk board with the bowl on
it and answers on a connection of this computer; `practice_port` finds it by its state file and
proves with the key in it that it belongs to the same user.
"""

import contextlib
import json
import os
import secrets
import signal
import sys
import threading
import time
from multiprocessing import AuthenticationError
from multiprocessing.connection import Connection, Listener
from pathlib import Path
from typing import Any

from snapcurve.couvertures import loaded
from snapcurve.errors import SnapcurveError
from snapcurve.shown.folders import data_folder, made
from snapcurve.shown.settings_file import load as load_settings
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.practice import LONGEST_S, Act, Practice
from snapcurve.simulation.practice_diary import diary_now, keep
from snapcurve.simulation.practice_pace import Pace
from snapcurve.simulation.practice_setting import SetOut, Setting, set_out_of, setting_data
from snapcurve.simulation.rehearsal_port import BOARD_NAME, lock

STATE = "bench.json"
UNUSED_S = 2 * 3600.0  # a bench that nobody asks anything is put away
LOOK_EACH_S = 2.0
KEPT_EACH_S = 5.0
KEPT_PART = 0.05  # of the time at most goes into writing a long diary
ENDS = ("hold", "put_away")
WAIT_MOST_S = 4 * 3600.0


class Bench:
    """The bench and what may be asked of it."""

    def __init__(self, out: SetOut, desk: DeskBoard, practice: Practice, pace: Pace):
        self._out = out
        self._desk = desk
        self._practice = practice
        self._pace = pace
        self._board_id, boot = _loaded(desk, out)
        self._boot = boot
        self._kept = -1
        self._next_s = 0.0
        self._keeping = threading.Lock()
        self.ended = threading.Event()
        self.used_s = time.monotonic()

    def answer(self, asked: dict[str, Any]) -> dict[str, Any]:
        """The answer to one request: a look, or the sentence of a refusal."""
        self.used_s = time.monotonic()
        try:
            return {"look": self._asked(asked)}
        except SnapcurveError as error:
            return {"error": str(error)}

    def _asked(self, asked: dict[str, Any]) -> dict[str, Any]:
        what = asked["ask"]
        if what == "act":
            at_s = asked["at_s"]
            if at_s is not None and not 0 <= at_s <= LONGEST_S:
                raise SnapcurveError(f"The time must be from 0 to {LONGEST_S:.0f} s of the bench.")
            self._practice.act(
                Act(
                    asked["name"],
                    asked["amount"],
                    asked["at_c"],
                    None if at_s is None else round(at_s * 1000),
                    asked["once"],
                )
            )
        elif what == "speed":
            self._pace.set_speed(asked["speed"])
        elif what in ("halt", "go"):
            getattr(self._pace, what)()
        elif what == "wait":
            if not 0 <= asked["seconds"] <= WAIT_MOST_S:
                raise SnapcurveError(f"Wait from 0 to {WAIT_MOST_S:.0f} s of the bench's time.")
            self._pace.wait(asked["seconds"])
        elif what == "replug":
            self._replug()
        if what in ("keep", "end") or asked.get("name") in ENDS:
            self.keep()
        return self.look()

    def look(self) -> dict[str, Any]:
        """What is seen, and how it is set out."""
        return {
            **self._practice.look(),
            "speed": self._pace.speed,
            "halted": self._pace.halted,
            "setting": setting_data(self._out.setting),
            "lesson": self._out.setting.lesson,
            "port": self._desk.port,
        }

    def _replug(self) -> None:
        if self._desk.interpreter != "MicroPython":
            raise SnapcurveError("Without MicroPython this board cannot be unplugged: let it run.")
        self._desk.restart(False)
        self._pace.wait(0.25)

    def _starts(self) -> tuple[tuple[int, float], ...]:
        """Each start of the board, also of one that its watchdog restarted: boot and bench
        seconds."""
        return tuple(enumerate((0.0, *self._desk.restarts_s), self._boot))

    def keep(self) -> None:
        """Write the diary if there is something new in it."""
        with self._keeping:
            practice = self._practice
            size = len(practice.truth) + len(practice.done) + len(practice.alarms)
            if size == self._kept:
                return
            self._kept = size
            start_s = time.monotonic()
            keep(diary_now(self._out, practice, self._board_id, self._starts()))
            end_s = time.monotonic()
            self._next_s = end_s + max(KEPT_EACH_S, (end_s - start_s) / KEPT_PART)

    def keep_now_and_then(self) -> None:
        """The same, if it was not done a moment ago."""
        if time.monotonic() >= self._next_s:
            self.keep()


def _loaded(desk: DeskBoard, out: SetOut) -> tuple[int, int]:
    """The board with its profile on it, as `snapcurve load` does it: number and boot."""
    with desk.answering() as board:
        board.set_clock(time.time())
        board.put_profile(out.profile)
        loaded.remember(data_folder(), out.profile, out.couverture)
        return board.greeting.board_id, board.greeting.boot


def serve(bench: Bench, listener: Listener) -> None:
    """Answer a program that proves to know the key."""
    while not bench.ended.is_set():
        try:
            line = listener.accept()
        except AuthenticationError:
            continue
        except (OSError, EOFError):
            bench.ended.wait(0.1)  # one that hung up, or no more files may be opened
            continue
        threading.Thread(target=_talk, args=[bench, line], daemon=True).start()


def _talk(bench: Bench, line: Connection) -> None:
    with line, contextlib.suppress(OSError, EOFError):
        while True:
            asked = json.loads(line.recv_bytes(65536))
            line.send_bytes(json.dumps(bench.answer(asked)).encode())
            if asked["ask"] == "end":
                bench.ended.set()  # the program that asked has its answer


def write_state(path: Path, state: dict[str, Any]) -> None:
    """For this user only: who knows the key may act."""
    beside = path.with_name(f".{secrets.token_hex(6)}.part")
    number = os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(number, "w") as file:
        json.dump(state, file)
    os.replace(beside, path)


def run(setting: Setting) -> None:
    """Set out what was asked for and answer until it is put away."""
    out = set_out_of(setting, load_settings().style)
    folder = made(data_folder() / "rehearsal")
    practice = Practice(out.couverture, out.state, out.situation.story if out.situation else "")
    pace = Pace(practice, setting.speed, setting.halted)
    key = secrets.token_bytes(32)
    with (
        lock(folder / "lock"),
        DeskBoard(folder / "flash", pace, "max", board=BOARD_NAME, keep=True) as desk,
        Listener(("127.0.0.1", 0), backlog=8, authkey=key) as listener,
    ):
        bench = Bench(out, desk, practice, pace)
        for name in (signal.SIGTERM, signal.SIGINT):
            signal.signal(name, lambda *_: bench.ended.set())
        threading.Thread(target=serve, args=[bench, listener], daemon=True).start()
        state = {"pid": os.getpid(), "at": listener.address, "key": key.hex(), "port": desk.port}
        write_state(folder / STATE, state)
        try:
            while not bench.ended.wait(LOOK_EACH_S):
                desk.check()
                bench.keep_now_and_then()
                if time.monotonic() - bench.used_s > UNUSED_S:
                    bench.ended.set()
        finally:
            (folder / STATE).unlink(missing_ok=True)
            pace.close()
            bench.keep()


if __name__ == "__main__":
    try:
        run(Setting(**json.loads(sys.argv[1])))
    except SnapcurveError as error:
        sys.exit(str(error))
