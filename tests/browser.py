"""A real browser for tests of the page: Debian's Chromium, driven by Playwright."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from tests.patience import LONGEST_S

ABSENT = "Chromium is missing: install Debian's package chromium"
LONGEST_MS = LONGEST_S * 1000
# A container has no sandbox of its own kind to give; nothing but our own page is opened.
OPTIONS = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--disable-gpu"]


def require() -> str:
    """Where Chromium is; a skip or, in CI, a failure where there is none."""
    found = shutil.which("chromium")
    if found is not None:
        return found
    if os.environ.get("CI") == "true":
        pytest.fail(ABSENT, pytrace=False)
    pytest.skip(ABSENT)


@contextmanager
def chromium() -> Iterator[Any]:
    """A running browser."""
    program = require()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=program, args=OPTIONS)
        yield running
        running.close()


@cache
def _axe() -> str:
    return (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")


def axe_findings(page: Any) -> list[str]:
    """What axe-core finds on a page: rule, and the place."""
    page.evaluate(_axe())
    found = page.evaluate("async () => (await axe.run()).violations")
    return [
        f"{one['id']} ({one['impact']}): {node['html'][:120]}"
        for one in found
        for node in one["nodes"]
    ]


class Listened:
    """A page whose console, errors and refused requests are noted; ``allowed`` begins those that
    are meant."""

    def __init__(self, context: Any):
        self.page = context.new_page()
        self.page.set_default_timeout(LONGEST_MS)
        self.said: list[str] = []
        self.page.on("console", lambda message: self.said.append(f"console: {message.text}"))
        self.page.on("pageerror", lambda error: self.said.append(f"error: {error}"))
        self.page.on("response", self._answered)

    def _answered(self, answer: Any) -> None:
        if answer.status >= 400:
            self.said.append(f"{answer.status}: {answer.url}")
