"""A whole practised batch in a real browser, by the page's buttons alone; and a page whose server
hangs, dies and comes back."""

import re
import signal

import pytest
from page_client import page
from page_learner import Learner

from snapcurve.probe.sounds import URGENT
from tests.browser import LONGEST_MS, Listened, axe_findings, chromium

pytestmark = pytest.mark.xdist_group("browser")
PORT = ("--port", "rehearsal")
VERSION = "() => document.documentElement.dataset.version"
OTHER_VERSION = "(before) => document.documentElement.dataset.version !== before"
HEAD = """() => {
  const box = document.querySelector('.practise .head').getBoundingClientRect();
  return [Math.round(box.top), box.bottom];
}"""
COLLECTED = "() => !document.querySelector('.acts').textContent.includes('Collect')"


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found


@pytest.fixture
def window(browser):
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    found = Listened(context)
    yield found
    context.close()


@pytest.fixture
def bowl_put_away(bench):
    """A bowl lives on after the command that set it out, and here must not."""
    yield
    bench.run("practise", "end")


def one_form(found, title, button, **fields):
    """Fill one of a batch's forms and send it."""
    form = found.locator("details", has_text=title)
    form.locator("summary").click()
    for name, value in fields.items():
        box = form.locator(f"[name={name}]")
        if box.evaluate("(one) => one.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)
    form.locator(f"button:text-is('{button}')").click()
    found.wait_for_url("**/after/*")


def test_milk_from_pieces_to_the_closed_record_by_buttons_alone(bench, window, bowl_put_away):
    tab = window.page
    with page(bench, *PORT) as served:
        tab.goto(served.origin)
        tab.click("nav >> text=Practise")
        assert axe_findings(tab) == []
        tab.select_option("#speed", "60")
        tab.click("text=Set out a bowl")
        tab.wait_for_selector(".practise")
        learner = Learner(tab, served.origin)
        learner.press("Probe in")
        learner.press("Microwave 20 s")
        assert "Metal in a microwave oven arcs" in tab.text_content("#answer")
        learner.press("Probe out")
        learner.melt()

        number, version = served.number, tab.evaluate(VERSION)
        assert served.end() == (0, "")
    # The page was ended in mid-batch: the board went on, and the tab comes back by itself.
    with page(bench, *PORT, at=number) as served:
        tab.wait_for_function(OTHER_VERSION, arg=version)
        tab.wait_for_function("() => document.querySelector('.seen').textContent.includes('Bowl')")
        drawn = tab.get_attribute("path.line", "d")
        assert drawn.count("L") > 30  # what was recorded before is read back from the board
        tab.set_viewport_size({"width": 360, "height": 740})
        tab.emulate_media(color_scheme="dark")
        assert axe_findings(tab) == []
        # Number and next step stay in sight of the lowest button.
        tab.evaluate("scrollTo(0, document.body.scrollHeight)")
        high, low = tab.evaluate(HEAD)
        assert (high, low < 370) == (0, True)
        bench.ok("practise", "replug")  # the cable goes out and in again
        tab.reload()
        learner.wait(30)
        learner.seed()

        tab.set_viewport_size({"width": 1920, "height": 1080})
        assert "satin gloss" in learner.dip()
        learner.press("Hold: end the batch")
        learner.wait(10)
        assert bench.ok_json("practise", "look")["acts"][-1]["act"] == "hold"

        tab.click(".acts >> text=Collect the batch")  # where the blade's buttons stood
        tab.click("text=Open batch")
        tab.wait_for_url("**/after/2*")
        tab.go_back()  # no form is sent again
        assert tab.text_content("h1") == "After the bowl"
        assert "In temper" in tab.text_content(".noted")
        tab.click("td a")
        code = re.search(r"/after/(\d{4}-\d\d-\d\d-\d\d)", tab.url)[1]
        assert "temper" in tab.text_content(".verdict").lower()
        by = {"by": "Ilka Brandner"}
        one_form(tab, "Outcome and words", "Note it", gloss="high", snap="clean", **by)
        one_form(tab, "Put a field right", "Amend", field="room", value="21", why="measured", **by)
        assert axe_findings(tab) == []
        sheet = tab.request.get(f"{served.origin}/after/{code}/sheet.pdf", timeout=LONGEST_MS)
        assert sheet.body().startswith(b"%PDF")
        tab.goto(f"{served.origin}/practise/account?learner=Ilka+Brandner")
        assert "Ilka Brandner" in tab.text_content("main") + tab.input_value("#learner")
        assert axe_findings(tab) == []
        address = f"{served.origin}/practise/account.pdf?learner=Ilka+Brandner"
        account = tab.request.get(address, timeout=LONGEST_MS)
        assert account.body().startswith(b"%PDF")
        tab.goto(f"{served.origin}/practise")
        tab.wait_for_function(COLLECTED)
        assert not tab.is_visible("text=Yes, put it away")  # asked once more
        tab.click("summary >> text=Put everything away")
        tab.click("text=Yes, put it away")
        tab.wait_for_selector("text=Set out a bowl")
        assert window.said == []
        assert served.end() == (0, "")
    found = bench.ok_json("show", code)
    assert (found["rehearsal"], found["now"]["room_c"]) == (True, 21.0)
    # What was heard on the page is what the board recorded, in its order. At this pace the shorter
    # sounds may pass between two looks, and an urgent one comes again behind a later one.
    alarms = [one["alarm"] for one in found["alarms"]]
    heard = [name for one in learner.heard if (name := one.replace(" ", "_")) in alarms]
    assert "reached" in heard
    place = 0
    for name in heard:
        if name in alarms[place:]:
            place = alarms.index(name, place) + 1
        else:
            assert name in URGENT, (learner.heard, alarms)
            assert name in alarms[:place], (learner.heard, alarms)
    # The blade's mark came from the page, once.
    marks = [one["kind"] for one in found["marks"] if one["kind"] != "resumed"]
    assert marks == ["dip_test", "passed"]
    assert {one["kind"] for one in found["entries"]} == {"outcome", "amendment"}


def test_a_server_that_hangs_dies_and_comes_back(bench, window):
    """The number is struck out and both sentences stand there; all by itself it is good again."""
    tab = window.page
    gone = "() => document.getElementById('lost').textContent.startsWith('The page has lost')"
    struck = (
        "() => getComputedStyle(document.querySelector('span.figure'))"
        ".textDecorationLine.includes('line-through')"
    )
    back = "() => document.getElementById('lost').textContent === ''"
    with page(bench, *PORT) as served:
        number = served.number
        tab.goto(served.origin)
        tab.wait_for_function("() => document.body.textContent.includes('probe out')")
        served.process.send_signal(signal.SIGSTOP)
        tab.wait_for_function(gone)
        assert tab.evaluate(struck)
        served.process.send_signal(signal.SIGCONT)
        tab.wait_for_function(back)
        tab.wait_for_function(f"() => !({struck})()")
        served.process.kill()
        tab.wait_for_function(gone)
    version = tab.evaluate(VERSION)
    with page(bench, *PORT, at=number) as served:
        tab.wait_for_function(OTHER_VERSION, arg=version)
        tab.wait_for_function(back)
        tab.wait_for_function("() => document.body.textContent.includes('probe out')")
        assert served.end() == (0, "")
