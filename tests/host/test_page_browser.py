"""The page in a real Chromium: what shuts people out, what covers what, what the console says.

The sizes are those of telephones, tablets and screens; 320 px is WCAG 2.2, 1.4.10. Text spacing
is that of 1.4.12, contrast that of 1.4.3, as axe-core measures it. Targets of 60 px and a number
of 18 % of the shorter side are our own aims for a knuckle and for two metres.
"""

import time
from dataclasses import replace

import pytest
from page_board import reading, standing
from page_errands import InProcess
from page_served import Served

from snapcurve.page.keeper import Done
from snapcurve.page.site import Site
from snapcurve.page.standing import Dip, Heard
from snapcurve.page.trail import picture
from snapcurve.shown.units import PLAIN, Style
from tests.browser import Listened, axe_findings, chromium

pytestmark = [pytest.mark.xdist_group("browser"), pytest.mark.usefixtures("own_computer")]

SIZES = ((320, 568), (360, 740), (740, 360), (768, 1024), (1024, 600), (1024, 768), (1280, 800),
         (1920, 1080), (2560, 1440))  # fmt: skip
DRESSES = ("light", "dark")
SPACING = (
    "*{line-height:1.5!important;letter-spacing:.12em!important;word-spacing:.16em!important}"
    "p{margin-bottom:2em!important}"
)
CURVE = picture(
    [(float(s), 31 + s % 60 / 30) for s in range(0, 1800, 2)], standing().profile, PLAIN
)
LATE = {"dip": Dip(600_000 - 310_000), "heard": Heard("too_warm", 590_000, 3)}
# The fullest screens, and each condition.
STATES = {
    "in the window": {"minutes": (3, 6)},
    "everything at once": {
        "reading": reading(state="too_warm", estimate_c=33.4, phase="work"),
        "remark": "this probe has not been calibrated: 'snapcurve calibrate ice' does it",
        "minutes": (12, 58),
        **LATE,
    },
    "probe out": {"reading": reading(place="air", phase="melt")},
    "settling": {"reading": reading(place="entering")},
    "fault": {"reading": reading(indicated_c=None, faults=["open"])},
    "silent": {"silent": True},
    "lost": {"link": "seeking", "why": "No board is attached: plug one in, or name its --port."},
    "lent": {"link": "lent", "why": "The curves are collected; it comes back by itself."},
    "nothing loaded": {"profile": None, "reading": reading(phase="none", curve=0)},
}


class ArrangedKeeper:
    """A bench that a test arranges."""

    named = None

    def __init__(self):
        self.pressed = []
        self.arrange()

    def arrange(self, silent=False, **values):
        now_s = time.monotonic() + (-7 if silent else 3600)
        self.standing = replace(standing(now_s, **values), curve=CURVE)

    def press(self, word, turn):
        self.pressed.append((word, turn))
        return Done(True, f"Noted: {word}.")


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found


@pytest.fixture
def keeper():
    return ArrangedKeeper()


@pytest.fixture
def served(keeper, own_computer, tmp_path, monkeypatch):
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    with Served(Site([keeper], PLAIN, InProcess())) as found:
        yield found


@pytest.fixture
def opened(browser, served):
    """Opens a window of a dress and a size; what its console said is looked at in the end."""
    windows = []

    def window(dress="light", size=(1024, 768), **more):
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=dress, **more
        )
        found = Listened(context)
        windows.append((context, found))
        return found.page

    yield window
    for context, found in windows:
        context.close()
        assert found.said == []


def shown(page, name):
    """Wait until a bench stands as it was arranged: its state is written into the page."""
    page.wait_for_selector(f'html[data-version] [data-part="1.{name}"]')


@pytest.mark.parametrize("dress", DRESSES)
def test_axe_finds_nothing_on_any_bench_in_any_state(opened, served, keeper, dress):
    page = opened(dress, (1024, 600))
    for name, values in STATES.items():
        keeper.arrange(**values)
        page.goto(served.origin)
        assert axe_findings(page) == [], name


ROOMS = ("/before", "/before/couverture?id=milk", "/before/rescue", "/after", "/probe",
         "/probe/step/point", "/tablet", "/before/plan?couverture=milk&mass=1kg")  # fmt: skip


@pytest.mark.parametrize("dress", DRESSES)
def test_axe_finds_nothing_in_any_room(opened, served, dress):
    page = opened(dress, (360, 740))
    for path in ROOMS:
        page.goto(served.origin + path)
        assert axe_findings(page) == [], path


AREAS = (
    "header nav a, .bench h1, span.figure, .unit, p.condition, p.next, p.minutes, p.dip, "
    "form.act button, .answer, div.curve svg, p.high, p.low, p.span, p.heard, p.remark, "
    ".tools button, .tools a"
)
MEET = """(areas) => {
  const places = [...document.querySelectorAll(areas)]
    .filter((one) => one.textContent || one.tagName === 'svg');
  const boxes = places.map((one) => {
    // what is drawn, not only the box it was given
    const range = document.createRange();
    range.selectNodeContents(one);
    const outer = one.getBoundingClientRect();
    const inner = one.tagName === 'svg' ? outer : range.getBoundingClientRect();
    return {
      name: one.className.baseVal ?? (one.className || one.textContent),
      left: Math.min(outer.left, inner.left), right: Math.max(outer.right, inner.right),
      top: Math.min(outer.top, inner.top), bottom: Math.max(outer.bottom, inner.bottom),
    };
  });
  const met = [];
  for (const [at, a] of boxes.entries()) {
    for (const b of boxes.slice(at + 1)) {
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1 && high > 1) met.push(`${a.name} meets ${b.name} (${wide} x ${high})`);
    }
    if (a.right > innerWidth + 1 || a.left < -1) met.push(`${a.name} leaves the screen`);
  }
  if (document.documentElement.scrollWidth > innerWidth) met.push('it scrolls sideways');
  return met;
}"""
PRESSED = "button, a, select, input:not([type=hidden]):not([type=checkbox]), summary"
SMALL = """(pressed) => [...document.querySelectorAll(pressed)]
  .filter((one) => one.checkVisibility())
  .map((one) => [one.textContent || one.name, one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 59.5 || box.height < 59.5)
  .map(([name, box]) => `${name}: ${box.width} x ${box.height}`)"""
# A digit is as high as a capital letter: about 0.7 of the letters' size in the usual typefaces.
DIGITS = """() => {
  const place = document.querySelector('span.figure'), style = getComputedStyle(place);
  const canvas = document.createElement('canvas').getContext('2d');
  canvas.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return canvas.measureText('0').actualBoundingBoxAscent / Math.min(innerWidth, innerHeight);
}"""


@pytest.mark.parametrize("spaced", [False, True])
def test_nothing_covers_anything_and_nothing_leaves_the_screen(opened, served, keeper, spaced):
    page = opened()
    for name in ("everything at once", "fault", "lost", "silent"):
        keeper.arrange(**STATES[name])
        page.goto(served.origin)
        if spaced:
            page.evaluate(
                "(css) => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css);"
                " document.adoptedStyleSheets = [sheet]; }",
                SPACING,
            )
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate(MEET, AREAS) == [], (name, width, height)


def test_a_long_number_fits_with_text_spacing(opened, served, keeper):
    """113.0 °F, where milk is melted through."""
    served.site.style = Style(fahrenheit=True)
    keeper.arrange(reading=reading(estimate_c=45.0))
    page = opened()
    page.goto(served.origin)
    page.evaluate(
        "(css) => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css);"
        " document.adoptedStyleSheets = [sheet]; }",
        SPACING,
    )
    assert page.text_content("span.figure") == "113.0"
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(MEET, AREAS) == [], (width, height)


def test_the_number_is_read_from_two_metres_and_targets_are_hit_by_a_knuckle(
    opened, served, keeper
):
    keeper.arrange(**STATES["everything at once"])
    page = opened()
    page.goto(served.origin)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(DIGITS) >= 0.18, (width, height)
        assert page.evaluate(SMALL, PRESSED) == [], (width, height)
        # What has to be pressed is there without scrolling.
        low = page.evaluate(
            "() => Math.max(...[...document.querySelectorAll('form.act button')]"
            ".map((one) => one.getBoundingClientRect().bottom))"
        )
        assert low <= height, (width, height)
    for path in ROOMS:
        page.goto(served.origin + path)
        for width, height in (SIZES[0], SIZES[4]):
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate(SMALL, PRESSED) == [], (path, width)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (
                path,
                width,
            )


def test_nine_tabs_of_one_browser_live_at_once(opened, browser, served, keeper):
    """HTTP/1.1 allows six connections a host: one stream serves them all."""
    pages = [opened()]
    context = pages[0].context
    pages += [context.new_page() for _ in range(8)]
    for page in pages:
        page.goto(served.origin)
    for tenth in range(2):
        keeper.arrange(reading=reading(estimate_c=29.0 + tenth))
        for page in pages:
            page.wait_for_function(
                "(words) => document.querySelector('span.figure').textContent === words",
                arg=f"{29 + tenth}.0",
            )


def test_all_of_it_by_keyboard_alone(opened, served, keeper):
    page = opened()
    page.goto(served.origin)
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Blade dipped":
            break
    assert page.evaluate("document.activeElement.matches(':focus-visible')")
    page.keyboard.press("Enter")
    page.wait_for_function(
        "() => document.getElementById('answer').textContent === 'Noted: dip_test.'"
    )
    assert keeper.pressed == [("dip_test", 0)]
    # New buttons come, and the one that had the focus keeps it while it stays.
    keeper.arrange(heard=Heard("too_warm", 590_000, 3), turns={"dip_test": 1})
    page.wait_for_selector("form.silence")
    assert page.evaluate("document.activeElement.textContent") == "Blade dipped"


def test_without_script_it_is_all_there(opened, served, keeper):
    page = opened(java_script_enabled=False)
    page.goto(served.origin)
    assert page.text_content("span.figure") == "31.1"
    page.click("form.dip_test button")
    page.wait_for_url("**/bench/1")
    assert keeper.pressed == [("dip_test", 0)]


def test_sounds_and_speech_come_from_the_browser_when_they_are_switched_on(opened, served, keeper):
    page = opened()
    page.add_init_script(
        "window.tones = []; window.aloud = [];"
        "const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (at) {"
        " tones.push(this.frequency.value); start.call(this, at); };"
        "speechSynthesis.speak = (words) => aloud.push(words.text);"
    )
    page.goto(served.origin)
    keeper.arrange(heard=Heard("reached", 590_000, 1))
    page.wait_for_function(
        "() => document.querySelector('.heard').textContent.includes('reached')"
    )
    assert page.evaluate("tones") == []
    page.click("#sound")
    page.click("#speak")
    keeper.arrange(heard=Heard("too_warm", 595_000, 2), reading=reading(state="too_warm"))
    page.wait_for_function("() => tones.length === 3")  # m.m.m
    assert page.evaluate("tones") == [2300, 2300, 2300]
    page.wait_for_function("() => aloud.length === 1")
    assert page.evaluate("aloud") == ["Too warm: stir in a few pieces."]


def test_the_curve_can_be_held(opened, served, keeper):
    """WCAG 2.2, 2.2.2: what moves by itself can be stopped."""
    page = opened()
    page.goto(served.origin)
    page.wait_for_function("() => performance.now() > 300")
    page.click("#hold")
    held = page.inner_html("div.curve")
    other = picture([(0.0, 20.0), (900.0, 40.0)], None, PLAIN)
    keeper.standing = replace(keeper.standing, curve=other, reading=reading(estimate_c=29.3))
    page.wait_for_function("() => document.querySelector('span.figure').textContent === '29.3'")
    assert page.inner_html("div.curve") == held
    page.click("#hold")
    page.wait_for_function(
        "() => !document.querySelector('div.curve').innerHTML.includes('window 30')"
    )
