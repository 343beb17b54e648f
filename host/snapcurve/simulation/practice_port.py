"""The practice bench as commands and page have it: set out, found again, acted on, put away."""

import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from multiprocessing import AuthenticationError
from multiprocessing.connection import Client, Connection
from pathlib import Path
from typing import Any

from snapcurve.errors import LinkError, SnapcurveError, file_errors
from snapcurve.shown.folders import data_path, made
from snapcurve.shown.settings_file import load as load_settings
from snapcurve.simulation.practice_process import STATE
from snapcurve.simulation.practice_setting import Setting, set_out_of, setting_data

UP_WAIT_S = 120.0  # a program that starts on a busy computer; then something hangs
LOOK_EACH_S = 0.02
_GONE = "The practice bowl has been put away: set one out with 'snapcurve practise start'."


class PracticeBench:
    """The bench that is set out; each method answers with what is seen then (`Practice.look`).

    SnapcurveError with the sentence to show where something is refused, LinkError if the bench
    is gone.
    """

    def __init__(self, state: dict[str, Any]):
        self._address = (str(state["at"][0]), int(state["at"][1]))
        self._key = bytes.fromhex(state["key"])
        self.port = str(state["port"])
        self.pid = int(state["pid"])

    def _ask(self, ask: str, **values: Any) -> dict[str, Any]:
        try:
            with Client(self._address, authkey=self._key) as line:
                return self._answer(line, {"ask": ask, **values})
        except (OSError, EOFError, ValueError, AuthenticationError) as error:
            raise LinkError(_GONE) from error

    def _answer(self, line: "Connection[Any, Any]", asked: dict[str, Any]) -> dict[str, Any]:
        line.send_bytes(json.dumps(asked).encode())
        answer = json.loads(line.recv_bytes())
        if "error" in answer:
            raise SnapcurveError(answer["error"])
        look: dict[str, Any] = answer["look"]
        return look

    def look(self) -> dict[str, Any]:
        """What is seen now."""
        return self._ask("look")

    def act(
        self,
        name: str,
        amount: float | None = None,
        at_c: float | None = None,
        at_s: float | None = None,
        once: str | None = None,
    ) -> dict[str, Any]:
        """Do one of practice.ACTS, now or at ``at_s`` of the bench's time; what has the same
        ``once`` is done once."""
        return self._ask("act", name=name, amount=amount, at_c=at_c, at_s=at_s, once=once)

    def speed(self, speed: float) -> dict[str, Any]:
        """Let time run ``speed`` times as fast as the clock on the wall, 1 to 60."""
        return self._ask("speed", speed=speed)

    def halt(self) -> dict[str, Any]:
        """Let time stand still."""
        return self._ask("halt")

    def go(self) -> dict[str, Any]:
        """Let time run on."""
        return self._ask("go")

    def wait(self, seconds: float) -> dict[str, Any]:
        """Until so many seconds of the bench have passed; while time stands still it lets just
        these pass, at once."""
        return self._ask("wait", seconds=seconds)

    def replug(self) -> dict[str, Any]:
        """Take the board's power and give it back a second later; its port stays."""
        return self._ask("replug")

    def keep(self) -> dict[str, Any]:
        """Write the diary now; otherwise it is written every few seconds, and at the end."""
        return self._ask("keep")

    def end(self) -> None:
        """Put everything away; curves stay on the board until they are collected."""
        self._ask("end")
        deadline_s = time.monotonic() + UP_WAIT_S
        while _state_path().exists() and time.monotonic() < deadline_s:
            time.sleep(LOOK_EACH_S)


def _state_path() -> Path:
    return data_path() / "rehearsal" / STATE


def bench() -> PracticeBench | None:
    """The bench that is set out, None if none is."""
    try:
        found = PracticeBench(json.loads(_state_path().read_bytes()))
        found.look()
    except (OSError, ValueError, KeyError, TypeError, LinkError):
        return None
    return found


def the_bench() -> PracticeBench:
    """The bench that is set out; SnapcurveError if none is."""
    found = bench()
    if found is None:
        raise SnapcurveError(
            "No practice bowl is set out: 'snapcurve practise start milk' sets one out."
        )
    return found


def set_out(setting: Setting) -> PracticeBench:
    """Set a bench out. SnapcurveError if one is there, or the setting is wrong."""
    set_out_of(setting, load_settings().style)  # what is wrong with it is said first
    if bench() is not None:
        raise SnapcurveError(
            "A practice bowl is set out already: 'snapcurve practise end' puts it away."
        )
    folder = made(data_path() / "rehearsal")
    _state_path().unlink(missing_ok=True)  # of a bench that was killed
    said = folder / "bench.log"
    with file_errors(f"write {said}"), said.open("wb") as log:
        process = subprocess.Popen(
            [
                *(sys.executable, "-m", "snapcurve.simulation.practice_process"),
                json.dumps(setting_data(setting)),
            ],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
            creationflags=getattr(subprocess, "DETACHED_PROCESS", 0) if os.name == "nt" else 0,
        )
    deadline_s = time.monotonic() + UP_WAIT_S
    while time.monotonic() < deadline_s:
        if _state_path().exists() and (found := bench()) is not None:
            return found
        if process.poll() is not None:
            break
        time.sleep(LOOK_EACH_S)
    with suppress(OSError):
        process.kill()
    words = said.read_text(errors="replace").strip().splitlines() if said.exists() else []
    raise LinkError(words[-1] if words else "The practice bench did not start: try again.")
