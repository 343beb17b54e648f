"""Somebody new who tempers milk at the practice bowl by the page's buttons alone."""

import re
import time
from typing import Any

from tests.patience import LONGEST_S

PATIENCE = 200  # presses; a batch takes about fifty


class Learner:
    """Does what the page says, by what the page shows. ``heard`` is what sounded, in order."""

    def __init__(self, page: Any, origin: str):
        self.page = page
        self._origin = origin
        self.heard: list[str] = []

    # --- what is seen -----------------------------------------------------------------

    def words(self, place: str) -> str:
        """What stands in a place of the page."""
        return str(self.page.text_content(f".practise {place}") or "").strip()

    def number(self) -> float:
        """The large number, NaN if there is none."""
        found = self.words("p.figure").replace("–", "nan")
        return float(found)

    def clock_s(self) -> int:
        """The bowl's own time."""
        found = re.search(r"(\d+):(\d\d),", self.words(".seen"))
        assert found is not None
        return int(found[1]) * 60 + int(found[2])

    def listen(self) -> None:
        """Note what sounded last, if it is new."""
        name = self.words(".heard").partition(",")[0].removeprefix("♪ ")
        if name and self.heard[-1:] != [name]:
            self.heard.append(name)

    # --- what is done -----------------------------------------------------------------

    def press(self, label: str) -> None:
        """Press the button with this label, and wait for the answer."""
        self.page.evaluate("() => { document.getElementById('answer').textContent = ''; }")
        self.page.click(f"form.act button:text-is('{label}')")
        self.page.wait_for_function(
            "() => document.getElementById('answer').textContent !== ''", timeout=LONGEST_S * 1000
        )

    def wait(self, seconds: float) -> None:
        """Until so much of the bowl's time has passed; it listens meanwhile."""
        end_s, patience_s = self.clock_s() + seconds, time.monotonic() + LONGEST_S
        while self.clock_s() < end_s:
            assert time.monotonic() < patience_s, self.page.inner_text("main")
            self.page.wait_for_timeout(100)
            self.listen()

    def steady(self) -> float:
        """The chocolate's temperature once the probe has settled in it."""
        while "in the chocolate" not in self.words("p.condition"):
            self.wait(4)
        self.wait(8)
        return self.number()

    def melt(self) -> None:
        """Bursts, the probe out of the oven, until the page says to cool."""
        here_c = 21.0
        for _ in range(PATIENCE):
            burst = "40" if here_c < 38 else "20"
            self.press(f"Microwave {burst} s")
            self.wait(float(burst) + 2)
            self.press("Stir")
            self.wait(10)
            self.press("Probe in")
            self.wait(10)
            here_c = self.steady()
            if "pieces" in self.words("p.next"):
                return
            self.press("Probe out")
        raise AssertionError("it never melts")

    def seed(self) -> None:
        """Pieces until the chocolate is in its window."""
        for _ in range(PATIENCE):
            step = self.words("p.next")
            if "dip a blade" in step:
                return
            if step.startswith("Stir in pieces"):
                self.press("Stir in pieces 50 g")
            elif step.startswith(("Too cool", "Warm gently")):
                self.press("Hot air 15 s")
            self.wait(40)
        raise AssertionError("it never comes into its window")

    def dip(self) -> str:
        """A blade: dipped, noted, waited for, touched, and its result noted; what was seen."""
        self.press("Dip a blade")
        self.press("Blade dipped")
        for _ in range(PATIENCE):
            step = self.words("p.next")
            if "Touch the blade" in step:
                break
            if step.startswith("Too cool"):
                self.press("Hot air 15 s")
            self.wait(15)
        self.press("Touch the blade")
        # What was seen is in the answer; the stream brings it to the bowl's lines a moment later.
        seen = str(self.page.text_content("#answer"))
        self.press("Set, no mark" if "no finger mark" in seen else "Takes a mark")
        return seen
