"""Practise: a bowl one can act on, with the real firmware beside it, and lessons."""

import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from snapcurve.board.connection import REHEARSAL
from snapcurve.couvertures import available, user_folder
from snapcurve.couvertures.methods import MEANINGS
from snapcurve.errors import SnapcurveError
from snapcurve.page.bowl import PRESSES, SPEEDS, answer, parts
from snapcurve.page.forms import document, form_of
from snapcurve.page.html import button_form, choice, field, part, table, text
from snapcurve.page.keeper import Keeper
from snapcurve.page.prose import prose
from snapcurve.page.rooms import Room, option, outcome
from snapcurve.simulation.practice_port import bench, set_out
from snapcurve.simulation.practice_setting import Setting
from snapcurve.simulation.situations import situations

CAUTION = "Never leave a metal probe in a microwave oven: it comes out before every burst."
# Asked once more, without script: the button stands behind a fold.
PUT_AWAY = (
    "<details><summary>Put everything away</summary><p>The bowl is emptied and cannot be worked "
    "on. What the board recorded stays on it: collect it before or afterwards.</p>"
    + button_form("/practise/end", "Yes, put it away", {}, "")
    + "</details>"
)
_WHY = "A bowl is set out or put away; the reading comes back by itself."


class Practise(Room):
    """The room and its forms."""

    def routes(self) -> list[Route]:
        """Addresses of the room."""
        return [
            Route("/practise", self.room),
            Route("/practise/start", self.start, methods=["POST"]),
            Route("/practise/act", self.act, methods=["POST"]),
            Route("/practise/speed", self.speed, methods=["POST"]),
            Route("/practise/halt", self.halt, methods=["POST"]),
            Route("/practise/end", self.end, methods=["POST"]),
            Route("/practise/account", self.account),
            Route("/practise/account.pdf", self.account_pdf),
        ]

    async def room(self, request: Request) -> Response:
        """The bowl, or what can be set out."""
        site = self._site
        await anyio.to_thread.run_sync(site.bowl.wanted)
        if site.bowl.seen.look is None:
            main = await anyio.to_thread.run_sync(self._choices)
            return document(site, "Practise", "/practise", main)
        said = self.told(request).html
        return document(site, "Practise", "/practise", self._bowl(said), live=True)

    def _choices(self) -> str:
        named = [(one.id, one.name) for one in available(user_folder())]
        methods = [
            ("", "what suits the couverture"),
            *((one, f"{one}: {words}") for one, words in MEANINGS.items() if one != "cup"),
        ]
        speeds = [(str(one), f"{one} times as fast") for one in SPEEDS]
        lessons = "".join(
            f'<div class="plate"><h3>{text(one.name)}</h3><p>{text(one.story)}</p>'
            f"{_take(word, one.name)}</div>"
            for word, one in situations().items()
        )
        return (
            "<h1>Practise</h1><p>A bowl on this computer, the board's own firmware beside it: "
            "nothing can be spoilt. What the chocolate truly was is drawn over the curve "
            f'afterwards.</p><p class="caution">{CAUTION}</p>'
            '<form class="form plate" method="post" action="/practise/start"><div class="fields">'
            + choice("couverture", "Couverture", named, "milk")
            + choice("method", "Method", methods)
            + field("mass", "Pieces to melt", "1 kg")
            + field("beside", "Pieces beside it, as seed", "500 g")
            + field("room", "Room", self._site.style.degrees_words(21))
            + choice("speed", "Time runs", speeds, "10")
            + "</div><button>Set out a bowl</button></form>"
            '<p><a class="button" href="/practise/account">How the last one truly went</a></p>'
            f"<h2>Lessons: something is wrong</h2>{lessons}"
        )

    def _bowl(self, said: str) -> str:
        site = self._site
        number = site.keepers.index(self._keeper()) + 1
        shown = {**site.parts(), **parts(site.bowl.seen, site.version, site.style)}

        def place(name: str, tag: str = "div") -> str:
            return part(name, shown.get(name, ""), tag, class_=name.partition(".")[2])

        def reading(name: str, tag: str = "p") -> str:
            return place(f"{number}.{name}", tag)

        return (
            f'<div class="practise" data-bench="{number}"><div class="side"><div class="head">'
            f'<div role="status"><h1>{reading("phase", "span")}</h1></div>'
            f'<section class="reading" aria-label="Reading">{reading("figure")}'
            f'<p class="beside">{reading("unit", "span")}</p>{reading("condition")}</section>'
            f'<div class="todo" role="status">{reading("next")}</div>'
            f'<section aria-label="What to note on the board">{reading("acts", "div")}</section>'
            "</div>"
            f'<div class="times">{reading("minutes")}{reading("dip")}{reading("heard")}</div>'
            f'<section class="picture" aria-label="Curve">{reading("curve", "div")}</section>'
            '</div><div class="side">'
            f'<section class="plate" aria-label="The bowl">{place("bowl.seen")}</section>'
            f'<section aria-label="What to do">{place("bowl.doing")}'
            f"<details><summary>More to do</summary>{place('bowl.more')}</details>"
            f"<details><summary>What the presses say</summary><p>{PRESSES}</p></details></section>"
            f'<section aria-label="Time">{place("bowl.time")}</section>'
            '<div class="row"><form method="post" action="/after/collect">'
            f'<input type="hidden" name="bench" value="{number}">'
            "<button>Collect the batch</button></form>"
            '<a class="button" href="/practise/account">How it truly went</a>'
            f'</div>{PUT_AWAY}<div class="foot">{place("bowl.busy", "p")}'
            f'<p class="answer" role="status" id="answer">{said}</p></div></div></div>'
        )

    def _keeper(self) -> Keeper:
        for one in self._site.keepers:
            if one.named in (None, REHEARSAL):
                return one
        raise SnapcurveError(
            "The page was started for other boards: start it with --port rehearsal to practise."
        )

    async def _quietly(self, work: Callable[[], Any]) -> None:
        """Set out or put away, while nobody has the board."""

        def lent() -> None:
            with self._keeper().lent(_WHY):
                work()
            self._site.bowl.look()

        await anyio.to_thread.run_sync(lent, limiter=self._site.limiter)

    async def start(self, request: Request) -> Response:
        """Set a bowl out."""
        form = await form_of(request)
        style, usual = self._site.style, Setting()
        lesson = form.get("lesson") or None

        def grams(name: str, usual_g: float, what: str) -> float:
            given = form.get(name, "").strip()
            return style.parse_mass(given, what=what) if given else usual_g

        room = form.get("room", "").strip()
        setting = Setting(
            couverture=form.get("couverture", usual.couverture),
            method=form.get("method") or None,
            mass_g=grams("mass", usual.mass_g, "The mass"),
            pieces_g=grams("beside", usual.pieces_g, "What lies beside"),
            room_c=style.parse_room(room) if room else usual.room_c,
            speed=_speed(form),
            lesson=lesson,
        )
        if setting.couverture not in {one.id for one in available(user_folder())}:
            raise SnapcurveError("There is no such couverture: choose one of the list.")
        await self._quietly(partial(set_out, setting))
        return RedirectResponse("/practise", 303)

    async def act(self, request: Request) -> Response:
        """Do something at the bowl, once however often it is sent."""
        form = await form_of(request)
        amount = form.get("amount", "").strip()
        number = self._site.style.parse_number(amount, "The amount") if amount else None
        name, once = form.get("act", "")[:40], form.get("once", "")[:100] or None
        work = partial(_at_bowl, "act", name, number, once=once)
        return await self._done(request, work, partial(answer, name))

    async def speed(self, request: Request) -> Response:
        """How fast time runs."""
        speed = _speed(await form_of(request))
        return await self._done(request, partial(_at_bowl, "speed", speed), lambda _: "")

    async def halt(self, request: Request) -> Response:
        """Let time stand still, or go on."""
        word = "go" if (await form_of(request)).get("go") else "halt"
        return await self._done(request, partial(_at_bowl, word), lambda _: "")

    async def _done(
        self,
        request: Request,
        work: Callable[[], dict[str, Any]],
        words: Callable[[dict[str, Any]], str],
    ) -> Response:
        look = await anyio.to_thread.run_sync(work, limiter=self._site.limiter)
        await anyio.to_thread.run_sync(self._site.bowl.look)
        self._site.hub.wake()
        if request.headers.get("accept") == "application/json":
            return JSONResponse({"done": True, "said": words(look)})
        return self.tell("/practise", text(words(look)))

    async def end(self, request: Request) -> Response:
        """Put everything away; what is on the board stays there."""
        await self._quietly(partial(_at_bowl, "end"))
        return RedirectResponse("/practise", 303)

    async def account(self, request: Request) -> Response:
        """What was true, what was read, what would have been right."""
        learner = request.query_params.get("learner", "")
        came = await self.run("practise", "account", *option("learner", learner))
        body = _account(came.lines) if came.ok else outcome(came)
        form = (
            '<form class="row" method="get" action="/practise/account.pdf">'
            + field("learner", "Name on the paper", learner)
            + "<button>As PDF</button></form>"
        )
        back = '<p><a class="button" href="/practise">Back</a></p>'
        main = f"<h1>How it truly went</h1>{body}{form if came.ok else ''}{back}"
        return document(self._site, "Account", "/practise", main)

    async def account_pdf(self, request: Request) -> Response:
        """The same on paper."""
        words = [
            "practise",
            "account",
            *option("learner", request.query_params.get("learner", "")),
        ]
        return await self.file(words, "output", name="account.pdf", kind="application/pdf")


def _account(lines: Sequence[str]) -> str:
    """The lines of an account; its moments, which come last, as a table."""
    at = next((at for at, line in enumerate(lines) if line.split()[:1] == ["time"]), len(lines))
    rows = [re.split(" {2,}", line.strip()) for line in lines[at:] if line.strip()]
    cells = [[text(one) for one in row] for row in rows[1:]]
    moments = table(rows[0], cells, "What was read, and what was true") if rows else ""
    return prose(lines[:at]) + moments


def _take(word: str, name: str) -> str:
    return button_form("/practise/start", f"Take it: {name}", {"lesson": word}, "")


def _speed(form: dict[str, str]) -> float:
    given = form.get("speed", "10")
    if given not in {str(one) for one in SPEEDS}:
        raise SnapcurveError("There is no such speed: choose one of those that are offered.")
    return float(given)


def _at_bowl(what: str, *values: Any, **named: Any) -> dict[str, Any]:
    found = bench()
    if found is None:
        raise SnapcurveError("No practice bowl is set out: set one out under Practise.")
    look: dict[str, Any] = getattr(found, what)(*values, **named)
    return look
