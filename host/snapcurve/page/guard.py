"""The door of the page: who may ask, from which page, and how much; and what a browser may do with
the answer. Plain ASGI: middleware that wraps answers in tasks hides a reader that went away.

- Host must be one of our own names, or another site's name may be pointed at this computer (DNS
  rebinding).
- A post must come from a page of our own: Origin is compared whole, and "null" and none are
  refused, since over plain http a LAN address sends no other word of where it comes from.
- Behind the door for tablets nothing is shown before pairing.
"""

from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.page.pairing import Pairing

CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", CSP.encode()),
    (b"cache-control", b"no-store"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),  # with none our own forms have the origin "null"
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
)
COOKIE = "snapcurve"
FORM_BYTES_MAX = 64 << 10
PICTURE_BYTES_MAX = (8 << 20) + FORM_BYTES_MAX
PICTURE_END = "/picture"
_BEFORE_PAIRING = ("/pair", "/assets/page.css", "/assets/icon.svg")

TOO_LARGE = 413, "That is larger than snapcurve takes: choose less."

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


@dataclass(frozen=True)
class Door:
    """One address the page listens at: the origins it is known by ("http://127.0.0.1:8017"), and
    the pairing that lets tablets through; None: it is this computer's own."""

    origins: tuple[str, ...]
    pairing: Pairing | None = None

    @property
    def hosts(self) -> set[str]:
        """What a Host header may say."""
        return {origin.partition("://")[2] for origin in self.origins}


class TooLarge(SnapcurveError):
    """More came than may."""


class Guard:
    """Lets through what may pass, and puts HEADERS on every answer."""

    def __init__(self, app: App, door: Door):
        self._app = app
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # there are no other kinds of connection here

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                ours = {name for name, _ in HEADERS}
                others = [one for one in message.get("headers", ()) if one[0].lower() not in ours]
                message = {**message, "headers": [*others, *HEADERS]}
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await _answer(dressed, *refusal)
            return
        limit = _limit(scope)
        got = 0

        async def limited() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > limit:
                raise TooLarge(TOO_LARGE[1])
            return message

        await self._app({**scope, "snapcurve.door": self._door}, limited, dressed)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = _headers(scope)
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0] not in self._door.hosts:
            return 400, "This is not an address of snapcurve: use the one it printed."
        if scope["method"] not in ("GET", "HEAD"):
            origins = headers.get("origin", [])
            if scope["method"] != "POST":
                return 405, "snapcurve takes no such request."
            if len(origins) != 1 or origins[0] not in self._door.origins:
                return 403, "This did not come from a page of snapcurve, so nothing was done."
        if _embedded(headers):
            return 403, "This belongs to a page of snapcurve, and another page asked for it."
        lengths = headers.get("content-length", [])
        if any(not one.isdigit() or int(one[:20]) > _limit(scope) for one in lengths):
            return TOO_LARGE
        return self._unpaired(scope)

    def _unpaired(self, scope: Scope) -> tuple[int, str] | None:
        pairing = self._door.pairing
        if pairing is None or scope["path"] in _BEFORE_PAIRING or pairing.known(secret_of(scope)):
            return None
        return 401, "This tablet is not paired. Open /pair and type the computer's code."


def _embedded(headers: dict[str, list[str]]) -> bool:
    """Whether another site's page wants a part of ours, such as a picture. A link to us may stand
    anywhere; and where a browser does not say, its own rules keep the answer from that page."""
    foreign = headers.get("sec-fetch-site", [""])[0] in ("cross-site", "same-site")
    return foreign and headers.get("sec-fetch-mode", [""])[0] != "navigate"


def _limit(scope: Scope) -> int:
    return PICTURE_BYTES_MAX if scope["path"].endswith(PICTURE_END) else FORM_BYTES_MAX


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def secret_of(scope: Scope) -> str:
    """What a tablet sends to say that it was let in, "" if nothing."""
    try:
        cookie = SimpleCookie("; ".join(_headers(scope).get("cookie", [])))
    except CookieError:
        return ""
    return cookie[COOKIE].value if COOKIE in cookie else ""


async def _answer(send: Send, status: int, words: str) -> None:
    if status == 401:
        body = (
            '<!doctype html><html lang="en"><title>snapcurve</title>'
            '<link rel="stylesheet" href="/assets/page.css"><main><h1>snapcurve</h1>'
            f'<p>{words}</p><p><a class="button" href="/pair">Pair this tablet</a></p></main>'
        ).encode()
        kind = b"text/html; charset=utf-8"
    else:
        body, kind = words.encode(), b"text/plain; charset=utf-8"
    head = [(b"content-type", kind), (b"content-length", str(len(body)).encode())]
    head.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": head})
    await send({"type": "http.response.body", "body": body})
