"""After the bowl: collect, the batches, one batch with its curve, sheet, entries and pictures."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import anyio
import anyio.to_thread
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from snapcurve.analysis.complaints import complaints
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, DISPOSITIONS, OUTCOMES
from snapcurve.page import errands
from snapcurve.page.forms import document, form_of
from snapcurve.page.html import choice, field, table, text
from snapcurve.page.pressed import on_page
from snapcurve.page.rooms import Room, option, outcome
from snapcurve.shown.settings_file import load as load_settings

_CODE = re.compile(r"[0-9A-Za-z][0-9A-Za-z-]{0,39}")
_IN_WORDS = re.compile(r"\b\d{4}-\d\d-\d\d-\d\d+\b")
_NAME = re.compile(r"[^0-9A-Za-z._-]+")
FIELDS = {
    "operator": "who worked",
    "place": "which bench",
    "room": "temperature of the room",
    "mass": "mass",
    "notes": "notes",
    "allergens": "allergens",
    "couverture": "couverture",
    "mistake": "recorded by mistake (yes or no)",
}
KINDS = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}
LISTED = 30
PRACTICE = "Practice: a bowl on this computer. No chocolate was tempered."
NOT_JUDGED = ("", "not judged")
Options = Sequence[tuple[str, str]]


class After(Room):
    """The room and its forms."""

    def routes(self) -> list[Route]:
        """Addresses of the room; `CODE` is a batch."""
        one = "/after/{code}"
        return [
            Route("/after", self.room),
            Route("/after/collect", self.collect, methods=["POST"]),
            Route("/after/trace", self.trace),
            Route(one, self.batch),
            Route(one + "/chart.png", self.chart),
            Route(one + "/sheet.pdf", self.sheet),
            Route(one + "/picture/{number:int}", self.shown_picture),
            Route(one + "/note", self.note, methods=["POST"]),
            Route(one + "/blade", self.blade, methods=["POST"]),
            Route(one + "/lot", self.lot, methods=["POST"]),
            Route(one + "/made", self.made, methods=["POST"]),
            Route(one + "/amend", self.amend, methods=["POST"]),
            Route(one + "/deviation", self.deviation, methods=["POST"]),
            Route(one + "/picture", self.picture, methods=["POST"]),
        ]

    # --- the list -------------------------------------------------------------------

    async def room(self, request: Request) -> Response:
        """The newest batches, or those that were searched for."""
        asked = {name: one for name, one in request.query_params.items() if name != "said"}
        return await self._list(self.told(request).html, asked)

    async def _list(self, said: str, asked: dict[str, str]) -> Response:
        words = ["batches", "--json", f"--limit={LISTED}"]
        if asked.get("rehearsals", "yes" if not asked else ""):
            words.append("--rehearsals")
        words += ["--", *asked.get("words", "").split()]
        came = await self.run(*words)
        found = came.json() if came.ok else []
        refused = "" if came.ok else outcome(came)
        rows = [_row(one) for one in found]
        listed = table(
            ("Batch", "Couverture", "Verdict", "Still to do"), rows, f"The newest {LISTED} at most"
        )
        none = "<p>No batches yet. Practise makes a first one.</p>"
        ticked = " checked" if "--rehearsals" in words else ""
        main = (
            f"<h1>After the bowl</h1>{said}{refused}"
            '<form method="post" action="/after/collect" class="row">'
            f"{self.which_bench()}<button>Collect from the board</button></form>"
            '<form class="row" method="get" action="/after">'
            + field("words", "Find", asked.get("words", ""))
            + f'<label class="tick"><input type="checkbox" name="rehearsals" value="yes"{ticked}> '
            "practice too</label><button>Find</button></form>"
            + (listed if rows else none)
            + '<form class="row" method="get" action="/after/trace">'
            + field("what", "Where did it go", "", "A lot's number, or a batch")
            + "<button>Trace</button></form>"
        )
        return document(self._site, "After", "/after", main)

    async def collect(self, request: Request) -> Response:
        """New curves from the board into the notebook."""
        form = await form_of(request)
        why = "The curves are collected; the reading comes back by itself."
        came = await self.on_board(form.get("bench", ""), why, "collect")
        codes = dict.fromkeys(_IN_WORDS.findall("\n".join(came.lines))) if came.ok else ()
        opened = "".join(
            f'<a class="button" href="/after/{code}">Open batch {code}</a> ' for code in codes
        )
        return self.tell("/after", f'{outcome(came)}<p class="row">{opened}</p>')

    async def trace(self, request: Request) -> Response:
        """Where a lot or a batch went, and what went into it."""
        came = await self.run("trace", "--", request.query_params.get("what", ""))
        body = f'<pre class="lines">{text_lines(came)}</pre>' if came.ok else outcome(came)
        main = f'<h1>Trace</h1>{body}<p><a class="button" href="/after">Back</a></p>'
        return document(self._site, "Trace", "/after", main)

    # --- one batch ------------------------------------------------------------------

    async def batch(self, request: Request) -> Response:
        """All that is known of it, and what can be added."""
        code, tell = _code(request), self.told(request)
        said, complaint = tell.html, request.query_params.get("complaint", "")
        if complaint:
            came = await self.run("show", f"--complaint={complaint}", "--", code)
            said += f'<div class="plate">{outcome(came)}</div>'
        came = await self.run("show", "--json", "--", code)
        if not came.ok:
            raise SnapcurveError(came.refusal)
        found = came.json()
        name = await anyio.to_thread.run_sync(lambda: load_settings().operator)
        main = (
            f"<h1>{text(found['batch'])}: {text(found['now']['couverture'])}</h1>{said}"
            f"{_course(found)}{_forms(_Forms(code, name, tell.typed), found)}"
        )
        return document(self._site, code, "/after", main, status=tell.status)

    async def chart(self, request: Request) -> Response:
        """Its curve as a picture."""
        code = _code(request)
        name, kind = f"{code}-curve.png", "image/png"
        return await self.file(["show"], "chart", "--", code, name=name, kind=kind)

    async def sheet(self, request: Request) -> Response:
        """Its sheet for the file."""
        code = _code(request)
        name, kind = f"{code}.pdf", "application/pdf"
        return await self.file(["sheet"], "output", "--", code, name=name, kind=kind)

    async def shown_picture(self, request: Request) -> Response:
        """One of the pictures noted on it."""
        code, number = _code(request), request.path_params["number"]
        with errands.folder() as folder:
            came = await self.run("show", f"--pictures={folder}", "--", code)
            found = sorted(folder.iterdir(), key=_number) if came.ok else []
            if not 1 <= number <= len(found) or found[number - 1].suffix not in KINDS:
                return PlainTextResponse("There is no such picture.", 404)
            data = await anyio.Path(found[number - 1]).read_bytes()
            kind = KINDS[found[number - 1].suffix]
        return Response(data, media_type=kind)

    # --- entries --------------------------------------------------------------------

    async def _noted(self, code: str, form: Mapping[str, str], *words: str) -> Response:
        came = await self.run(*words)
        if came.ok:
            return RedirectResponse(f"/after/{code}#entries", 303)
        return self.tell(f"/after/{code}", outcome(came), 422, form)

    async def note(self, request: Request) -> Response:
        """Words and how the pieces came out."""
        code, form = _code(request), await form_of(request)
        words = [one for what in JUDGED for one in option(what, form.get(what, ""))]
        words += option("bloom", form.get("bloom", ""))
        said = [form["text"]] if form.get("text", "").strip() else []
        by = option("by", form.get("by", ""))
        return await self._noted(code, form, "note", *words, *by, "--", code, *said)

    async def blade(self, request: Request) -> Response:
        """How the blade came out, if the board was not told."""
        code, form = _code(request), await form_of(request)
        by = option("by", form.get("by", ""))
        return await self._noted(
            code, form, "mark", f"--batch={code}", *by, "--", form.get("result", "")
        )

    async def lot(self, request: Request) -> Response:
        """A lot that went into it."""
        code, form = _code(request), await form_of(request)
        words = [
            *option("maker", form.get("maker", "")),
            *option("mass", form.get("mass", "")),
            *option("allergens", form.get("allergens", "")),
            *option("by", form.get("by", "")),
            *(["--yes"] if form.get("yes") else []),
        ]
        named = (form.get("ingredient", ""), form.get("lot", ""))
        return await self._noted(code, form, "lot", *words, "--", code, *named)

    async def made(self, request: Request) -> Response:
        """What was made of it."""
        code, form = _code(request), await form_of(request)
        words = [
            *option("made", form.get("made", "")),
            *option("pieces", form.get("pieces", "")),
            *option("mass", form.get("mass", "")),
            *option("best-before", form.get("best_before", "")),
            *option("to", form.get("to", "")),
            *option("by", form.get("by", "")),
        ]
        return await self._noted(code, form, "note", *words, "--", code)

    async def amend(self, request: Request) -> Response:
        """A field put right; what was filed stays beside it."""
        code, form = _code(request), await form_of(request)
        name, value = form.get("field", ""), form.get("value", "")
        if name not in FIELDS:
            raise SnapcurveError("There is no such field: choose one of the list.")
        if value.startswith("-"):
            raise SnapcurveError("A value does not begin with a hyphen: write it otherwise.")
        words = [*option("why", form.get("why", "")), *option("by", form.get("by", ""))]
        return await self._noted(code, form, "note", *words, "--amend", name, value, "--", code)

    async def deviation(self, request: Request) -> Response:
        """A step on a deviation: what was done, what became of it, a second person's word."""
        code, form = _code(request), await form_of(request)
        words = [one for what in STEPS for one in option(what, form.get(what, ""))]
        words += [*option("deviation", form.get("number", "")), *option("by", form.get("by", ""))]
        return await self._noted(code, form, "note", *words, "--", code)

    async def picture(self, request: Request) -> Response:
        """A picture from the tablet's camera. What it is the command decides, which decodes it
        within limits; here it is only taken in."""
        code = _code(request)
        try:
            form = await request.form(max_files=1, max_fields=4, max_part_size=4000)
        except SnapcurveError:
            raise
        except Exception as error:  # of a form that is none its reader may raise anything
            raise SnapcurveError("The picture did not arrive whole: send it again.") from error
        sent = form.get("picture")
        if not isinstance(sent, UploadFile) or not sent.filename:
            raise SnapcurveError("Choose a picture first.")
        said = str(form.get("text") or "").strip()
        by = option("by", str(form.get("by") or ""))
        name = _NAME.sub("-", Path(sent.filename).name).strip(".-")[-60:] or "picture"
        with errands.folder() as folder:
            await anyio.Path(folder / name).write_bytes(await sent.read())
            await form.close()
            words = [f"--picture={folder / name}", *by, "--", code, *([said] if said else [])]
            typed = {"form": "picture", "text": said, "by": str(form.get("by") or "")}
            return await self._noted(code, typed, "note", *words)


JUDGED = ("gloss", "snap", "release")
STEPS = {
    "action": "What was done",
    "disposition": "What became of it",
    "review": "A second person’s word",
}


HELD = "What becomes of what is held"


def _code(request: Request) -> str:
    code = str(request.path_params["code"])
    if not _CODE.fullmatch(code):
        raise SnapcurveError("There is no such batch: choose one of the list.")
    return code


def _number(path: Path) -> int:
    return int(re.sub(r"\D", "", path.stem.rpartition("-")[2]) or 0)


def text_lines(came: errands.Came) -> str:
    """What it said, as it stood."""
    return "\n".join(text(line) for line in came.lines)


def _row(one: dict[str, Any]) -> list[str]:
    code = text(one["batch"])
    mark = " (practice)" if one["rehearsal"] else ""
    began = (one["started"] or "time unknown").replace("T", " ")[:16]
    count = sum(bool(dev["open"]) for dev in one.get("deviations", ()))
    return [
        f'<a href="/after/{code}">{code}</a>',
        f"{text(one['now']['couverture'])}, {text(one['method'])}{mark}, {text(began)}",
        text(one.get("verdict") or "cannot be read"),
        text(f"{count} to be dealt with" if count else "–"),
    ]


def _course(found: dict[str, Any]) -> str:
    code = text(found["batch"])
    verdict = text(found["verdict"])
    practice = f'<p class="caution">{PRACTICE}</p>' if found["rehearsal"] else ""
    reasons = "".join(f"<li>{text(on_page(one))}</li>" for one in found["reasons"])
    cautions = "".join(
        f'<p class="caution">{text(on_page(one))}</p>'
        for one in (*found["cautions"], *found["warnings"])
    )
    entries = "".join(
        f"<li>{text((one['at'] or '').replace('T', ' ')[:16])} {text(one['who'] or '')}: "
        f"{text(one['words'])}{text(' (' + one['why'] + ')' if one['why'] else '')}</li>"
        for one in found["entries"]
    )
    pictures = [one for one in found["entries"] if one["kind"] == "picture"]
    photos = "".join(
        f'<img class="photo" src="/after/{code}/picture/{number}" alt="{text(one["words"])}">'
        for number, one in enumerate(pictures, start=1)
    )
    return (
        f'{practice}<p class="verdict"><strong>{verdict}</strong></p>{cautions}'
        f'<a class="chart" href="/after/{code}/chart.png"><img class="chart" '
        f'src="/after/{code}/chart.png" width="1754" height="1240" '
        f'alt="Curve of the batch, larger. {verdict}"></a>'
        "<p>The curve takes a few seconds to be drawn; press it to see it larger.</p>"
        f'<p><a class="button" href="/after/{code}/sheet.pdf">Sheet as PDF</a></p>'
        f"<h2>What the record says</h2><ul>{reasons}</ul>"
        f'<h2 id="entries">Entries</h2><ul>{entries or "<li>None yet.</li>"}</ul>{photos}'
    )


def _lower(words: str) -> str:
    return words[0].lower() + words[1:]


class _Forms:
    """The forms of one batch; each asks who says so. What was ``typed`` into the one that was
    refused stands in it again."""

    def __init__(self, code: str, name: str, typed: Mapping[str, str]):
        self.code = code
        self._name = name
        self._typed = typed

    def field(self, form: str, name: str, label: str, hint: str = "", **more: str) -> str:
        """A field of ``form``."""
        value = self._typed.get(name, "") if self._typed.get("form") == form else ""
        return field(name, label, value, hint, of=form, **more)

    def choice(self, form: str, name: str, label: str, options: Options) -> str:
        """A list of ``form`` to choose from."""
        value = self._typed.get(name, "") if self._typed.get("form") == form else ""
        return choice(name, label, options, value, of=form)

    def form(self, end: str, title: str, fields: str, button: str, of: str = "") -> str:
        """One of them, closed until it is wanted."""
        of = of or end
        kind = ' enctype="multipart/form-data"' if end == "picture" else ""
        refused = self._typed.get("form") == of
        name = self._typed.get("by", "") if refused else self._name
        by = field("by", "Who says so", name, of=of, required="")
        by += f'<input type="hidden" name="form" value="{text(of)}">'
        return (
            f"<details{' open' if refused else ''}><summary>{text(title)}</summary>"
            '<form class="form plate" method="post" '
            f'action="/after/{text(self.code)}/{end}"{kind}><div class="fields">{fields}{by}'
            f"</div><button>{text(button)}</button></form></details>"
        )

    def deviation(self, number: int, found: dict[str, Any]) -> str:
        """The steps of a deviation."""
        of = f"deviation-{number}"
        became = [("", "open"), *((word.replace(" ", "-"), word) for word in DISPOSITIONS)]
        fields = (
            f'<input type="hidden" name="number" value="{number}">'
            + self.field(of, "action", STEPS["action"])
            + self.choice(of, "disposition", STEPS["disposition"], became)
            + self.field(of, "review", STEPS["review"], "Such as: agreed")
        )
        still = ", ".join(_lower({**STEPS, "held": HELD}[step]) for step in found["open"])
        title = f"Deviation {number}: {found['words'].rstrip('.')}."
        title += f" Still to be noted: {still}." if still else " Closed."
        return self.form("deviation", title, fields, "Note the step", of)


def _forms(forms: _Forms, found: dict[str, Any]) -> str:
    field, choice = forms.field, forms.choice
    blooms = [
        (f"{days}={word}", f"{word} after {days} days")
        for days in BLOOM_AFTER_DAYS
        for word in OUTCOMES["bloom"]
    ]
    note = (
        "".join(
            choice(
                "note", what, what.capitalize(), [NOT_JUDGED, *((a, a) for a in OUTCOMES[what])]
            )
            for what in JUDGED
        )
        + choice("note", "bloom", "Bloom", [NOT_JUDGED, *blooms])
        + field("note", "text", "In words")
    )
    lot = (
        field("lot", "ingredient", "Ingredient", "Such as milk couverture")
        + field("lot", "lot", "Lot", "The number on the package")
        + field("lot", "maker", "Maker")
        + field("lot", "mass", "How much", "Such as 850g")
        + field("lot", "allergens", "Allergens", "Such as milk,soya; none if declared free")
        + _YES
    )
    made = (
        field("made", "made", "What", "Such as bars of 70 g, or leftover")
        + field("made", "pieces", "Pieces", inputmode="numeric")
        + field("made", "mass", "Mass", "Such as 850g")
        + field("made", "best_before", "Best before", "Such as 2027-05-01")
        + field("made", "to", "Where it went", "In your words; no names of people")
    )
    picture = field(
        "picture", "picture", "Picture", kind="file", accept="image/*", capture="environment"
    ) + field("picture", "text", "What it shows")
    amend = (
        choice("amend", "field", "Field", [*FIELDS.items()])
        + field("amend", "value", "What is right", "unknown if nobody can say")
        + field("amend", "why", "Why")
    )
    named = [(word, one.name) for word, one in complaints().items()]
    complaint = choice("complaint", "complaint", "What is wrong", named)
    return (
        "<h2>Add to it</h2>"
        + forms.form("note", "Outcome and words", note, "Note it")
        + forms.form(
            "blade",
            "How the last blade came out",
            choice("blade", "result", "Blade", BLADE),
            "Note it",
        )
        + forms.form("lot", "A lot that went in", lot, "Note the lot")
        + forms.form("made", "What was made of it", made, "Note it")
        + forms.form("picture", "A picture", picture, "Keep the picture")
        + forms.form("amend", "Put a field right", amend, "Amend")
        + "".join(
            forms.deviation(number, one)
            for number, one in enumerate(found.get("deviations", ()), start=1)
        )
        + f'<form class="row plate" method="get" action="/after/{text(forms.code)}">{complaint}'
        "<button>What speaks for which cause?</button></form>"
    )


BLADE = [("passed", "set, no mark"), ("failed", "takes a mark"), ("early", "set too soon")]
_YES = (
    '<p class="field"><label class="tick"><input type="checkbox" name="yes" value="yes"> '
    "It went in although it is on hold or past its date</label></p>"
)
