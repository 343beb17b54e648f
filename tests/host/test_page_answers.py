"""What a form is answered: always by going on to a page, so that a browser that goes back asks
nothing; with what to press, not what to type; and with what was typed still there."""

import ast
import re
from pathlib import Path

import pytest
from page_board import standing
from starlette.routing import Route
from test_page_rooms import BY, client, code, site, words  # noqa: F401

import snapcurve.page
from snapcurve.analysis.deviations import Handled
from snapcurve.page.after import STEPS, _Forms
from snapcurve.page.keeper import Done
from snapcurve.page.pressed import LABELS, PLACES, TYPED, on_page
from snapcurve.page.server import application
from snapcurve.page.told import MOST, Tell, Told

HOST = Path(snapcurve.page.__file__).parents[1]
GOOD = {
    "/bench/{number}/press": {"word": "dip_test", "turn": "0"},
    "/before/load": {"couverture": "milk", "method": "hold"},
    "/before/today": {"room": "21"},
    "/before/lot": {"ingredient": "milk couverture", "lot": "MC-104"},
    "/before/couverture": {"id": "house-milk", "text": "name = 1"},
    "/after/collect": {},
    "/after/{code}/note": {"gloss": "dull", **BY},
    "/probe/trust": {},
    "/probe/sound": {"volume": "low"},
    "/practise/start": {"couverture": "none-such"},
}


def posts(site):  # noqa: F811
    """The addresses of all forms, and what is sent to each."""
    return [
        (one.path, re.sub(r"\{number(:int)?\}", "1", one.path))
        for one in application(site).routes
        if isinstance(one, Route) and "POST" in (one.methods or ())
    ]


@pytest.mark.parametrize("sent", ["as meant", "empty", "torn"])
def test_every_form_is_answered_by_going_on_to_a_page(site, client, code, sent):  # noqa: F811
    site.keepers[0].press = lambda word, turn: Done(True, "Noted.")
    paths = posts(site)
    assert len(paths) > 20
    for path, address in paths:
        form = {} if sent == "empty" else GOOD.get(path.replace(":int", ""), {"by": "x"})
        more = {"data": form} if sent != "torn" else {"content": b"\xff=\xff&" * 90}
        at = address.replace("{code}", code).replace("{step}", "none")
        answer = client.post(at, follow_redirects=False, **more)
        assert answer.status_code == 303, (path, sent, words(answer.text))
        page = client.get(answer.headers["location"])
        assert page.status_code in (200, 422), (path, sent)
        assert "<h1>" in page.text


def test_a_refusal_says_where_to_go_back_to(client):  # noqa: F811
    origin = str(client.base_url)
    whole = client.post("/practise/start", data={"couverture": "none"}).text
    assert 'href="/practise">Back' in whole
    came = {"referer": f"{origin}/before/rescue?showed=mark&said=old"}
    whole = client.post("/before/load", data={"couverture": "../x"}, headers=came).text
    assert 'href="/before/rescue?showed=mark">Back' in whole
    foreign = {"referer": "http://evil.example/trap"}
    whole = client.post("/before/load", data={"couverture": "../x"}, headers=foreign).text
    assert "evil" not in whole
    assert client.get("/refused?said=gone", follow_redirects=False).headers["location"] == "/"


def test_a_refusal_costs_nobody_what_was_typed(client, code):  # noqa: F811
    typed = {"form": "note", "gloss": "dull", "text": 'moulds <were> "cold"', "by": ""}
    whole = client.post(f"/after/{code}/note", data=typed).text
    assert "moulds &lt;were&gt; &quot;cold&quot;" in whole
    assert re.search(r'<option value="dull" selected>', whole)
    assert whole.count("<details open>") == 1
    day = client.post("/before/today", data={"form": "today", "room": "warm", "place": "left"})
    assert 'value="warm"' in day.text
    assert 'value="left"' in day.text
    lot = {"form": "lot", "ingredient": "cocoa butter", "lot": "", "maker": "Hollerbach"}
    assert 'value="Hollerbach"' in client.post("/before/lot", data=lot).text


def test_answers_are_kept_within_bounds_and_found_by_their_own_word_only():
    told = Told()
    words = [told.keep(Tell(str(number))) for number in range(MOST + 5)]
    assert [told.of(one).html for one in words[:5]] == [""] * 5
    assert told.of(words[-1]).html == str(MOST + 4)
    assert told.of("") == told.of("guessed") == Tell()


def test_each_command_a_sentence_names_has_its_place_on_the_page():
    """Whatever sentence of the host tool comes to stand on the page: it says what to press, or
    that it is typed in a terminal."""
    named = set()
    for path in sorted(HOST.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                named |= set(re.findall(r"'snapcurve ([a-zA-Z-][^'{]*)'", node.value))
    assert len(named) > 30
    left = {one for one in named if "'snapcurve" in on_page(f"'snapcurve {one}'")}
    meant = {one for one in left if any(f"{one} ".startswith(f"{word} ") for word in TYPED)}
    assert left - meant - {"--help", "COMMAND --help", "practise --help", "load --help"} == set()
    # The places there are stand on the pages, word for word.
    pages = "".join(path.read_text("utf-8") for path in (HOST / "page").glob("*.py"))
    for _, place in PLACES:
        for button in re.findall("“([^”]+)”", place):
            assert pages.count(button) > 1 or button == "Ice bath", button
    for label in LABELS.values():
        for field in re.findall("“([^”]+)”", label):
            assert field in pages.replace("\"'", "").replace("' ", ""), field


def test_an_option_that_a_refusal_names_is_a_field_of_the_page():
    assert on_page("Who says so? Give --by NAME.") == "Who says so? Give “Who says so”."
    assert on_page("use --method coating.") == "use “Method” coating."
    assert on_page("a well--known rule, --unheard-of") == "a well--known rule, --unheard-of"


def test_no_page_names_a_command_that_it_has_a_button_for(site, client, code):  # noqa: F811
    remark = "Never calibrated: 'snapcurve calibrate ice' takes ten minutes."
    site.keepers[0].standing = standing(remark=remark)
    for path in ("/", "/probe", f"/after/{code}", "/after", "/before", "/practise/account"):
        plain = words(client.get(path).text).replace("&#x27;", "'")
        assert "'snapcurve" not in plain, path
    assert "“Ice bath” under Probe" in words(client.get("/").text)
    assert "“Set out a bowl” under Practise" in words(client.get("/practise/account").text)


def test_a_deviation_says_in_plain_words_what_is_missing():
    found = {"words": "Scorched", "open": ["action", "disposition", "review"]}
    whole = words(_Forms("2026-11-30-01", "", {}).deviation(1, found))
    assert "Deviation 1: Scorched. Still to be noted: what was done, what became of it, " in whole
    assert "a second person’s word." in whole
    held = words(_Forms("2026-11-30-01", "", {}).deviation(1, {"words": "x", "open": ["held"]}))
    assert "Still to be noted: what becomes of what is held." in held
    closed = words(_Forms("2026-11-30-01", "", {}).deviation(2, {"words": "x", "open": []}))
    assert "Deviation 2: x. Closed." in closed
    none = Handled(None, None, None, None)  # type: ignore[arg-type]
    assert tuple(STEPS) == none.open


def test_a_practised_batch_is_marked_as_practice(site, client, code, monkeypatch):  # noqa: F811
    assert "Practice" not in words(client.get(f"/after/{code}").text)
    asked = site.errand

    def rehearsed(typed):
        came = asked(typed)
        out = came.out.replace('"rehearsal": false', '"rehearsal": true')
        return type(came)(came.code, out, came.err)

    monkeypatch.setattr(site, "errand", rehearsed)
    whole = words(client.get(f"/after/{code}").text)
    assert "Practice: a bowl on this computer. No chocolate was tempered." in whole
