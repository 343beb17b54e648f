"""What the rooms beside the bench have in common: running commands, and saying what came of it."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import anyio
import anyio.to_thread
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from snapcurve.errors import SnapcurveError
from snapcurve.page import errands
from snapcurve.page.boards import port_of
from snapcurve.page.errands import Came
from snapcurve.page.html import choice, text
from snapcurve.page.keeper import Keeper
from snapcurve.page.prose import prose
from snapcurve.page.site import Site
from snapcurve.page.told import Tell


class Room:
    """One room of the page."""

    def __init__(self, site: Site):
        self._site = site

    async def run(self, *words: str) -> Came:
        """A command that needs no board."""
        return await self._aside(partial(self._site.errand, words))

    async def on_board(self, bench: str, why: str, *words: str) -> Came:
        """A command that needs the board of a bench, which is lent to it meanwhile."""
        keeper = self.keeper(bench)
        return await self._aside(partial(self._lent, keeper, why, words))

    async def _aside(self, work: Callable[[], Came]) -> Came:
        """In a thread, and not more at once than this computer can bear."""
        return await anyio.to_thread.run_sync(work, limiter=self._site.limiter)

    async def file(
        self, words: Sequence[str], into: str, *more: str, name: str, kind: str
    ) -> Response:
        """The file that a command writes with its option ``into``; ``more`` comes behind that."""
        with errands.folder() as folder:
            path = folder / name
            came = await self.run(*words, f"--{into}={path}", *more)
            if not came.ok:
                raise SnapcurveError(came.refusal)
            data = await anyio.Path(path).read_bytes()
        headers = {"content-disposition": f'inline; filename="{name}"'}
        return Response(data, media_type=kind, headers=headers)

    def tell(
        self, path: str, html: str, status: int = 200, typed: Mapping[str, str] | None = None
    ) -> Response:
        """The answer to a form: on to ``path``, which says ``html`` with ``status`` and gives back
        what was ``typed``; `Told` says why."""
        word = self._site.told.keep(Tell(html, status, typed or {}))
        return RedirectResponse(f"{path}{'&' if '?' in path else '?'}said={word}", 303)

    def told(self, request: Request) -> Tell:
        """What a page has to say of the form before it."""
        return self._site.told.of(request.query_params.get("said", ""))

    def keeper(self, bench: str) -> Keeper:
        """The keeper of the bench that a form names, the first if it names none."""
        number = bench or "1"
        if not (number.isascii() and number.isdigit() and len(number) < 4):
            raise SnapcurveError("There is no such bench: go back to Bench.")
        return self._site.keeper(int(number))

    def _lent(self, keeper: Keeper, why: str, words: Sequence[str]) -> Came:
        with keeper.lent(why):
            return self._site.errand([words[0], *port_words(keeper), *words[1:]])

    def which_bench(self) -> str:
        """A choice of bench where there are several."""
        if len(self._site.keepers) == 1:
            return ""
        options = [
            (str(number), f"{number}: {one.standing.port}")
            for number, one in enumerate(self._site.keepers, start=1)
        ]
        return choice("bench", "Bench", options)


def port_words(keeper: Keeper) -> list[str]:
    """How a command is told of the board of ``keeper``."""
    port = port_of(keeper.named)
    return [] if port is None else [f"--port={port}"]


def outcome(came: Came) -> str:
    """What a command said: done, or refused with its sentence."""
    if came.ok:
        return f'<div class="noted" role="status">{prose(came.lines)}</div>'
    return f'<p class="refused" role="alert">{text(came.refusal)}</p>'


def option(name: str, value: str) -> list[str]:
    """``--name=value`` in one word, so that no value is taken for an option; nothing for an
    empty one."""
    return [f"--{name}={value.strip()}"] if value.strip() else []
