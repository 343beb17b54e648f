"""What the server works with: the benches, who is told of changes, and how commands are run."""

import asyncio
import secrets
import time
from collections.abc import Callable, Sequence
from typing import Any

from anyio import CapacityLimiter

from snapcurve.board.connection import REHEARSAL
from snapcurve.errors import SnapcurveError
from snapcurve.page import bench_screen, bowl
from snapcurve.page.errands import Errand
from snapcurve.page.job import Job
from snapcurve.page.keeper import Keeper
from snapcurve.page.pairing import Pairing
from snapcurve.page.told import Told
from snapcurve.shown.units import Style

STREAMS_MOST = 64
COMMANDS_MOST = 3  # at once, however many pages ask
BEAT_S = 0.5  # an event at least so often: a page knows within 3 s that nobody is there


class Hub:
    """Wakes every stream when something is new. All of it runs in the server's loop."""

    def __init__(self) -> None:
        self._sleepers: set[asyncio.Event] = set()
        self.ended = False

    def wake(self) -> None:
        """There is something new."""
        for one in self._sleepers:
            one.set()

    def end(self) -> None:
        """No more events: every stream ends."""
        self.ended = True
        self.wake()

    def join(self) -> asyncio.Event | None:
        """A stream's own bell; None if there are too many streams."""
        if len(self._sleepers) >= STREAMS_MOST:
            return None
        bell = asyncio.Event()
        self._sleepers.add(bell)
        return bell

    def leave(self, bell: asyncio.Event) -> None:
        """The stream has ended."""
        self._sleepers.discard(bell)

    async def news(self, bell: asyncio.Event) -> None:
        """Until there is something new, or BEAT_S."""
        try:
            await asyncio.wait_for(bell.wait(), BEAT_S)
        except TimeoutError:
            pass
        bell.clear()


class Site:
    """One run of the page. ``version`` tells its events from those of an earlier run."""

    def __init__(
        self,
        keepers: Sequence[Keeper],
        style: Style,
        errand: Errand,
        pairing: Pairing | None = None,
        clock: Callable[[], float] = time.monotonic,
    ):
        self.keepers = list(keepers)
        self.style = style
        self.errand = errand
        self.pairing = pairing or Pairing()
        self.hub = Hub()
        self.told = Told()
        self.limiter = CapacityLimiter(COMMANDS_MOST)
        self.version = secrets.token_hex(8)
        self.shared_at = ""  # the address for tablets, "" while the page is not shared
        self.fingerprint = ""
        self.job: Job | None = None
        self.bowl = bowl.BowlWatch()
        self._clock = clock
        self._cached: tuple[tuple[Any, ...], dict[str, str]] | None = None

    def keeper(self, number: int) -> Keeper:
        """The keeper of the ``number``-th bench, from 1 on; SnapcurveError if there is none."""
        if not 1 <= number <= len(self.keepers):
            raise SnapcurveError("There is no such bench: go back to Bench.")
        return self.keepers[number - 1]

    def practising(self) -> list[int]:
        """The numbers of the benches that have the practice bowl's board."""
        named = (None, REHEARSAL)
        return [number for number, one in enumerate(self.keepers, 1) if one.named in named]

    def parts(self) -> dict[str, str]:
        """What every bench shows now; made once for all streams."""
        now_s = self._clock()
        standings = tuple(one.standing for one in self.keepers)
        key = (*map(id, standings), id(self.bowl.seen), int(now_s * 4), standings, self.bowl.seen)
        if self._cached is not None and self._cached[0][:-2] == key[:-2]:
            return self._cached[1]
        found: dict[str, str] = {}
        for number, standing in enumerate(standings, start=1):
            found.update(bench_screen.parts(number, standing, now_s, self.style))
        look = self.bowl.seen.look
        if self.bowl.is_alive():  # a page that shows a bowl has to learn that it was put away
            found.update(bowl.parts(self.bowl.seen, self.version, self.style))
        if look is not None:
            for number in self.practising() if look["halted"] else ():
                found[f"{number}.next"] = "Time stands still at the practice bowl: let it go on."
        if self.job is not None:
            found["job"] = self.job.html()
        self._cached = key, found
        return found

    def sounds(self) -> dict[str, Any]:
        """What sounded last at every bench, for browsers to play."""
        found = {
            str(number): bench_screen.sound(one.standing)
            for number, one in enumerate(self.keepers, start=1)
        }
        return {key: value for key, value in found.items() if value is not None}
