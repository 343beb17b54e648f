"""The probe: how far it can be trusted, calibration step by step, what is fitted, the sounds."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from snapcurve.calibration.baths import WITH_INSTRUCTIONS, instructions
from snapcurve.errors import SnapcurveError
from snapcurve.page.forms import document, form_of
from snapcurve.page.html import button_form, choice, field, part, table, text
from snapcurve.page.job import Job
from snapcurve.page.pressed import on_page
from snapcurve.page.rooms import Room, option, outcome, port_words
from snapcurve.probe import sounds
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.shown.units import Style
from snapcurve.wire.catalogue import MAINS_HZ, VOLUMES

STEPS = {
    "ice": "Ice bath",
    "boil": "Boiling water",
    "point": "Beside a reference thermometer",
    "gallium": "Melting gallium",
    "response": "How far it trails",
}
TYPES = ("K", "T", "J", "N")
_WHY = "The board answers a question about its probe; the reading comes back by itself."


class Probe(Room):
    """The room and its forms."""

    def routes(self) -> list[Route]:
        """Addresses of the room."""
        return [
            Route("/probe", self.room),
            Route("/probe/trust", self.trust, methods=["POST"]),
            Route("/probe/fitted", self.fitted, methods=["POST"]),
            Route("/probe/sound", self.sound, methods=["POST"]),
            Route("/probe/step/{step}", self.step, methods=["GET", "POST"]),
            Route("/probe/job", self.job),
            Route("/probe/answer", self.answer, methods=["POST"]),
            Route("/probe/stop", self.stop, methods=["POST"]),
        ]

    async def room(self, request: Request) -> Response:
        """Everything about the probe."""
        return self._page(self.told(request).html)

    def _page(self, said: str) -> Response:
        site = self._site
        trusted = "".join(
            f"<p>{text(one.standing.name or one.standing.port)}: "
            f"{text(_trusted(one.standing.uncertainty_c, one.standing.remark, site.style))}</p>"
            for one in site.keepers
        )
        steps = "".join(
            f'<a class="button" href="/probe/step/{step}">{text(name)}</a> '
            for step, name in STEPS.items()
        )
        running = (
            "" if site.job is None else '<p><a class="button" href="/probe/job">Last step</a></p>'
        )
        bench = self.which_bench()
        rows = [
            [
                text(name.replace("_", " ")),
                text(MEANINGS[name] + (", repeats" if sounds.find(name)[4] else "")),
                button_form(
                    "/probe/sound", f"Play {name.replace('_', ' ')}", {"name": name}, "go"
                ),
            ]
            for name in sounds.names()
        ]
        fitted = (
            '<form class="row plate" method="post" action="/probe/fitted">'
            + bench
            + choice("type", "Thermocouple", [(one, one) for one in TYPES])
            + choice("mains", "Mains, Hz", [(str(one), str(one)) for one in MAINS_HZ])
            + "<button>Say so to the board</button></form>"
        )
        volume = (
            '<form class="row plate" method="post" action="/probe/sound">'
            + choice("volume", "How loud", [(one, one) for one in VOLUMES], "full")
            + "<button>Set</button></form>"
        )
        main = (
            f"<h1>The probe</h1>{said}{trusted}{running}"
            '<form class="row" method="post" action="/probe/trust">'
            "<button>How far can it be trusted, and why?</button></form>"
            f'<h2>Calibrate, step by step</h2><p class="row">{steps}</p>'
            f"<h2>What is fitted</h2>{fitted}<h2>Sounds</h2>{volume}"
            + table(("Sound", "What it means", "Hear it"), rows, "The most important first")
        )
        return document(site, "Probe", "/probe", main)

    async def trust(self, request: Request) -> Response:
        """The budget of the probe's uncertainty."""
        form = await form_of(request)
        came = await self.on_board(form.get("bench", ""), _WHY, "probe")
        if not came.ok:
            return self.tell("/probe", outcome(came))
        lines = "\n".join(text(line) for line in came.lines)
        said = f'<pre class="lines plate" tabindex="0" aria-label="Budget">{lines}</pre>'
        return self.tell("/probe", said)

    async def fitted(self, request: Request) -> Response:
        """Which thermocouple and mains there are."""
        form = await form_of(request)
        words = [*option("type", form.get("type", "")), *option("mains", form.get("mains", ""))]
        came = await self.on_board(form.get("bench", ""), _WHY, "probe", *words)
        return self.tell("/probe", outcome(came))

    async def sound(self, request: Request) -> Response:
        """Play one on the board, or set how loud it is."""
        form = await form_of(request)
        name, volume = form.get("name", ""), form.get("volume", "")
        if name not in ("", *sounds.names()) or volume not in ("", *VOLUMES):
            raise SnapcurveError("There is no such sound: choose one of the list.")
        words = [*option("volume", volume), *filter(None, [name])]
        return self.tell("/probe", outcome(await self.on_board("", _WHY, "sounds", *words)))

    # --- calibration ----------------------------------------------------------------

    async def step(self, request: Request) -> Response:
        """What to do, what is asked, and go."""
        site, step = self._site, str(request.path_params["step"])
        if step not in STEPS:
            raise SnapcurveError("There is no such step: go back to Probe.")
        if request.method == "POST":
            form = await form_of(request)
            if site.job is not None and site.job.code is None:
                raise SnapcurveError("A step is running: end it first, under Probe.")
            keeper = self.keeper(form.get("bench", ""))
            asked = [
                one for name in ASKED.get(step, {}) for one in option(name, form.get(name, ""))
            ]
            words = ["calibrate", step, "--ask", *asked]
            site.job = Job(STEPS[step], keeper, [*words, *port_words(keeper)])
            return RedirectResponse("/probe/job", 303)
        lines = instructions(step, site.style) if step in WITH_INSTRUCTIONS else []
        listed = "".join(f"<li>{text(line)}</li>" for line in lines)
        fields = "".join(
            field(name, label, "", hint) for name, (label, hint) in ASKED.get(step, {}).items()
        )
        main = (
            f"<h1>{text(STEPS[step])}</h1><ol>{listed}</ol>"
            f'<form class="form" method="post" action="/probe/step/{step}">{fields}'
            f'{self.which_bench()}<p class="row"><button>Begin</button> '
            '<a class="button" href="/probe">Back</a></p></form>'
        )
        return document(site, STEPS[step], "/probe", main)

    async def job(self, request: Request) -> Response:
        """The step that runs, or ran last."""
        job = self._site.job
        if job is None:
            return RedirectResponse("/probe", 303)
        running = part("job", job.html(), "div")
        main = (
            f'<h1>{text(job.title)}</h1><div role="log">{running}</div>'
            '<p><a class="button" href="/probe">Back to Probe</a></p>'
        )
        return document(self._site, job.title, "/probe", main, live=True)

    async def answer(self, request: Request) -> Response:
        """Yes or no to what it asks."""
        form = await form_of(request)
        if self._site.job is not None:
            self._site.job.answer(form.get("word") == "yes")
        return RedirectResponse("/probe/job", 303)

    async def stop(self, request: Request) -> Response:
        """End the step."""
        if self._site.job is not None:
            self._site.job.stop()
        return RedirectResponse("/probe/job", 303)


ASKED = {
    "boil": {
        "pressure-hpa": ("Pressure by a barometer in the room, hPa", "The best of the three"),
        "altitude-m": ("Or metres above sea level", ""),
        "sea-level-hpa": ("and a weather report's pressure, hPa", ""),
    },
    "point": {
        "reference-c": ("What the reference thermometer shows", "A number alone is in °C"),
        "reference-limit-c": ("It may be wrong by", "Left empty: 0.3 °C"),
    },
}


def _trusted(uncertainty_c: float | None, remark: str, style: Style) -> str:
    figure = (
        "not known" if uncertainty_c is None else f"{style.uncertainty(uncertainty_c)} (k = 2)"
    )
    return f"{figure}; {on_page(remark)}" if remark else figure
