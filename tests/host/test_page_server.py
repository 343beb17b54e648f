"""The page's server, asked without a network: addresses, headers, the door, and hostile guests."""

import json
import re
import threading

import anyio
import pytest
from page_board import standing
from starlette.testclient import TestClient

from snapcurve.page.guard import FORM_BYTES_MAX, Door, Guard
from snapcurve.page.keeper import Done
from snapcurve.page.server import application
from snapcurve.page.site import STREAMS_MOST, Site
from snapcurve.shown.units import PLAIN

ORIGIN = "http://127.0.0.1:8017"
CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)


class StillKeeper:
    """A bench that stands, and notes what is pressed."""

    def __init__(self, **values):
        self.standing = standing(**values)
        self.pressed: list[tuple[str, int]] = []

    def press(self, word, turn):
        self.pressed.append((word, turn))
        return Done(word == "dip_test", f"said of {word}")


@pytest.fixture
def site():
    """Two benches at which time stands still."""
    return Site([StillKeeper(), StillKeeper(port="/dev/other")], PLAIN, None, clock=lambda: 100.0)


@pytest.fixture
def client(site):
    """A browser on this computer, which sends its origin with each post."""
    app = Guard(application(site), Door((ORIGIN, "http://localhost:8017")))
    found = TestClient(app, base_url=ORIGIN)
    found.headers["origin"] = ORIGIN
    return found


def test_the_policy_and_the_other_headers_are_on_every_answer(client):
    for path in ("/", "/bench/2", "/assets/page.js", "/assets/page.css", "/nowhere"):
        answer = client.get(path)
        assert answer.headers["content-security-policy"] == CSP
        assert answer.headers["referrer-policy"] == "same-origin"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert "server" not in answer.headers
    assert client.get("/", headers={"host": "evil.example"}).headers["content-security-policy"]


def test_a_page_needs_nothing_from_elsewhere_and_has_no_script_or_style_inside(client):
    for path in ("/", "/bench/2"):
        whole = client.get(path).text
        assert re.findall(r"<script(?![^>]* src=)", whole) == []
        assert re.findall(r"<style|\sstyle=|\son[a-z]+=|javascript:|https?://", whole) == []
    for name in ("page.css", "page.js", "stream.js"):
        text = client.get(f"/assets/{name}").text
        assert not re.findall(r"https?://|@import|url\(|eval|new Function", text)


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8017", "127.0.0.1", "127.0.0.1:80", "", "localhost"]
)
def test_another_name_for_this_computer_is_refused(client, host):
    """DNS rebinding: a name of theirs that leads here."""
    assert client.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize(
    "origin",
    [None, "null", "", "http://evil.example", "http://127.0.0.1:8018", "https://127.0.0.1:8017",
     "http://127.0.0.1:8017.evil.example", "http://127.0.0.1:8017/"],
)  # fmt: skip
def test_a_post_from_a_foreign_page_does_nothing(client, site, origin):
    del client.headers["origin"]
    headers = {} if origin is None else {"origin": origin}
    answer = client.post("/bench/1/press", data={"word": "dip_test", "turn": "0"}, headers=headers)
    assert answer.status_code == 403
    assert site.keepers[0].pressed == []


def test_another_site_may_link_to_a_page_and_not_use_its_parts(client):
    """The Fetch Metadata headers, as browsers send them."""
    picture = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert client.get("/assets/icon.svg", headers=picture).status_code == 403
    assert client.get("/", headers={**picture, "sec-fetch-mode": "navigate"}).status_code == 200
    assert client.get("/", headers={"sec-fetch-site": "same-origin"}).status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_refused(client, method):
    assert client.request(method, "/").status_code == 405


def test_a_press_without_script_comes_back_to_its_bench(client, site):
    answer = client.post(
        "/bench/2/press", data={"word": "dip_test", "turn": "3"}, follow_redirects=False
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/bench/2")
    assert site.keepers[1].pressed == [("dip_test", 3)]


def test_a_press_by_script_is_answered_in_one_sentence(client):
    headers = {"accept": "application/json"}
    done = client.post("/bench/1/press", data={"word": "dip_test", "turn": "0"}, headers=headers)
    assert done.json() == {"done": True, "said": "said of dip_test"}
    no = client.post("/bench/9/press", data={"word": "x", "turn": "0"}, headers=headers)
    assert no.json() == {"done": False, "said": "There is no such bench: go back to Bench."}


@pytest.mark.parametrize("turn", ["", "-1", "1.5", "9" * 40, "١", "<b>"])
def test_a_turn_that_is_no_number_is_refused(client, site, turn):
    answer = client.post("/bench/1/press", data={"word": "dip_test", "turn": turn})
    assert answer.status_code == 422
    assert site.keepers[0].pressed == []


def test_what_is_typed_comes_back_escaped(client):
    answer = client.post("/bench/1/press", data={"word": "<script>\x1b[2J", "turn": "0"})
    assert answer.status_code == 422
    assert "<script>\\" not in answer.text
    assert "\x1b" not in answer.text
    assert "&lt;script&gt;" in answer.text


def test_a_form_that_is_too_large_is_refused_before_it_is_read(client):
    big = b"word=" + b"x" * FORM_BYTES_MAX
    assert client.post("/bench/1/press", content=big).status_code == 413


def test_a_gigabyte_without_a_stated_length_is_cut_off(site):
    """The body comes piece by piece; no more is taken than may be."""
    taken, sent = [], []
    piece = b"x" * (1 << 20)

    async def receive():
        taken.append(1)
        return {"type": "http.request", "body": piece, "more_body": True}

    async def send(message):
        sent.append(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": "/bench/1/press",
        "query_string": b"",
        "headers": [(b"host", b"127.0.0.1:8017"), (b"origin", ORIGIN.encode())],
    }
    anyio.run(Guard(application(site), Door((ORIGIN,))), scope, receive, send)
    assert sent[0]["status"] == 413
    assert len(taken) == 1


@pytest.mark.parametrize(
    "path", ["/assets/../server.py", "/assets/%2e%2e/server.py", "/assets/..%2fserver.py",
             "/assets/page.css%00", "//etc/passwd", "/bench/-1", "/bench/99999999999999999999"]
)  # fmt: skip
def test_no_way_leads_out_of_the_assets(client, path):
    assert client.get(path).status_code in (404, 422)


def events(client, site, count):
    """The first events of a stream, which is then left."""
    found = []

    def stop():
        site.hub.end()

    with client.stream("GET", "/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        for line in answer.iter_lines():
            if line.startswith("data: "):
                found.append(json.loads(line[6:]))
                if len(found) == count:
                    stop()
    return found


def test_a_stream_sends_all_at_first_and_then_only_what_changes(client, site):
    """The test's client reads a stream when it has ended, so it ends by itself."""
    timer = threading.Timer(1.2, site.hub.end)
    timer.start()
    found = events(client, site, 99)
    timer.join()
    assert len(found) >= 2
    assert found[0]["now"]["1.figure"].count("31.1") == 1
    assert set(found[0]["now"]) >= {"1.next", "2.next", "2.strip", "1.acts", "1.curve"}
    assert all(one["now"] == {} for one in found[1:])
    assert {one["version"] for one in found} == {site.version}


def test_more_streams_than_there_can_be_browsers_are_refused(client, site):
    bells = [site.hub.join() for _ in range(STREAMS_MOST)]
    assert client.get("/events").status_code == 503
    site.hub.leave(bells[0])
    assert site.hub.join() is not None


def test_without_script_the_bench_loads_itself_anew(client):
    whole = client.get("/").text
    assert '<noscript><meta http-equiv="refresh" content="2"></noscript>' in whole
    assert whole.count("<h1") == 1
    assert '<html lang="en"' in whole
    assert "31.1" in whole
