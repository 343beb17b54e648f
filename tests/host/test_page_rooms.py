"""The rooms beside the bench: each form runs the command a person would type, and whatever is
typed into it does no harm."""

import io
import re
import subprocess
import sys
import time
from contextlib import contextmanager

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lying_bytes import WORST
from page_board import standing
from page_errands import InProcess
from PIL import Image
from starlette.testclient import TestClient

from snapcurve.notebook import open_notebook
from snapcurve.page import limited
from snapcurve.page.errands import Came, run
from snapcurve.page.guard import PICTURE_BYTES_MAX, Door, Guard
from snapcurve.page.prose import prose
from snapcurve.page.server import application
from snapcurve.page.site import Site
from snapcurve.shown.units import PLAIN

ORIGIN = "http://127.0.0.1:8017"
BY = {"by": "Ilka Brandner"}


class LendingKeeper:
    """A bench whose board is lent."""

    named = None

    def __init__(self):
        self.standing = standing()
        self.lendings: list[str] = []

    @contextmanager
    def lent(self, why):
        self.lendings.append(why)
        yield


@pytest.fixture
def site(own_computer, wired_board, tmp_path, monkeypatch):
    """A bench with the wired board, and an empty notebook."""
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    return Site([LendingKeeper()], PLAIN, InProcess(), clock=lambda: 100.0)


@pytest.fixture
def client(site):
    found = TestClient(Guard(application(site), Door((ORIGIN,))), base_url=ORIGIN)
    found.headers["origin"] = ORIGIN
    return found


@pytest.fixture
def code(site, client, wired_board):
    """A batch that was loaded, recorded and collected by the page."""
    client.post("/before/load", data={"couverture": "milk", "method": "hold"})
    wired_board.record(time.time() - 3600)
    answer = client.post("/after/collect")
    found = re.search(r"/after/(\d{4}-\d\d-\d\d-\d\d)", answer.text)
    assert found, answer.text
    return found[1]


def words(html):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


# --- before --------------------------------------------------------------------------------


def test_before_shows_shelf_and_day_and_loads_onto_the_board(site, client, wired_board):
    whole = client.get("/before").text
    assert "Milk couverture" in whole
    assert "30 to 32 °C" in whole
    answer = client.post("/before/load", data={"couverture": "dark", "method": "seeding"})
    assert "read back and compared" in answer.text
    assert b"Dark couverture" in wired_board.profile
    assert site.keepers[0].lendings == [
        "The couverture is loaded; the reading comes back by itself."
    ]


def test_the_plan_is_that_of_the_command(site, client):
    asked = {"couverture": "milk", "mass": "1.2 kg", "room": "21", "watts": "700", "bowl": "glass"}
    answer = client.get("/before/plan", params=asked)
    plain = words(answer.text)
    typed = ["plan", "milk", "--mass=1.2kg", "--room=21", "--watts=700", "--bowl=glass"]
    lines = [line.strip().lstrip("-! ")[:40] for line in site.errand(typed).lines]
    assert [line for line in lines if words(line) not in plain.replace("&#x27;", "'")] == []
    refused = client.get("/before/plan", params={"couverture": "milk", "mass": "1.2"})
    assert "without a unit would be grams" in refused.text


def test_what_holds_for_the_day_and_a_lot_go_into_the_batch(client, site, wired_board):
    client.post(
        "/before/today", data={"room": "21,5", "mass": "1.2kg", "operator": "Ilka Brandner"}
    )
    client.post(
        "/before/lot",
        data={"ingredient": "milk couverture", "lot": "MC-104", "maker": "Hollerbach"},
    )
    assert "MC-104" in client.get("/before").text
    wired_board.record(time.time())
    whole = client.post("/after/collect").text
    code = re.search(r"/after/(\d{4}-\d\d-\d\d-\d\d)", whole)[1]
    with open_notebook() as book:
        now = book.as_amended(code).now
    assert (now.operator, now.room_centi_c, now.mass_mg) == ("Ilka Brandner", 2150, 1_200_000)
    assert [lot.lot for lot in now.lots] == ["MC-104"]


def test_a_couverture_of_ones_own_is_checked_and_kept(client, tmp_path):
    text = client.get("/before/couverture", params={"id": "milk"}).text
    assert "melt_c = 45" in text
    named = 'name = "House milk"\nkind = "milk"\n'
    written = named + "melt_c = 45\nwork_c = [30, 31.5]\nnever_above_c = 50\n"
    kept = client.post("/before/couverture", data={"id": "house-milk", "text": written})
    assert "Kept as" in kept.text
    assert (tmp_path / "couvertures/house-milk.toml").read_text() == written
    assert "House milk" in client.get("/before").text
    wrong = client.post(
        "/before/couverture", data={"id": "x", "text": written.replace("31.5", "60")}
    )
    assert 'role="alert"' in wrong.text
    assert not (tmp_path / "couvertures/x.toml").exists()


@pytest.mark.parametrize(
    "name", ["../evil", "/etc/passwd", "a/b", "", ".", "a" * 41, "-x", "x.toml", "ü", "a\x00b"]
)
def test_a_couverture_can_be_no_path(client, tmp_path, name):
    before = sorted(tmp_path.rglob("*.toml"))
    answer = client.post("/before/couverture", data={"id": name, "text": "name = 'x'"})
    assert 'role="alert"' in answer.text
    assert client.get("/before/couverture", params={"id": name or "/"}).status_code == 422
    assert client.post("/before/load", data={"couverture": name}).status_code == 422
    assert sorted(tmp_path.rglob("*.toml")) == before


# --- after ---------------------------------------------------------------------------------


def test_a_batch_is_collected_listed_shown_and_drawn(client, code):
    assert code in client.get("/after").text
    whole = client.get(f"/after/{code}").text
    assert "What the record says" in whole
    chart = client.get(f"/after/{code}/chart.png")
    assert chart.headers["content-type"] == "image/png"
    assert Image.open(io.BytesIO(chart.content)).format == "PNG"
    sheet = client.get(f"/after/{code}/sheet.pdf")
    assert sheet.content.startswith(b"%PDF")
    assert code in client.get("/after/trace", params={"what": code}).text


def test_each_form_of_a_batch_files_its_entry(client, code):
    posts = {
        "note": {"gloss": "dull", "text": "-- moulds were cold", **BY},
        "lot": {"ingredient": "milk couverture", "lot": "MC-104", "allergens": "milk", **BY},
        "made": {"made": "bars of 70 g", "pieces": "12", "mass": "840g", "to": "shop", **BY},
        "amend": {"field": "room", "value": "21.5", "why": "read off the wall", **BY},
    }
    for end, form in posts.items():
        answer = client.post(f"/after/{code}/{end}", data=form, follow_redirects=False)
        assert answer.status_code == 303, words(answer.text)
    plain = words(client.get(f"/after/{code}").text)
    for said in (
        "dull",
        "slight",
        "moulds were cold",
        "MC-104",
        "bars of 70 g",
        "read off the wall",
    ):
        assert said in plain
    with open_notebook() as book:
        assert book.as_amended(code).now.room_centi_c == 2150


def test_what_the_command_refuses_is_said_on_the_page_and_files_nothing(client, code):
    nobody = client.post(f"/after/{code}/note", data={"gloss": "dull"})
    assert nobody.status_code == 422
    assert "Who says so?" in words(nobody.text)
    other = client.post(f"/after/{code}/amend", data={"field": "code", "value": "x", **BY})
    assert other.status_code == 422
    no_blade = client.post(f"/after/{code}/blade", data={"result": "passed", **BY})
    assert "No test blade was marked" in words(no_blade.text)
    with open_notebook() as book:
        assert book.history(code) == [] or all(one.kind == "lot" for one in book.history(code))


def photo(**how):
    target = io.BytesIO()
    Image.effect_noise((64, 48), 90).convert("RGB").save(target, "JPEG", **how)
    return target.getvalue()


def test_a_picture_from_the_tablet_is_kept_and_shown(client, code):
    files = {"picture": ("../../blade <1>.jpg", photo(), "image/jpeg")}
    answer = client.post(
        f"/after/{code}/picture",
        files=files,
        data={"text": "blade 1", **BY},
        follow_redirects=False,
    )
    assert answer.status_code == 303, words(answer.text)
    shown = client.get(f"/after/{code}/picture/1")
    assert shown.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(shown.content)).size == (64, 48)
    assert client.get(f"/after/{code}/picture/2").status_code == 404
    assert f'src="/after/{code}/picture/1"' in client.get(f"/after/{code}").text


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("page.html", b"<script>alert(1)</script>"),
        ("x.svg", b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>'),
        ("x.jpg", b""),
        ("x.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 1000),
        ("x.gif", b"GIF89a" + b"\0" * 100),
    ],
)
def test_what_is_no_picture_is_refused(client, code, name, content):
    files = {"picture": (name, content, "image/jpeg")}
    answer = client.post(f"/after/{code}/picture", files=files, data=BY)
    assert answer.status_code == 422
    assert "picture" in words(answer.text)
    assert client.get(f"/after/{code}/picture/1").status_code == 404


def test_an_upload_beyond_the_limit_is_refused_by_its_stated_length(client, code):
    headers = {"content-length": str(1 << 30), "content-type": "multipart/form-data; boundary=x"}
    assert client.post(f"/after/{code}/picture", headers=headers).status_code == 413
    assert PICTURE_BYTES_MAX < 10 << 20


def test_a_form_that_is_torn_is_refused(client, code):
    headers = {"content-type": "multipart/form-data; boundary=x"}
    for content in (
        b"",
        b"--x\r\n",
        b"--y--",
        b"\0" * 4000,
        b"--x\r\nContent-Disposition: form-data",
    ):
        answer = client.post(f"/after/{code}/picture", headers=headers, content=content)
        assert answer.status_code == 422


@pytest.mark.parametrize(
    "bad", ["..", "-1", "--help", "x" * 60, "a b", "%2e%2e%2f", "'", "last;x"]
)
def test_a_code_that_is_none_reaches_no_command(site, client, bad):
    assert client.get(f"/after/{bad}/sheet.pdf").status_code in (404, 422)
    assert site.errand.asked == []


FORMS = {
    "/before/today": ("room", "mass", "place", "operator"),
    "/before/lot": ("ingredient", "lot", "maker", "best_before", "allergens"),
    "/after/CODE/note": ("text", "gloss", "bloom", "by"),
    "/after/CODE/lot": ("ingredient", "lot", "maker", "mass", "allergens", "by"),
    "/after/CODE/made": ("made", "pieces", "mass", "best_before", "to", "by"),
    "/after/CODE/amend": ("field", "value", "why", "by"),
    "/after/CODE/deviation": ("number", "action", "disposition", "review", "by"),
    "/probe/sound": ("name", "volume"),
    "/practise/start": ("couverture", "method", "mass", "beside", "room", "lesson"),
    "/practise/act": ("act", "amount", "once"),
    "/practise/speed": ("speed",),
}
HOSTILE = (
    '<script>alert("x")</script>',
    "\"'><img src=x onerror=alert(1)>",
    WORST,
    "--help",
    "\x00",
    "=cmd|' /C calc'!A0",
)


@pytest.mark.parametrize("value", HOSTILE)
def test_hostile_text_in_every_field_is_refused_or_shown_as_text(client, code, value):
    seen = []
    for path, names in FORMS.items():
        answer = client.post(path.replace("CODE", code), data=dict.fromkeys(names, value))
        assert answer.status_code in (200, 422)
        seen.append(answer.text)
    seen += [client.get(path).text for path in (f"/after/{code}", "/before", "/after")]
    for whole in seen:
        assert "<script>alert" not in whole
        assert "<img src=x" not in whole
        assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e\u2066-\u2069]", whole)
        assert "usage:" not in whole


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200))
def test_any_bytes_for_a_form_are_answered_in_a_sentence(client, content):
    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/bench/1/press", content=content, headers=headers)
    assert answer.status_code == 422


# --- practise ------------------------------------------------------------------------------


def test_an_account_shows_its_moments_as_a_table(site, client):
    lines = [
        "Practice: milk by seeding",
        "Account   Not yet right: 2 of 4 points in 60:16 min.",
        "  - WRONG: At the end it was 27.8 °C, outside its window of 30 to 32 °C.",
        "",
        " time  what        it read   it was  fine crystals",
        " 0:00  start     probe out  21.0 °C          0.0 %",
        "25:29  hot air     17.5 °C  17.4 °C          2.5 %",
    ]
    site.errand = lambda words: Came(0, "\n".join(lines), "")
    shown = client.get("/practise/account").text
    row = re.findall(r'<td data-head="([^"]+)">([^<]*)</td>', shown)[5:]
    assert row == [
        ("time", "25:29"),
        ("what", "hot air"),
        ("it read", "17.5 °C"),
        ("it was", "17.4 °C"),
        ("fine crystals", "2.5 %"),
    ]
    assert "2 of 4 points" in shown


def test_a_page_that_shows_a_bowl_learns_that_it_was_put_away(site):
    """Else its number and its buttons would stand there for ever."""
    assert "bowl.seen" not in site.parts()  # nobody practises
    site.bowl.wanted()
    try:
        shown = site.parts()
        assert "No bowl is set out" in shown["bowl.seen"]
        assert (shown["bowl.doing"], shown["bowl.time"]) == ("", "")
    finally:
        site.bowl.end()
        site.bowl.join()


def test_practise_offers_bowl_and_lessons_and_says_the_caution(client):
    whole = words(client.get("/practise").text)
    assert "Never leave a metal probe in a microwave oven" in whole
    assert "Lessons" in whole
    answer = client.post("/practise/act", data={"act": "stir"})
    assert (answer.status_code, "No practice bowl is set out" in words(answer.text)) == (422, True)


def test_a_page_for_other_boards_says_that_it_cannot_practise(client, site):
    site.keepers[0].named = "/dev/ttyACM0"
    answer = client.post("/practise/start", data={"couverture": "milk"})
    assert "start it with --port rehearsal" in answer.text


# --- the probe -----------------------------------------------------------------------------


def test_the_probe_shows_trust_steps_and_sounds(client):
    whole = client.get("/probe").text
    assert "±2.0 °C" in whole
    assert "the temperature of this phase is reached" in whole
    steps = client.get("/probe/step/ice").text
    assert "<ol><li>" in steps
    assert client.get("/probe/step/point").text.count("reference") >= 2
    assert client.get("/probe/step/evil").status_code == 422
    assert client.get("/probe/job", follow_redirects=False).status_code == 303


# --- how commands are run ------------------------------------------------------------------


def test_a_command_runs_in_a_process_of_its_own_with_an_end_to_its_memory(own_computer):
    came = run(["couvertures", "--json"])
    assert came.ok
    assert {one["id"] for one in came.json()} >= {"milk", "dark"}
    refused = run(["plan", "milk", "--mass=1.2"])
    assert "mass" in refused.refusal
    assert "Traceback" not in refused.err


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limits")
def test_the_limits_hold_for_the_command_and_whatever_it_loads():
    asked = (
        "import resource, runpy, snapcurve.page.limited as limited;"
        "runpy.run_module = lambda *_, **__: print("
        "resource.getrlimit(resource.RLIMIT_AS)[0], resource.getrlimit(resource.RLIMIT_CPU)[0]);"
        "limited.main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked], capture_output=True, text=True, check=True
    )
    memory, cpu_s = map(int, done.stdout.split())
    assert 0 < memory <= limited.MEMORY_BYTES
    assert 0 < cpu_s <= limited.CPU_S


def test_lines_for_a_terminal_become_paragraphs_points_and_rows():
    lines = [
        "Weigh     880 g to melt, and hold back 320 g of pieces in temper, in 4 handfuls, and so",
        "          on to the end of it.",
        "Seed      1. minute 9: 75 g when it reads 42.4 °C or less; stirred in, it reads about",
        "          38.5 °C.",
        "          2. minute 10: 75 g.",
        "",
        "Caution:",
        "  - Take the probe out.",
        "! <b>",
    ]
    assert prose(lines) == (
        '<div class="headed"><strong>Weigh</strong><p>880 g to melt, and hold back 320 g of '
        "pieces "
        "in temper, in 4 handfuls, and so on to the end of it.</p></div>"
        '<div class="headed"><strong>Seed</strong><p>1. minute 9: 75 g when it reads 42.4 °C or '
        "less; stirred in, it reads about 38.5 °C.<br>2. minute 10: 75 g.</p></div>"
        '<p>Caution:</p><p class="point">Take the probe out.</p>'
        '<p class="point"><strong>!</strong> &lt;b&gt;</p>'
    )


def test_a_refusal_is_its_sentence_without_the_command_line_before_it():
    came = Came(2, "", "usage: snapcurve load\nsnapcurve load: error: no such thing\n")
    assert came.refusal == "no such thing"
