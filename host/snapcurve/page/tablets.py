"""Pairing a tablet: what the computer shows of it, and what the tablet shows before."""

import socket

import segno
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from snapcurve.errors import SnapcurveError
from snapcurve.page.forms import document, form_of
from snapcurve.page.guard import COOKIE, Door, TooLarge
from snapcurve.page.html import button_form, field, table, text
from snapcurve.page.pairing import CODE_S, DEVICE_S
from snapcurve.page.site import Site
from snapcurve.page.told import Tell, Told

ANYWHERE = "192.0.2.1"  # of a block that belongs to nobody (RFC 5737): nothing is sent there


def own_address() -> str:
    """This computer's address in its network. SnapcurveError if it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect((ANYWHERE, 9))
            address = str(trial.getsockname()[0])
        except OSError:
            address = ""
    if not address or address.startswith("127."):
        raise SnapcurveError(
            "This computer is in no network that a tablet could be in: connect it, then share."
        )
    return address


def qr(words: str) -> str:
    """The code of ISO/IEC 18004 for ``words``, as SVG without styles of its own."""
    drawn: str = segno.make(words, error="m").svg_inline(omitsize=True, dark="#000", border=2)
    return drawn


class Tablets:
    """The room in which tablets are let in and removed; only this computer has it."""

    def __init__(self, site: Site):
        self._site = site
        self._told = Told()  # of its own: who is not let in yet shall not push out others' answers

    def routes(self) -> list[Route]:
        """Addresses of the room, and that of the tablet's first page."""
        return [
            Route("/tablet", self.room),
            Route("/tablet/code", self.code, methods=["POST"]),
            Route("/tablet/remove", self.remove, methods=["POST"]),
            Route("/pair", self.pair, methods=["GET", "POST"]),
        ]

    def _only_here(self, request: Request) -> None:
        door: Door = request.scope["snapcurve.door"]
        if door.pairing is not None:
            raise SnapcurveError("Tablets are let in and removed on the computer itself.")

    async def room(self, request: Request) -> Response:
        """Code, address and the tablets that are in."""
        self._only_here(request)
        return document(self._site, "Tablet", "", self._main())

    def _main(self) -> str:
        site, pairing = self._site, self._site.pairing
        if not site.shared_at:
            return (
                "<h1>Tablet</h1><p>The page is for this computer only. "
                "“snapcurve page --share” opens it to a tablet in the same network.</p>"
            )
        code = pairing.code
        if code:
            link = f"{site.shared_at}/pair?code={code}"
            shown = (
                f"<p>On the tablet open <strong>{text(site.shared_at)}/pair</strong> and type</p>"
                f'<p class="code">{text(f"{code[:4]} {code[4:]}")}</p>'
                f'<div class="qr" role="img" aria-label="Code to scan">{qr(link)}</div>'
                f"<p>It counts once, for {CODE_S / 60:.0f} minutes.</p>"
            )
        else:
            shown = "<p>No code counts now.</p>"
        line = site.fingerprint and (
            "<p>The tablet warns that it does not know this computer. Compare the certificate's "
            f"SHA-256 fingerprint before you go on:</p><p>{text(site.fingerprint)}</p>"
        )
        if not line:
            from snapcurve.page.certificate import NOT_ENCRYPTED

            line = f'<p class="caution">{text(NOT_ENCRYPTED)}</p>'
        rows = [
            [
                text(one.number),
                text(one.name),
                button_form("/tablet/remove", f"Remove {one.number}", {"number": one.number}, ""),
            ]
            for one in pairing.devices()
        ]
        hours = f"{DEVICE_S / 3600:.0f}"
        listed = table(("Tablet", "Browser", ""), rows, f"Let in, for {hours} hours at most")
        return (
            f"<h1>Tablet</h1>{shown}{button_form('/tablet/code', 'New code', {}, '')}{line}"
            f"{listed if rows else '<p>No tablet is in.</p>'}"
        )

    async def code(self, request: Request) -> Response:
        """Make a new code."""
        self._only_here(request)
        if self._site.shared_at:
            self._site.pairing.new_code()
        return RedirectResponse("/tablet", 303)

    async def remove(self, request: Request) -> Response:
        """Remove a tablet; its open pages end."""
        self._only_here(request)
        number = (await form_of(request)).get("number", "")
        if number.isascii() and number.isdigit() and len(number) < 10:
            self._site.pairing.remove(int(number))
            self._site.hub.wake()
        return RedirectResponse("/tablet", 303)

    async def pair(self, request: Request) -> Response:
        """The tablet's first page: type the code, be let in."""
        if request.method == "GET":
            given = request.query_params.get("code", "")
            tell = self._told.of(request.query_params.get("said", ""))
            main = (
                f"<h1>Pair this tablet</h1>{tell.html}"
                '<form method="post" action="/pair" class="form">'
                + field(
                    "code",
                    "Code on the computer",
                    given[:20],
                    "Eight digits, under “Let a tablet in”",
                    inputmode="numeric",
                    autocomplete="off",
                )
                + "<button>Pair</button></form>"
            )
            return document(self._site, "Pair", "", main, script=False, status=tell.status)
        name = request.headers.get("user-agent", "")
        try:
            code = (await form_of(request)).get("code", "")
            secret = self._site.pairing.admit(code[:40], name)
        except TooLarge:
            raise
        except SnapcurveError as error:
            said = f'<p class="refused" role="alert">{text(error)}</p>'
            word = self._told.keep(Tell(said, 422))
            return RedirectResponse(f"/pair?said={word}", 303)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            COOKIE,
            secret,
            max_age=int(DEVICE_S),
            secure=request.url.scheme == "https",
            httponly=True,
            samesite="strict",
        )
        return answer
