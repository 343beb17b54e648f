"""Letting tablets in: codes that count once and for a while, guesses, removal, and the line."""

import ssl

import pytest
from page_board import standing
from starlette.testclient import TestClient

from snapcurve.errors import SnapcurveError
from snapcurve.page.certificate import NOT_ENCRYPTED, certificate_for
from snapcurve.page.guard import COOKIE, Door, Guard
from snapcurve.page.pairing import CODE_S, DEVICE_S, DEVICES_MOST, TRIES, Pairing
from snapcurve.page.server import application
from snapcurve.page.site import Site
from snapcurve.page.tablets import qr
from snapcurve.shown.units import PLAIN

HERE = "http://127.0.0.1:8017"
THERE = "https://192.0.2.7:8017"


class Time:
    """A clock that a test moves."""

    now_s = 1000.0

    def __call__(self):
        return self.now_s


class Still:
    """A bench at which nothing happens."""

    def __init__(self):
        self.standing = standing()


@pytest.fixture
def clock():
    return Time()


@pytest.fixture
def site(clock):
    """A shared page."""
    found = Site([Still()], PLAIN, None, Pairing(clock), clock=lambda: 100.0)
    found.shared_at = THERE
    return found


def browser(site, origin, pairing=None):
    """A browser at one of the doors."""
    client = TestClient(Guard(application(site), Door((origin,), pairing)), base_url=origin)
    client.headers["origin"] = origin
    return client


@pytest.fixture
def here(site):
    return browser(site, HERE)


@pytest.fixture
def tablet(site):
    return browser(site, THERE, site.pairing)


def test_a_tablet_sees_nothing_before_it_is_let_in(tablet):
    for path in ("/", "/bench/1", "/events", "/tablet", "/assets/page.js", "/before", "/nowhere"):
        answer = tablet.get(path)
        assert answer.status_code == 401
        assert "31.1" not in answer.text
    assert tablet.post("/bench/1/press", data={"word": "dip_test"}).status_code == 401
    assert tablet.get("/pair").status_code == 200


def test_the_right_code_lets_it_in_once(site, tablet):
    code = site.pairing.new_code()
    answer = tablet.post(
        "/pair", data={"code": f" {code[:4]} {code[4:]} "}, follow_redirects=False
    )
    cookie = answer.headers["set-cookie"].lower()
    for word in ("httponly", "samesite=strict", "secure", "path=/"):
        assert word in cookie
    assert tablet.get("/").status_code == 200
    again = browser(site, THERE, site.pairing)
    replayed = again.post("/pair", data={"code": code})
    assert replayed.status_code == 422
    assert "no longer counts" in replayed.text


def test_a_thousand_guesses_end_with_the_code(site, tablet):
    code = site.pairing.new_code()
    guesses = [f"{number:08d}" for number in range(1001) if f"{number:08d}" != code][:1000]
    codes = [tablet.post("/pair", data={"code": guess}).status_code for guess in guesses]
    assert set(codes) == {422}
    assert site.pairing.code == ""  # it was withdrawn after TRIES
    assert tablet.post("/pair", data={"code": code}).status_code == 422
    assert site.pairing.devices() == []
    assert TRIES <= 10


def test_a_code_ends_by_itself(site, tablet, clock):
    code = site.pairing.new_code()
    clock.now_s += CODE_S + 1
    assert tablet.post("/pair", data={"code": code}).status_code == 422


def test_a_new_code_takes_the_place_of_the_old(site, tablet):
    old = site.pairing.new_code()
    new = site.pairing.new_code()
    while new == old:
        new = site.pairing.new_code()
    assert tablet.post("/pair", data={"code": old}).status_code == 422
    assert tablet.post("/pair", data={"code": new}).status_code == 200


@pytest.mark.parametrize("code", ["", "0", "é" * 8, "\x00" * 8, "1" * 4000, "１２３４５６７８"])
def test_nonsense_is_no_code(site, tablet, code):
    site.pairing.new_code()
    assert tablet.post("/pair", data={"code": code}).status_code == 422


def test_a_tablet_is_removed_on_the_computer_and_not_on_a_tablet(site, here, tablet):
    tablet.post("/pair", data={"code": site.pairing.new_code()})
    assert tablet.get("/tablet").status_code == 422
    assert tablet.post("/tablet/code").status_code == 422
    assert tablet.post("/tablet/remove", data={"number": "1"}).status_code == 422
    assert tablet.get("/").status_code == 200
    assert "Remove 1" in here.get("/tablet").text
    assert here.post("/tablet/remove", data={"number": "1"}).status_code == 200
    assert tablet.get("/").status_code == 401


def test_a_tablet_is_let_in_for_a_day_of_work(site, tablet, clock):
    tablet.post("/pair", data={"code": site.pairing.new_code()})
    clock.now_s += DEVICE_S - 1
    assert tablet.get("/").status_code == 200
    clock.now_s += 2
    assert tablet.get("/").status_code == 401


def test_not_endlessly_many_are_let_in(clock):
    pairing = Pairing(clock)
    for _ in range(DEVICES_MOST):
        pairing.admit(pairing.new_code(), "tablet")
    with pytest.raises(SnapcurveError, match="remove one"):
        pairing.admit(pairing.new_code(), "tablet")


def test_a_made_up_cookie_is_none(site, tablet):
    tablet.post("/pair", data={"code": site.pairing.new_code()})
    for value in ("", "x", "a" * 4000, '"', "\\x00"):
        other = browser(site, THERE, site.pairing)
        assert other.get("/", headers={"cookie": f"{COOKIE}={value}"}).status_code == 401


def test_a_browser_that_gives_a_hostile_name_is_shown_escaped(site, here, tablet):
    tablet.post(
        "/pair",
        data={"code": site.pairing.new_code()},
        headers={"user-agent": "<script>alert(1)</script>"},
    )
    whole = here.get("/tablet").text
    assert "<script>alert" not in whole
    assert "&lt;script&gt;" in whole


def test_the_computer_shows_code_address_and_something_to_scan(site, here):
    code = site.pairing.new_code()
    whole = here.get("/tablet").text
    assert f"{code[:4]} {code[4:]}" in whole
    assert f"{THERE}/pair" in whole
    assert NOT_ENCRYPTED.split(":")[0] in whole  # this site has no certificate
    site.fingerprint = "AB:CD"
    assert "AB:CD" in here.get("/tablet").text
    drawn = qr(f"{THERE}/pair?code={code}")
    assert drawn.startswith("<svg")
    assert "style" not in drawn


def test_a_page_that_is_not_shared_says_how(site, here):
    site.shared_at = ""
    assert "snapcurve page --share" in here.get("/tablet").text
    here.post("/tablet/code")
    assert site.pairing.code == ""


def test_the_line_is_encrypted_with_a_certificate_for_that_address(tmp_path):
    """The oracle is OpenSSL, which checks name, time and key as a browser does."""
    made = certificate_for("192.0.2.7", tmp_path)
    assert made.key.stat().st_mode & 0o077 == 0
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(made.certificate, made.key)
    wires = [ssl.MemoryBIO() for _ in range(2)]
    ours = server.wrap_bio(*wires, server_side=True)

    def handshake(address):
        trusting = ssl.create_default_context(cafile=made.certificate)
        theirs = trusting.wrap_bio(wires[1], wires[0], server_hostname=address)
        for _ in range(4):
            for end in (theirs, ours):
                try:
                    end.do_handshake()
                except ssl.SSLWantReadError:
                    continue
        return theirs

    client = handshake("192.0.2.7")
    assert client.version() == "TLSv1.3"
    seen = ssl.DER_cert_to_PEM_cert(client.getpeercert(binary_form=True))
    assert seen.split() == made.certificate.read_text().split()
    wires = [ssl.MemoryBIO() for _ in range(2)]
    ours = server.wrap_bio(*wires, server_side=True)
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake("192.0.2.8")


def test_without_the_library_the_sentence_says_what_that_means(monkeypatch, tmp_path):
    monkeypatch.setitem(__import__("sys").modules, "cryptography", None)
    assert certificate_for("192.0.2.7", tmp_path) is None
    assert "not encrypted" in NOT_ENCRYPTED
