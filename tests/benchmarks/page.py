"""``python -m tests.benchmarks page``: how soon a reading stands on the page, and what a long day
costs.

Latency: a board in this process sends a reading with a number of its own; the time until that
number stands in the browser's document. Load: what the browser takes of a core at ten readings a
second. Growth: updates at a much higher pace than a board has; memory of the process that serves,
before and after, by /proc (Linux only). ``--updates N`` says how many (145,000 are four hours at
ten a second), ``--pages N`` how many are open.
"""

import argparse
import os
import sys
import threading
import time
from pathlib import Path

from snapcurve.page.keeper import Keeper
from snapcurve.page.site import Site
from snapcurve.shown.units import PLAIN
from tests.browser import chromium

sys.path.append(str(Path(__file__).parents[1] / "host"))
from page_board import PageBoard
from page_served import Served

READINGS = 150
EACH_S = 0.25  # a board's own pace
UPDATES = 20_000
TEN_A_SECOND, LOAD_S = 10, 20
WAITING = """(words) => new Promise((done) => {
  const place = document.querySelector('[data-part="1.figure"]');
  const look = () => place.textContent === words && (seen.disconnect(), done(Date.now()));
  const seen = new MutationObserver(look);
  seen.observe(place, {childList: true, subtree: true, characterData: true});
  look();
})"""


def main(words: list[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks page")
    parser.add_argument("--updates", type=int, default=UPDATES)
    parser.add_argument("--pages", type=int, default=1)
    arguments = parser.parse_args(words)
    board = PageBoard()
    keeper = Keeper("/dev/bench", board.connect, PLAIN)
    site = Site([keeper], PLAIN, None)
    with Served(site) as served, chromium() as browser:
        served.wake(keeper)
        keeper.start()
        pages = [browser.new_page() for _ in range(arguments.pages)]
        for page in pages:
            page.goto(served.origin)
        _latency(board, pages[0])
        _load(board)
        _growth(board, pages[0], arguments.updates)
        keeper.end()
        keeper.join()
    return 0


def _latency(board: PageBoard, page) -> None:
    took_ms = []
    for count in range(READINGS):
        centi = 2500 + count * 10
        sent: list[float] = []
        timer = threading.Timer(EACH_S, lambda c=centi, s=count, out=sent: _send(board, c, s, out))
        timer.start()
        seen_ms = page.evaluate(WAITING, f"{centi / 100:.1f}")
        timer.join()
        took_ms.append(seen_ms - sent[0] * 1000)
    took_ms.sort()
    print(
        f"wire to number, {READINGS} readings: median {took_ms[len(took_ms) // 2]:.0f} ms, "
        f"99 % {took_ms[int(len(took_ms) * 0.99)]:.0f} ms, worst {took_ms[-1]:.0f} ms (aim: 300)"
    )


def _send(board: PageBoard, centi: int, second: int, sent: list[float]) -> None:
    sent.append(time.time())
    board.show(uptime_s=1000 + second, estimate_centi_c=centi)


def _load(board: PageBoard) -> None:
    start_s, before_s, own_s = time.monotonic(), _descendants_s(), time.process_time()
    for count in range(round(LOAD_S * TEN_A_SECOND)):
        board.show(uptime_s=3000 + count, estimate_centi_c=3000 + count % 200)
        time.sleep(1 / TEN_A_SECOND)
    took_s = time.monotonic() - start_s
    print(
        f"{TEN_A_SECOND} readings a second for {took_s:.0f} s: browser "
        f"{(_descendants_s() - before_s) / took_s:.1%} of a core (aim: 25 %), this process "
        f"{(time.process_time() - own_s) / took_s:.1%}"
    )


def _descendants_s() -> float:
    """CPU seconds of all processes that this one has started, and theirs (Linux only)."""
    spent, parents = {}, {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has just ended
        number = int(stat.parent.name)
        parents[number] = int(fields[1])
        spent[number] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    ours = {os.getpid()}
    while grown := {one for one, parent in parents.items() if parent in ours} - ours:
        ours |= grown
    return sum(spent[one] for one in ours - {os.getpid()})


def _growth(board: PageBoard, page, updates: int) -> None:
    warm = max(1000, updates // 10)
    start_s = time.process_time()
    before = after = 0.0
    heap = "() => performance.memory ? performance.memory.usedJSHeapSize / 1e6 : 0"
    before_heap = 0.0
    for count in range(updates):
        board.show(uptime_s=5000 + count, estimate_centi_c=3000 + count % 200)
        if count % 20 == 0:
            time.sleep(0.02)
        if count == warm:
            before, before_heap = _private_mib(), page.evaluate(heap)
    page.wait_for_timeout(2000)
    after = _private_mib()
    spent_s = time.process_time() - start_s
    print(
        f"{updates} updates: this process {before:.1f} MiB after {warm}, {after:.1f} MiB at the "
        f"end ({(after / before - 1) * 100:+.1f} %, aim: within 20 %); script "
        f"{before_heap:.1f} to {page.evaluate(heap):.1f} MB; "
        f"{spent_s / updates * 1000:.2f} ms of this process each"
    )


def _private_mib() -> float:
    """Memory that is this process's own, in MiB."""
    text = Path("/proc/self/smaps_rollup").read_text()
    lines = [line.split() for line in text.splitlines() if line.startswith("Private_")]
    return sum(int(one[1]) for one in lines) / 1024
