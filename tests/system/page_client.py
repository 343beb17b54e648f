"""The page as its own program, and what a browser would ask of it."""

import http.client
import json
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlencode

from running import Bench

from tests.patience import LONGEST_S

ADDRESS = re.compile(r"http://127\.0\.0\.1:(\d+)")


class Page:
    """A running ``snapcurve page``."""

    def __init__(self, process: "subprocess.Popen[str]"):
        self.process = process
        assert process.stdout is not None
        line = process.stdout.readline()
        found = ADDRESS.search(line)
        assert found, (line, process.stderr and process.stderr.read())
        self.number = int(found[1])
        self.origin = found[0]

    def connection(self) -> http.client.HTTPConnection:
        """A connection of its own."""
        return http.client.HTTPConnection("127.0.0.1", self.number, timeout=LONGEST_S)

    def ask(self, path: str, form: dict[str, Any] | None = None) -> tuple[int, str]:
        """Status and text of an answer; with a form a post from our own page."""
        with_body = {} if form is None else {"body": urlencode(form)}
        headers = {"Accept": "application/json"}
        if form is not None:
            headers["Origin"] = self.origin
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection = self.connection()
        connection.request("GET" if form is None else "POST", path, headers=headers, **with_body)
        answer = connection.getresponse()
        text, self.onward = answer.read().decode(), answer.getheader("location") or ""
        connection.close()
        return answer.status, text

    def send(self, path: str, form: dict[str, Any]) -> tuple[int, str]:
        """Post a form and go on to where it leads, as a browser does."""
        status, said = self.ask(path, form)
        assert status == 303, said
        return self.ask(self.onward)

    def events(self, connection: http.client.HTTPConnection) -> Iterator[dict[str, Any]]:
        """The events of a stream on ``connection``."""
        connection.request("GET", "/events")
        answer = connection.getresponse()
        assert answer.status == 200
        for line in answer:
            if line.startswith(b"data: "):
                yield json.loads(line[6:])

    def until(self, name: str, words: str) -> str:
        """Wait for ``words`` to stand in a part of the page."""
        connection = self.connection()
        end_s = time.monotonic() + LONGEST_S
        last = ""
        try:
            for event in self.events(connection):
                last = event["now"].get(name, last)
                if words in last:
                    return last
                if time.monotonic() > end_s:
                    break
        finally:
            connection.close()
        raise AssertionError(f"{words!r} did not come; last {last!r}")

    def end(self, number: int = signal.SIGINT) -> tuple[int, str]:
        """Stop it; exit code and what it complained of."""
        self.process.send_signal(number)
        _, said = self.process.communicate(timeout=LONGEST_S)
        return self.process.returncode, said


@contextmanager
def page(bench: Bench, *words: str, at: int = 0) -> Iterator[Page]:
    """A page that is ended in any case."""
    process = bench.start("page", "--no-open", "--at", str(at), *words)
    try:
        yield Page(process)
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate(timeout=LONGEST_S)
