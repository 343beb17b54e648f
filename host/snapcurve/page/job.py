"""A command that takes minutes and may ask a question: a bath's plateau, a response."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence

from snapcurve.errors import LinkError
from snapcurve.page.errands import checked, environment
from snapcurve.page.html import button_form, text
from snapcurve.page.keeper import Keeper

LINES_MOST = 60
QUESTION = "[y/N] "


class Job:
    """``words`` run with the board of ``keeper``, which is lent to them meanwhile."""

    def __init__(self, title: str, keeper: Keeper, words: Sequence[str]):
        self.title = title
        self._keeper = keeper
        self._words = checked(words)
        self._process: subprocess.Popen[bytes] | None = None
        self._said = ""
        self._stopped = False
        self.code: int | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            with self._keeper.lent(f"{self.title}: its readings stand under Probe."):
                self._follow()
        except (LinkError, OSError) as error:
            self._said += f"\n{error}"
            self.code = 1

    def _follow(self) -> None:
        command = [sys.executable, "-u", "-m", "snapcurve.page.limited", *self._words]
        process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=environment(),
        )
        self._process = process
        assert process.stdout is not None
        if self._stopped:
            process.terminate()
        while piece := os.read(process.stdout.fileno(), 4096):
            said = self._said + piece.decode("utf-8", "replace")
            self._said = "\n".join(said.split("\n")[-LINES_MOST:])
        code = process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()
        self.code = code

    @property
    def asking(self) -> bool:
        """Whether it waits for yes or no."""
        return self.code is None and self._said.endswith(QUESTION)

    @property
    def lines(self) -> list[str]:
        """What it said so far, the newest last."""
        return self._said.replace("snapcurve: ", "").split("\n")

    def answer(self, yes: bool) -> None:
        """Answer its question; nothing if it asks none."""
        if self.asking and self._process is not None and self._process.stdin is not None:
            self._said += "yes\n" if yes else "no\n"
            self._process.stdin.write(b"y\n" if yes else b"n\n")
            self._process.stdin.flush()

    def stop(self) -> None:
        """End it as Ctrl-C does: nothing is written."""
        self._stopped = True
        if self._process is not None and self.code is None:
            number = signal.SIGINT if os.name == "posix" else signal.SIGTERM
            self._process.send_signal(number)

    def html(self) -> str:
        """What it says, and what can be answered."""
        said = f'<pre class="lines" tabindex="0" aria-label="{text(self.title)}">'
        said += "\n".join(text(line) for line in self.lines) + "</pre>"
        if self.asking:
            yes = button_form("/probe/answer", "Yes, write it", {"word": "yes"}, "go")
            no = button_form("/probe/answer", "No", {"word": "no"}, "go")
            return f'{said}<div class="row">{yes}{no}</div>'
        if self.code is None:
            return said + button_form("/probe/stop", "Stop, write nothing", {}, "go")
        how = "Done." if self.code == 0 else "It ended, and nothing more was written."
        return f'{said}<p class="noted">{how}</p>'
