"""Every command against boards that lie: one sentence or success, in bounded time and memory,
and nothing in the output that would move a cursor."""

import csv
import io
import json
import struct
import sys
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from lying_board import Kept, Lie, LyingBoard
from odd_computer import Done, Odd, OddComputer
from pypdf import PdfReader
from running import Bench

from snapcurve.board.client import CurveRow
from snapcurve.collecting import filing
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.wire import catalogue

sys.path.append(str(Path(__file__).parents[1] / "wire"))
import lies
from lying_bytes import WORST, block, calibration_of, curve_of, data_body, packed, profile_of

WAITS = 0.1  # a request is given up after three times 0.2 s
ODD = Odd(waits=WAITS, memory_bytes=2 << 30)
MEMORY_MAX = 400 << 20  # what the test's own program had loaded is in it
EXAMPLES = 12
CODES = (0, 2, 3, 4, 5, 6)

ASKING = {
    "probe": ("probe",),
    "probe json": ("probe", "--json"),
    "calibrate show": ("calibrate", "show"),
    "calibrate json": ("calibrate", "show", "--json"),
    "load": ("load", "milk"),
    "watch": ("watch", "--seconds", "0.5"),
    "watch json": ("watch", "--seconds", "0.5", "--json"),
    "mark": ("mark", "passed"),
    "collect": ("collect",),
    "collect json": ("collect", "--keep", "--json"),
}
READING = {
    "show": ("show", "last", "--complaint", "bloom"),
    "show json": ("show", "last", "--json"),
    "export": ("batches", "--output", "-"),
    "export json": ("batches", "--json"),
    "curve": ("show", "last", "--curve", "-"),
    "batches": ("batches",),
    "chart": ("show", "last", "--chart", "batch.svg"),
    "sheet": ("sheet", "last", "--output", "batch.pdf"),
}


def harmless(text: str) -> None:
    """Nothing in it moves a cursor, rings, or turns letters round."""
    for line in text.split("\n"):
        assert line.removesuffix("\r").isprintable(), repr(line)


def all_texts(value: Any) -> Iterator[str]:
    """Every text in what JSON held."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from value
        for inner in value.values():
            yield from all_texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from all_texts(inner)


def checked(done: Done, what: str, texts: bool = True) -> Done:
    """``done`` if it ended as every command must; with ``texts`` those in its JSON and CSV are
    harmless too."""
    said = f"{what}: {done.code} {done.stderr[-2000:]}"
    assert done.code in CODES, said
    assert "Traceback" not in done.stderr, said
    if texts or not what.startswith("export"):
        harmless(done.stdout)
    harmless(done.stderr)
    told = [line for line in done.stderr.splitlines() if line.startswith("snapcurve: ")]
    assert len(told) == (done.code != 0), said
    assert done.peak_bytes < MEMORY_MAX, (what, done.peak_bytes)
    if texts and what.endswith("json") and done.code == 0:
        lines = done.stdout.splitlines() if what == "watch json" else [done.stdout]
        for line in lines:
            for text in all_texts(json.loads(line)):
                assert text.isprintable(), (what, text)
    if texts and what in ("export", "curve") and done.code == 0:
        for row in csv.reader(io.StringIO(done.stdout, newline="")):
            for cell in row:  # some hold a line for each thing they tell
                assert all(line.isprintable() for line in cell.split("\n")), (what, cell)
    return done


def asked(
    computer: OddComputer, bench: Bench, board: LyingBoard, what: str, odd: Odd = ODD
) -> Done:
    """A command that talks to ``board``."""
    words = (*ASKING[what], "--port", board.port)
    return checked(computer.run(bench.folder, bench.environment, words, odd), what)


def read(computer: OddComputer, bench: Bench, what: str, texts: bool = True) -> Done:
    """A command that reads what was collected."""
    done = computer.run(bench.folder, bench.environment, READING[what], ODD)
    checked(done, what, texts)
    if what == "chart" and done.code == 0:
        harmless((bench.folder / "batch.svg").read_text(encoding="utf-8"))
    if what == "sheet" and done.code == 0:
        for page in PdfReader(bench.folder / "batch.pdf").pages:
            harmless(page.extract_text())
    return done


def refusal(done: Done) -> str:
    """What it was refused with."""
    assert done.code != 0, done.stdout
    return done.stderr.splitlines()[-1]


# --- texts ------------------------------------------------------------------------------


def talking(**more: Any) -> Kept:
    """A board whose every text is the worst there is."""
    profile = profile_of(WORST, **more)
    return Kept(
        board=WORST,
        profile=profile,
        reason=(WORST * 3).encode()[:160],
        curves=[curve_of(profile)],
    )


@pytest.mark.parametrize("what", ASKING)
def test_escape_sequences_of_a_board_reach_no_terminal(
    computer: OddComputer, bench: Bench, what: str
) -> None:
    with LyingBoard(talking()) as board:
        done = asked(computer, bench, board, what)
    assert done.code == 0, done.stderr
    if what in ("probe", "calibrate show"):
        assert "\\x1b[31m" in done.stdout  # shown as what it is, not left out


@pytest.mark.parametrize("method", ["seeding", "cup"])
def test_escape_sequences_of_a_curve_reach_no_terminal(
    computer: OddComputer, bench: Bench, method: str
) -> None:
    with LyingBoard(talking(method=method)) as board:
        assert asked(computer, bench, board, "collect").code == 0
    for what in READING:
        done = read(computer, bench, what)
        assert done.code == 0, (what, done.stderr)
        if what in ("show", "export", "batches"):
            assert "\\x1b[31m" in done.stdout


@pytest.mark.parametrize("method", ["seeding", "cup"])
def test_what_was_filed_with_escape_sequences_is_harmless_too(
    computer: OddComputer, bench: Bench, method: str
) -> None:
    """By an earlier version, or by somebody else into a shared notebook."""
    raw = curve_of(profile_of(method=method))
    row = CurveRow(1, "closed", 3, len(raw), zlib.crc32(raw), 7)
    new = filing.new_batch(decode(raw), raw, row, WORST)
    with open_notebook(str(bench.folder / "notebook.db")) as book:
        book.file_batch(replace(new, couverture=WORST, operator=WORST))
    for what in ("show", "show json", "batches"):
        done = read(computer, bench, what, texts=False)
        assert done.code == 0, (what, done.stderr)
    for what in ("export", "export json"):
        done = read(computer, bench, what, texts=False)
        controls = {char for char in done.stdout if unicodedata.category(char) == "Cc"}
        assert controls <= set("\r\n")
    assert json.loads(done.stdout)[0]["now"]["couverture"] == WORST  # JSON loses nothing


# --- lists of curves ----------------------------------------------------------------------

ROW = {"curve": 1, "state": "closed", "boot": 3, "size": 100, "crc": 0, "generation": 1}


@pytest.mark.parametrize(
    "lie",
    [
        Lie(values={"first": 5}),
        Lie(values={"first": 0, "total": 0xFFFF}),
        Lie(values={"total": 0xFFFF, "rows": b""}),
        Lie(values={"rows": b"\x01" * 7}),
        Lie(values={"rows": packed(catalogue.CURVE_ROW, {**ROW, "state": 200})}),
        Lie(values={"rows": packed(catalogue.CURVE_ROW, ROW) * 48}),
        Lie(values={"total": 60_000, "rows": packed(catalogue.CURVE_ROW, ROW) * 2}),
    ],
    ids=["first", "total", "empty", "torn", "word", "repeated", "endless"],
)
@pytest.mark.parametrize("what", ["probe", "collect"])
def test_a_list_of_curves_that_makes_no_sense_ends(
    computer: OddComputer, bench: Bench, what: str, lie: Lie
) -> None:
    with LyingBoard(Kept(), {"curves_list": [lie]}) as board:
        done = asked(computer, bench, board, what)
        assert board.asked["curves_list"] <= 5
    refusal(done)
    assert done.seconds < 30


def test_a_list_that_goes_on_with_ever_new_curves_ends(
    computer: OddComputer, bench: Bench
) -> None:
    """The last number a curve can have is the end."""
    rows = [{**ROW, "curve": number & 0xFFFF, "generation": number} for number in range(70_000)]
    kept = Kept(rows=rows)
    with LyingBoard(kept) as board:
        board._curves_list = lambda asked: {  # one at a time, and the end never comes nearer
            "first": asked["first"],
            "total": 0xFFFF,
            "rows": packed(catalogue.CURVE_ROW, rows[asked["first"]]),
        }
        done = asked(computer, bench, board, "probe")
    assert "list of curves" in refusal(done)


@pytest.mark.parametrize("size", [0xFFFFFFFF, 1 << 31, 64 << 20])
def test_a_curve_of_impossible_size_is_not_given_room(
    computer: OddComputer, bench: Bench, size: int
) -> None:
    kept = Kept(rows=[{**ROW, "size": size}])
    with LyingBoard(kept) as board:
        done = asked(computer, bench, board, "collect")
    assert "makes no sense" in refusal(done)


@pytest.mark.parametrize(
    "lie",
    [
        Lie(values={"curve": 9}),
        Lie(values={"offset": 1 << 20}),
        Lie(values={"offset": 0}),
        Lie(values={"generation": 5}),
        Lie(values={"total": 5}),
        Lie(values={"data": b""}),
        Lie(values={"data": b"\xc5"}),
        Lie(values={"data": bytes(1024)}),
        Lie(times=0),
        Lie(times=3),
        Lie(sequence=1),
        Lie(name="hello_answer"),
        Lie(payload=b""),
    ],
)
def test_a_download_that_lies_ends(computer: OddComputer, bench: Bench, lie: Lie) -> None:
    with LyingBoard(Kept(), {"curve_read": [lie]}) as board:
        done = asked(computer, bench, board, "collect", replace(ODD, waits=WAITS / 4))
    if lie not in (Lie(times=3), Lie(sequence=1)):  # each part says itself where it belongs
        refusal(done)
    assert done.seconds < 60


@pytest.mark.parametrize("lie", [Lie(times=0), Lie(name="hello_answer")])
def test_watching_a_board_that_greets_and_sends_nothing_ends(
    computer: OddComputer, bench: Bench, lie: Lie
) -> None:
    """It is there each time that it is looked for, and never sends a reading."""
    with LyingBoard(Kept(), {"live_on": [lie] * 1000}) as board:
        words = ("watch", "--port", board.port)
        odd = replace(ODD, waits=WAITS / 4, longest_s=30)
        done = computer.run(bench.folder, bench.environment, words, odd)
    assert checked(done, "watch").code != 0
    assert done.stderr.count("is back on") == 3


def test_a_curve_that_comes_a_byte_at_a_time_is_given_up(
    computer: OddComputer, bench: Bench
) -> None:
    """A board gives as much as it is asked for, or there is no end to it."""
    with LyingBoard(Kept()) as board:
        truth = board._curve_read
        board._curve_read = lambda asked: {**truth(asked), "data": truth(asked)["data"][:1]}
        done = asked(computer, bench, board, "collect")
        assert board.asked["curve_read"] < 20
    assert "fewer bytes" in refusal(done)


# --- structures -----------------------------------------------------------------------------

PROFILES = {
    "short": b"\x01\x02\x03",
    "head only": profile_of(phases=[]),
    "torn": profile_of()[:-1],
    "method": profile_of(method=77),
    "kind": profile_of(phases=[{"kind": 99, "direction": "hold"}]),
    "nine phases": profile_of(phases=[{"kind": "melt", "direction": "rise"}] * 9),
    "no text": profile_of(b"\xff\xfe\xfd"),
    "text after the end": profile_of(b"a\0b"),
    "window": profile_of(
        phases=[{"kind": "work", "direction": "hold", "low_centi_c": 9, "high_centi_c": 3}]
    ),
    "junk": bytes(range(256)),
}
CALIBRATIONS = {
    "short": b"\x01\x02\x03",
    "torn": calibration_of()[:-1],
    "class": calibration_of(tolerance_class=77),
    "no class": calibration_of(tolerance_class=0),
    "step": calibration_of([{"step": 99}]),
    "two alike": calibration_of([{"step": "ice"}, {"step": "ice"}]),
    "too far": calibration_of([{"step": "ice", "correction_centi_c": 32767}]),
    "too hot": calibration_of([{"step": "ice", "indicated_centi_c": 32767}]),
}


@pytest.mark.parametrize("name", PROFILES)
def test_a_broken_profile_is_told(computer: OddComputer, bench: Bench, name: str) -> None:
    kept = Kept(profile=PROFILES[name], curves=[curve_of(PROFILES[name])])
    with LyingBoard(kept) as board:
        done = asked(computer, bench, board, "probe")
        assert done.code == 0
        assert "cannot be read" in done.stdout
        assert asked(computer, bench, board, "collect").code == 0
    for what in READING:
        assert read(computer, bench, what).code == 0


@pytest.mark.parametrize("name", CALIBRATIONS)
def test_a_broken_calibration_is_told_and_keeps_no_curve_back(
    computer: OddComputer, bench: Bench, name: str
) -> None:
    raw = CALIBRATIONS[name]
    curve = curve_of(profile_of(), calibrated_unix_s=1_795_000_000)
    with LyingBoard(Kept(calibration=raw, before=raw, curves=[curve])) as board:
        for what in ("calibrate show", "probe", "watch"):
            assert "calibrate clear" in refusal(asked(computer, bench, board, what)), what
        assert asked(computer, bench, board, "collect").code == 0
        words = ("calibrate", "clear", "--yes", "--port", board.port)
        assert computer.run(bench.folder, bench.environment, words, ODD).code == 0
        # what was cleared away is in the history, and must not close it for ever
        words = ("calibrate", "show", "--port", board.port)
        board._kept.before = b""
        done = checked(computer.run(bench.folder, bench.environment, words, ODD), "show")
        assert done.code == 0, done.stderr
        assert "cannot be read" in done.stdout
    for what in READING:
        assert read(computer, bench, what).code == 0


HEAD = packed(catalogue.CURVE_HEAD, {"board_id": 7, "boot": 3, "profile": profile_of()})
SAMPLES = [128 * 31] * 60


def curves() -> dict[str, bytes]:
    """Curves with right CRCs and wrong structures."""
    head = block("head", 1, 0, HEAD)

    def one(body: bytes, kind: str = "data") -> bytes:
        return head + block(kind, 1, 1, body)

    return {
        "nothing": b"",
        "junk": b"\xc5" * 4000,
        "no head": block("data", 1, 0, data_body(SAMPLES, [])),
        "two heads": head + block("head", 1, 1, HEAD),
        "head of another": head + block("data", 2, 1, data_body(SAMPLES, [])),
        "torn head": block("head", 1, 0, HEAD[:5]),
        "samples": one(data_body(SAMPLES, [], samples=255)),
        "bits": one(data_body(SAMPLES, [], bits_length=60_000)),
        "k": one(data_body(SAMPLES, [], rice_k=200)),
        "no period": one(data_body(SAMPLES, [], period_ms=0)),
        "fast": one(data_body(SAMPLES, [], period_ms=1)),
        "late": one(data_body(SAMPLES, [], start_ms=0xFFFFFFFF)),
        "back": head
        + block("data", 1, 1, data_body(SAMPLES, [], start_ms=600_000))
        + block("data", 1, 2, data_body(SAMPLES, [], start_ms=0)),
        "early and late": head
        + block("data", 1, 1, data_body(SAMPLES, [], period_ms=1))
        + block("data", 1, 2, data_body(SAMPLES, [], start_ms=0xFFFFFF00, period_ms=1)),
        "event kinds": one(data_body(SAMPLES, [{"kind": 99}])),
        "event codes": one(data_body(SAMPLES, [{"kind": "alarm", "code": 999}] * 3)),
        "event times": one(
            data_body(
                SAMPLES,
                [{"kind": "mark", "code": 0, "offset_ms": at} for at in (9, 0xFFFFFFFF, 0, 5)],
            )
        ),
        "end": one(packed(catalogue.END_BLOCK, {"reason": 99}), "end"),
        "clock": one(
            packed(catalogue.CLOCK_BLOCK, {"offset_ms": 0xFFFFFFFF, "unix_s": 1}), "clock"
        ),
        "no samples": one(data_body([], [{"kind": "alarm", "code": 0}])),
        "only gaps": one(data_body([], [], samples=60, bits_length=8) + bytes(8)),
        "beyond the probe": one(data_body([32767, -32767] * 30, [])),
    }


@pytest.mark.parametrize("name", curves())
@pytest.mark.parametrize("method", ["seeding", "cup"])
def test_curves_with_right_crcs_and_wrong_structures(
    computer: OddComputer, bench: Bench, name: str, method: str
) -> None:
    raw = curves()[name]
    if method == "cup":
        cup = packed(catalogue.CURVE_HEAD, {"board_id": 7, "profile": profile_of(method="cup")})
        raw = raw.replace(block("head", 1, 0, HEAD), block("head", 1, 0, cup))
    with LyingBoard(Kept(curves=[raw])) as board:
        asked(computer, bench, board, "collect")
    for what in READING:
        read(computer, bench, what)


# --- echoes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "name", "values", "times"),
    [
        ("mark", "mark", {"token": 5}, 3),
        ("collect", "curve_erase", {"curve": 9}, 6),  # once more after the port was opened anew
        ("collect", "curves_list", {"first": 9}, 3),
    ],
)
def test_an_answer_to_something_else_is_none(
    computer: OddComputer,
    bench: Bench,
    what: str,
    name: str,
    values: dict[str, int],
    times: int,
) -> None:
    with LyingBoard(Kept(), {name: [Lie(values=values)]}) as board:
        done = asked(computer, bench, board, what)
        assert "something else" in refusal(done)
        assert board.asked[name] == times


def test_an_answer_to_something_else_is_waited_over(computer: OddComputer, bench: Bench) -> None:
    """One that comes late, of who had the port before, costs nothing but its time."""
    lies = {"mark": [Lie(values={"token": 5}), None]}
    with LyingBoard(Kept(), lies) as board:
        assert asked(computer, bench, board, "mark").code == 0
        assert board.asked["mark"] == 2


@pytest.mark.parametrize("what", ASKING)
@pytest.mark.parametrize(
    "lie",
    [
        Lie(times=0),
        Lie(name="mark_answer"),
        Lie(payload=struct.pack("<40B", *range(40))),
        Lie(version=3),
        Lie(sequence=9),
        Lie(name="error", values={"code": 99}),
        Lie(name="error", values={"code": "bad_value", "request": 200, "field": 200}),
        Lie(name="error", values={"code": "wrong_version", "version": 250}),
        Lie(before=b"\x1b[2J boot \xff\x00\x00" * 40),
        Lie(times=50),
    ],
    ids=lambda lie: lie.name or repr(lie)[4:40],
)
def test_greetings_that_lie(computer: OddComputer, bench: Bench, what: str, lie: Lie) -> None:
    with LyingBoard(Kept(), {"hello": [lie]}) as board:
        done = asked(computer, bench, board, what)
    if not lie.before and lie.times < 50:
        refusal(done)
    else:
        assert done.code == 0, done.stderr


# --- whatever -----------------------------------------------------------------------------------

ANSWERS = [row[1] for row in catalogue.MESSAGES if row[0] >= catalogue.LIVE]
REQUESTS = [row[1] for row in catalogue.MESSAGES if row[0] < catalogue.LIVE]
USUAL = ("live", "hello", "curves_list", "curve_read", "reading_get", "calibration_get")


def answer_to(name: str) -> Any:
    """The record of the answer to request ``name``."""
    said = name if name == "live" else f"{name}_answer"
    return catalogue.message_record(catalogue.message_number(said))


@st.composite
def one_lie(draw: Any, name: str) -> Lie | None:
    """A way to answer request ``name`` with what is not so, or the truth."""
    way = draw(st.integers(0, 9))
    if way < 5:
        return Lie(values=draw(lies.records(answer_to(name))))
    if way == 5:
        return Lie(payload=draw(st.binary(max_size=80)))
    if way == 6:
        return Lie(name=draw(st.sampled_from(ANSWERS)), payload=draw(st.binary(max_size=20)))
    if way == 7:
        return Lie(sequence=draw(st.integers(1, 3)), version=draw(st.sampled_from([0, 0, 1])))
    if way == 8:
        return Lie(times=draw(st.sampled_from([0, 2, 20])), before=draw(st.binary(max_size=40)))
    return None


@st.composite
def all_lies(draw: Any) -> dict[str, list[Lie | None]]:
    """Rows of lies about a few requests, mostly those that commands send."""
    asked_for = st.one_of(st.sampled_from(USUAL), st.sampled_from(REQUESTS))
    names = draw(st.one_of(st.just([]), st.lists(asked_for, max_size=3, unique=True)))
    return {name: draw(st.lists(one_lie(name), min_size=1, max_size=3)) for name in names}


KEPT = st.builds(
    Kept,
    board=lies.TEXTS,
    board_id=lies.numbers("I"),
    profile=lies.PROFILES,
    calibration=lies.CALIBRATIONS,
    before=lies.CALIBRATIONS,
    reason=st.one_of(st.just(b""), st.just(WORST.encode()), st.binary(max_size=160)),
    curves=st.lists(lies.curves(), min_size=1, max_size=3),
    hello=st.one_of(st.just({}), st.just({}), lies.records(answer_to("hello"))),
    reading=st.one_of(st.just({}), lies.records(catalogue.READING)),
)


@settings(
    max_examples=EXAMPLES,
    suppress_health_check=list(HealthCheck),
    # not made smaller: an example takes seconds
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
@given(
    KEPT,
    all_lies(),
    st.lists(st.sampled_from(sorted(ASKING)), min_size=1, max_size=3, unique=True),
    st.lists(st.sampled_from(sorted(READING)), min_size=2, max_size=4, unique=True),
)
def test_whatever_a_board_says_it_is_a_sentence_or_success(
    computer: OddComputer,
    tmp_path_factory: pytest.TempPathFactory,
    kept: Kept,
    told: dict[str, list[Lie | None]],
    asking: list[str],
    reading: list[str],
) -> None:
    """An end by the alarm of LONGEST_S would be no code that is allowed."""
    bench = Bench(tmp_path_factory.mktemp("bench"))
    with LyingBoard(kept, told) as board:
        for what in [*asking, "collect"]:
            asked(computer, bench, board, what)
    for what in reading:
        read(computer, bench, what)
