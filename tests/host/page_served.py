"""The page served from a thread, so that a browser can look at benches that a test arranges."""

import asyncio
import threading

import uvicorn

from snapcurve.page.guard import Door, Guard
from snapcurve.page.server import application, listen
from snapcurve.page.site import Site
from tests.patience import LONGEST_S


class _Server(uvicorn.Server):
    """Says which loop it runs in."""

    loop = None

    async def serve(self, sockets=None):
        self.loop = asyncio.get_running_loop()
        await super().serve(sockets)


class Served:
    """A site behind a real socket, with a door of its own."""

    def __init__(self, site: Site):
        self.site = site
        self._socket = listen("127.0.0.1", 0)
        self.origin = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        app = Guard(application(site), Door((self.origin,)))
        config = uvicorn.Config(
            app, loop="asyncio", http="h11", ws="none", lifespan="off", log_config=None
        )
        self._server = _Server(config)
        self._thread = threading.Thread(
            target=self._server.run, args=[[self._socket]], daemon=True
        )

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self.site.hub.ended = True  # each stream sees it at its next beat
        self._server.should_exit = True
        self._thread.join(LONGEST_S)

    def wake(self, keeper):
        """Have news of ``keeper`` reach the pages at once, as `serve` does."""
        keeper.changed = lambda: self._server.loop.call_soon_threadsafe(self.site.hub.wake)
