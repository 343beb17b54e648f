"""Before the bowl: which couverture, what to weigh, what holds for the day, and load."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import anyio
import anyio.to_thread
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from snapcurve.advice.correction_words import SHOWED
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.checking_file import parse
from snapcurve.couvertures.methods import MEANINGS
from snapcurve.errors import SnapcurveError
from snapcurve.page.errands import Came
from snapcurve.page.forms import document, form_of
from snapcurve.page.html import area, choice, field, table, text
from snapcurve.page.prose import prose
from snapcurve.page.rooms import Room, option, outcome
from snapcurve.shown.folders import made
from snapcurve.shown.whole_files import write_whole

DAY = ("room", "mass", "place", "operator")
METHODS = [(one, f"{one}: {words}") for one, words in MEANINGS.items()]
BOWLS = ("plastic", "glass", "ceramic", "steel", "aluminium")
_ID = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?")
TEXT_MAX = 16_000


class Before(Room):
    """The room and its forms."""

    def routes(self) -> list[Route]:
        """Addresses of the room."""
        return [
            Route("/before", self.room),
            Route("/before/plan", self.plan),
            Route("/before/rescue", self.rescue),
            Route("/before/load", self.load, methods=["POST"]),
            Route("/before/today", self.today, methods=["POST"]),
            Route("/before/lot", self.lot, methods=["POST"]),
            Route("/before/couverture", self.couverture, methods=["GET", "POST"]),
        ]

    async def room(self, request: Request) -> Response:
        """Everything for the start of a batch."""
        tell, asked = self.told(request), request.query_params
        chosen, method = asked.get("couverture", "milk"), asked.get("method", "seeding")
        came: dict[str, Came] = {}

        async def ask(name: str, *words: str) -> None:
            came[name] = await self.run(*words)

        async with anyio.create_task_group() as group:
            group.start_soon(ask, "couvertures", "couvertures", "--json")
            group.start_soon(ask, "today", "today")
        found = came["couvertures"].json()
        main = (
            f"<h1>Before the bowl</h1>{tell.html}"
            f"{self._loading(found, chosen, method)}"
            f"<h2>For today</h2>{prose(came['today'].lines)}"
            f"{_today_form(tell.typed)}{_lot_form(tell.typed)}"
            f"{self._shelf(found)}"
        )
        return document(self._site, "Before", "/before", main, status=tell.status)

    def _loading(self, found: list[dict[str, Any]], chosen: str, method: str) -> str:
        named = [(one["id"], one["name"]) for one in found]
        fields = (
            '<div class="fields">'
            + choice("couverture", "Couverture", named, chosen)
            + choice("method", "Method", METHODS, method)
            + self.which_bench()
            + field("mass", "Finished chocolate", "1 kg", "Such as 1.2kg or 850g")
            + field("room", "Room", "", "Temperature; left empty: 20 °C")
            + field("watts", "Microwave, W", "", "0: melted in some other way")
            + choice("bowl", "Bowl", [(one, one) for one in BOWLS], "plastic")
            + "</div>"
        )
        return (
            f'<form class="form plate" method="get" action="/before/plan">{fields}'
            '<p class="row"><button>Plan it</button>'
            '<button formmethod="post" formaction="/before/load">Load it onto the board</button>'
            "</p></form>"
        )

    def _shelf(self, found: list[dict[str, Any]]) -> str:
        style = self._site.style
        rows = [
            [
                f'<a href="/before/couverture?id={text(one["id"])}">{text(one["name"])}</a>',
                text(style.degrees_words(one["melt_c"])),
                text(style.window(*one["work_c"])),
                text(style.degrees_words(one["never_above_c"])),
                text("built in" if one["origin"] == "built in" else "your own"),
            ]
            for one in found
        ]
        head = ("Couverture", "Melt", "Work", "Never above", "Whose")
        return table(head, rows, "The figures on the bag come first: open one to write your own")

    async def plan(self, request: Request) -> Response:
        """What to weigh, heat and add."""
        form = dict(request.query_params)
        watts = form.get("watts", "").strip()
        heat = ["--no-microwave"] if watts == "0" else option("watts", watts)
        came = await self.run(
            "plan",
            *option("mass", form.get("mass", "").replace(" ", "")),
            *option("room", form.get("room", "")),
            *option("method", form.get("method", "")),
            *option("bowl", form.get("bowl", "")),
            *heat,
            "--",
            form.get("couverture", ""),
        )
        again = f"/before?couverture={text(form.get('couverture', ''))}"
        main = (
            f"<h1>The plan</h1>{prose(came.lines) if came.ok else outcome(came)}"
            f'<p><a class="button" href="{again}">Back, and load it</a></p>'
        )
        return document(self._site, "Plan", "/before", main)

    async def rescue(self, request: Request) -> Response:
        """What to do after a test that did not come out right."""
        form = dict(request.query_params)
        main = "<h1>Put it right</h1>"
        if form.get("couverture"):
            came = await self.run(
                "rescue",
                *option("mass", form.get("mass", "").replace(" ", "")),
                *option("temp", form.get("temp", "")),
                *option("showed", form.get("showed", "")),
                "--",
                form["couverture"],
            )
            main += f'<div class="plate">{outcome(came)}</div>'
        found = (await self.run("couvertures", "--json")).json()
        named = [(one["id"], one["name"]) for one in found]
        shown = [(word, says) for word, (_, says) in SHOWED.items()]
        main += (
            '<form class="form" method="get" action="/before/rescue"><div class="fields">'
            + choice("couverture", "Couverture", named, form.get("couverture", "milk"))
            + field("mass", "In the bowl", form.get("mass", "1 kg"))
            + field("temp", "The chocolate's temperature now", form.get("temp", ""))
            + choice("showed", "The blade", shown, form.get("showed", "mark"))
            + "</div><button>What now?</button></form>"
        )
        return document(self._site, "Put it right", "/before", main)

    async def load(self, request: Request) -> Response:
        """The profile to the board."""
        form = await form_of(request)
        came = await self.on_board(
            form.get("bench", ""),
            "The couverture is loaded; the reading comes back by itself.",
            "load",
            *option("method", form.get("method", "")),
            *_whose(form.get("couverture", "")),
        )
        go = '<p><a class="button" href="/">To the bench</a></p>' if came.ok else ""
        chosen = {name: form.get(name, "")[:40] for name in ("couverture", "method")}
        return self.tell(f"/before?{urlencode(chosen)}", outcome(came) + go)

    async def today(self, request: Request) -> Response:
        """What holds for every batch of the day, and a cleaning."""
        form = await form_of(request)
        words = [
            one for name in ("room", "mass", "place") for one in option(name, form.get(name, ""))
        ]
        words += option("operator", form.get("operator", ""))
        if form.get("cleaned", "").strip():
            words = [*option("cleaned", form["cleaned"]), *option("how", form.get("how", ""))]
            words += [*option("by", form.get("by", "")), "--seen"]
        came = await self.run("today", *words)
        return self.tell("/before", outcome(came), typed={} if came.ok else form)

    async def lot(self, request: Request) -> Response:
        """A lot of an ingredient for today."""
        form = await form_of(request)
        words = [
            *option("maker", form.get("maker", "")),
            *option("best-before", form.get("best_before", "")),
            *option("allergens", form.get("allergens", "")),
            *(["--yes"] if form.get("yes") else []),
        ]
        came = await self.run(
            "lot", *words, "--", "today", form.get("ingredient", ""), form.get("lot", "")
        )
        return self.tell("/before", outcome(came), typed={} if came.ok else form)

    async def couverture(self, request: Request) -> Response:
        """A couverture's file, to be read, changed and kept under a name of one's own."""
        if request.method == "POST":
            return await self._keep_couverture(await form_of(request))
        tell = self.told(request)
        name = request.query_params.get("id", "milk")
        if tell.typed:
            name, written = tell.typed["id"], tell.typed["text"]
        else:
            found = await anyio.to_thread.run_sync(load, _checked_id(name), user_folder())
            written = found.toml_text
        main = (
            f"<h1>Couverture</h1>{tell.html}"
            '<form class="form" method="post" action="/before/couverture">'
            + field("id", "Kept under the name", name, "Small letters, digits and hyphens")
            + area("text", "What the bag says", written, "Temperatures in °C, as in the example")
            + '<p class="row"><button>Keep it</button> '
            '<a class="button" href="/before">Back</a></p></form>'
        )
        return document(self._site, "Couverture", "/before", main)

    async def _keep_couverture(self, form: dict[str, str]) -> Response:
        name = form.get("id", "").strip().lower()
        written = form.get("text", "").replace("\r\n", "\n")
        try:
            path = await anyio.to_thread.run_sync(_keep, name, written)
            said = f'<p class="noted" role="status">Kept as {text(path)}.</p>'
        except SnapcurveError as error:
            said = f'<p class="refused" role="alert">{text(error)}</p>'
        typed = {"id": name, "text": written}
        return self.tell("/before/couverture", said, typed=typed)


def _whose(couverture: str) -> list[str]:
    return ["--", _checked_id(couverture)]


def _checked_id(name: str) -> str:
    """An id as it may be a file's name; a browser may name no path. SnapcurveError for others."""
    if not _ID.fullmatch(name):
        raise SnapcurveError(
            "A couverture's name has small letters, digits and hyphens, up to 40: change it."
        )
    return name


def _keep(name: str, written: str) -> Path:
    if len(written) > TEXT_MAX:
        raise SnapcurveError(f"The text has more than {TEXT_MAX} letters: shorten it.")
    file = f"{_checked_id(name)}.toml"
    parse(written, file, name, file)
    path = made(user_folder()) / file
    write_whole(path, written.encode(), "couverture")
    return path


def _fields_again(of: str, typed: Mapping[str, str]) -> Callable[..., str]:
    """`field` for the form ``of``, with what was typed into it if it was refused."""

    def one(name: str, label: str, value: str = "", hint: str = "") -> str:
        again = typed.get(name, "") if typed.get("form") == of else value
        return field(name, label, again, hint, of=of)

    return one


def _today_form(typed: Mapping[str, str]) -> str:
    field = _fields_again("today", typed)
    return (
        '<form class="form plate" method="post" action="/before/today"><div class="fields">'
        '<input type="hidden" name="form" value="today">'
        + field("room", "Room", "", "Such as 21")
        + field("mass", "Each batch", "", "Such as 1.2kg")
        + field("operator", "Who works")
        + field("place", "Which bench")
        + field("cleaned", "Cleaned now", "", "What was cleaned, and looks clean")
        + field("how", "How", "", "Such as hot water, dried")
        + "</div><button>Set for today</button></form>"
    )


def _lot_form(typed: Mapping[str, str]) -> str:
    field = _fields_again("lot", typed)
    return (
        '<form class="form plate" method="post" action="/before/lot"><div class="fields">'
        '<input type="hidden" name="form" value="lot">'
        + field("ingredient", "Ingredient", "", "Such as milk couverture")
        + field("lot", "Lot", "", "The number on the package")
        + field("maker", "Maker")
        + field("best_before", "Best before", "", "Such as 2027-05-01")
        + field("allergens", "Allergens", "", "Such as milk,soya; none if declared free")
        + '<p class="field"><label class="tick"><input type="checkbox" name="yes" value="yes"> '
        "It goes in although it is on hold or past its date</label></p></div>"
        "<button>Lot for today</button></form>"
    )
