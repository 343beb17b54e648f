"""The page's server: addresses and answers, streams, and an end that comes at once."""

import asyncio
import json
import signal
import socket
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib.resources import files
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

import anyio.to_thread
import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import (
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from snapcurve.errors import SnapcurveError
from snapcurve.page import bench_screen, html
from snapcurve.page.after import After
from snapcurve.page.before import Before
from snapcurve.page.forms import document, form_of
from snapcurve.page.guard import Door, Guard, TooLarge, secret_of
from snapcurve.page.practise import Practise
from snapcurve.page.pressed import on_page
from snapcurve.page.probe import Probe
from snapcurve.page.site import Site
from snapcurve.page.tablets import Tablets
from snapcurve.page.told import Tell

ASSETS = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "stream.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}
STOP_S = 3


class Benches:
    """The bench screens and their stream."""

    def __init__(self, site: Site):
        self._site = site

    def routes(self) -> list[Route]:
        """Addresses of the benches."""
        return [
            Route("/", self.first),
            Route("/bench/{number:int}", self.bench),
            Route("/bench/{number:int}/press", self.press, methods=["POST"]),
            Route("/events", self.events),
            Route("/assets/{name}", self.asset),
        ]

    async def first(self, request: Request) -> Response:
        """The first bench."""
        return self._screen(1)

    async def bench(self, request: Request) -> Response:
        """A bench by its number."""
        return self._screen(request.path_params["number"])

    def _screen(self, number: int) -> Response:
        site = self._site
        site.keeper(number)
        others = [
            (other, keeper.standing.port)
            for other, keeper in enumerate(site.keepers, start=1)
            if other != number
        ]
        main = bench_screen.screen(number, site.parts(), others)
        return document(site, "Bench", "/", main, live=True)

    async def press(self, request: Request) -> Response:
        """A button of the bench; once, however often it is sent."""
        number = request.path_params["number"]
        keeper = self._site.keeper(number)
        form = await form_of(request)
        turn = form.get("turn", "")
        if not (turn.isascii() and turn.isdigit() and len(turn) < 10):
            raise SnapcurveError("The form cannot be read: load the page anew.")
        done = await anyio.to_thread.run_sync(keeper.press, form.get("word", ""), int(turn))
        if request.headers.get("accept") == "application/json":
            return JSONResponse({"done": done.done, "said": done.said})
        if not done.done:
            raise SnapcurveError(done.said)
        return RedirectResponse(f"/bench/{number}", 303)

    async def events(self, request: Request) -> Response:
        """The stream of one browser: what changed, and a beat."""
        bell = self._site.hub.join()
        if bell is None:
            return PlainTextResponse("Too many pages are open: close some.", 503)
        door: Door = request.scope["snapcurve.door"]
        secret = secret_of(request.scope)

        def may_see() -> bool:
            return door.pairing is None or door.pairing.known(secret)

        return StreamingResponse(self._stream(bell, may_see), media_type="text/event-stream")

    async def _stream(
        self, bell: asyncio.Event, may_see: Callable[[], bool]
    ) -> AsyncIterator[str]:
        site, sent, sounded = self._site, dict[str, str](), dict[str, Any]()
        try:
            yield "retry: 500\n\n"
            while not site.hub.ended and may_see():
                now = {name: part for name, part in site.parts().items() if sent.get(name) != part}
                sounds = site.sounds()
                fresh = {key: one for key, one in sounds.items() if sounded.get(key) != one}
                data = {"version": site.version, "now": now, "sound": fresh}
                yield f"data: {json.dumps(data)}\n\n"
                sent.update(now)
                sounded = sounds
                await site.hub.news(bell)
        finally:
            site.hub.leave(bell)

    async def asset(self, request: Request) -> Response:
        """Style, script and icon: our own files and no others."""
        name = request.path_params["name"]
        if name not in ASSETS:
            return PlainTextResponse("There is no such file.", 404)
        data = (files("snapcurve.page") / "assets" / name).read_bytes()
        return Response(data, media_type=ASSETS[name])


def application(site: Site) -> Starlette:
    """All of the page behind one door or several; see `Guard`."""

    async def refused(request: Request, error: Exception) -> Response:
        said, status = str(error), 413 if isinstance(error, TooLarge) else 422
        if request.headers.get("accept") == "application/json":
            # An answer like any other to the page's own script; as an error of the network it
            # would stand in the browser's console.
            return JSONResponse({"done": False, "said": on_page(said)})
        back = f'<p><a class="button" href="{html.text(_came_from(request))}">Back</a></p>'
        said = f'<p class="refused" role="alert">{html.text(on_page(said))}</p>{back}'
        if request.method == "POST" and status != 413:  # of that the rest never came
            word = site.told.keep(Tell(said, status))
            return RedirectResponse(f"/refused?said={word}", 303)
        return _refused(site, Tell(said, status))

    async def refusal(request: Request) -> Response:
        tell = site.told.of(request.query_params.get("said", ""))
        return _refused(site, tell) if tell.html else RedirectResponse("/", 303)

    async def missing(request: Request, error: Exception) -> Response:
        main = '<h1>There is no such page</h1><p><a class="button" href="/">Bench</a></p>'
        page = document(site, "No such page", "", main)
        page.status_code = 404
        return page

    return Starlette(
        routes=[
            one
            for room in (Benches, Before, Practise, After, Probe, Tablets)
            for one in room(site).routes()
        ]
        + [Route("/refused", refusal)],
        exception_handlers={SnapcurveError: refused, 404: missing},
    )


def _refused(site: Site, tell: Tell) -> Response:
    main = f"<h1>That did not work</h1>{tell.html}"
    return document(site, "That did not work", "", main, status=tell.status)


def _came_from(request: Request) -> str:
    """The page of ours on which a form or link stood, or else its room."""
    found = urlsplit(request.headers.get("referer", ""))
    if found.netloc == request.headers.get("host") and found.path.startswith("/"):
        asked = urlencode([one for one in parse_qsl(found.query) if one[0] != "said"])
        return f"{found.path}?{asked}" if asked else found.path
    room = f"/{request.url.path.split('/')[1]}"
    return room if room in dict(html.ROOMS) else "/"


# --- listening ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Listening:
    """One socket of the page, the door behind it, and certificate and key where it has TLS."""

    door: Door
    socket: socket.socket
    certificate: str | None = None
    key: str | None = None


def listen(host: str, port: int) -> socket.socket:
    """A socket at ``host``; SnapcurveError if the port is taken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except (OSError, OverflowError) as error:
        raise SnapcurveError(
            f"Port {port} of {host} is not free: another page may be open there, or choose "
            "another with --at."
        ) from error


class _Server(uvicorn.Server):
    """Signals are dealt with in one place for all servers."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


async def serve(site: Site, listening: Sequence[Listening]) -> None:
    """Until Ctrl-C or a request to end: then streams end first, since a server waits for them."""
    app = application(site)
    loop = asyncio.get_running_loop()
    servers = [
        _Server(
            uvicorn.Config(
                Guard(app, one.door),
                loop="asyncio",
                http="h11",
                ws="none",
                lifespan="off",
                access_log=False,
                log_config=None,
                server_header=False,
                timeout_graceful_shutdown=STOP_S,
                limit_concurrency=256,
                ssl_certfile=one.certificate,
                ssl_keyfile=one.key,
            )
        )
        for one in listening
    ]

    def stop() -> None:
        site.hub.end()
        site.bowl.end()
        if site.job is not None:
            site.job.stop()
        for server in servers:
            server.should_exit = True

    for keeper in site.keepers:
        keeper.changed = lambda: _wake(loop, site)
    for number in (signal.SIGINT, signal.SIGTERM):
        try:
            loop.add_signal_handler(number, stop)
        except NotImplementedError:  # Windows
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop))
    await asyncio.gather(
        *(server.serve([one.socket]) for server, one in zip(servers, listening, strict=True))
    )


def _wake(loop: asyncio.AbstractEventLoop, site: Site) -> None:
    with suppress(RuntimeError):  # the loop has ended
        loop.call_soon_threadsafe(site.hub.wake)
