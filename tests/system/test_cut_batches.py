"""A batch that a restart cut in pieces is judged as the one batch it was.

The pieces are recorded by the firmware itself, on parts whose time a test moves.
"""

import sys
import zlib
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from snapcurve.analysis.filed_batch import judge_batch
from snapcurve.analysis.filed_outcomes import learned
from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.collecting.filing import new_batch
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import allergens, open_notebook
from snapcurve.notebook.records import Lot, NewEntry
from snapcurve.recording.curve import decode
from snapcurve.recording.timeline import timeline_of
from snapcurve.report.batch_course import course_rows
from snapcurve.report.batch_texts import summary, verdict_data
from snapcurve.report.chart_content import content_of
from snapcurve.shown.units import PLAIN

sys.path.append(str(Path(__file__).parents[1] / "board"))
from app_rig import AppRig, course
from board_fakes import MELT, WORK, profile_bytes, request
from test_absence import HELD
from test_absence import SEEDING as ABSENT_SEEDING
from test_resumption import again

START_UNIX_MS = 1_700_000_000_000  # 2023-11-14T22:13:20Z
SEEDING = profile_bytes(MELT, WORK)
# In a room of 21 °C: melted, cooled into the window from 29 to 30 °C, worked there.
BATCH = course(
    (10, "out"), (60, "in", 40.0), (200, "to", 46.0), (400, "to", 29.6), (900, "to", 29.4)
)  # fmt: skip
DIPPED_S, SET_S, END_S = 800, 1110, 1500


class Cut:
    """The batch, with a restart of the board at each of ``at_s``; ``off_s`` each."""

    def __init__(self, folder, at_s=(), off_s=1.0, restarted=True):
        folder.mkdir()
        spans = [(at * 1000, at * 1000 + 200) for at in (DIPPED_S, SET_S)]
        self.rig = rig = AppRig(folder, BATCH, SEEDING, presses=spans)
        self.booted_ms = {1: 0}
        for at in at_s:
            rig.run(at * 1000)
            rig.parts.clock.ms += round(off_s * 1000)
            again(rig, restarted)
            self.booted_ms[rig.app.store.boot] = rig.parts.clock.ms
        rig.run(END_S * 1000)
        rig.app.batch.end(END_S * 1000, "button")

    def new(self, row, dated=True):
        """What is to be filed of one curve."""
        raw = Path(self.rig.parts.store_root, f"c{row.curve:05d}").read_bytes()[: row.size]
        listed = CurveRow(row.curve, "closed", row.boot, row.size, zlib.crc32(raw), row.generation)
        curve = decode(raw)
        made = new_batch(curve, raw, listed, "fake")
        moment = START_UNIX_MS + self.booted_ms[curve.boot] + curve.started_uptime_ms
        return replace(made, started_unix_ms=moment if dated else None, utc_offset_min=60)

    def pieces(self, undated=()):
        """All of them, in the order in which they were recorded."""
        return [
            self.new(row, row.curve not in undated)
            for row in sorted(self.rig.app.store.rows, key=lambda row: row.curve)
        ]


@pytest.fixture
def book(tmp_path):
    with open_notebook(str(tmp_path / "notebook.db")) as notebook:
        yield notebook


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The verdict on the batch without any restart."""
    (piece,) = Cut(tmp_path_factory.mktemp("whole") / "board").pieces()
    judgement = judge(decode(piece.curve.raw))
    assert judgement.verdict.startswith("In temper, proved by the test blade: melted through at 4")
    return judgement


def test_the_board_itself_dates_its_pieces(tmp_path):
    first, second = Cut(tmp_path / "board", [600]).pieces()
    assert decode(second.curve.raw).continues == first.curve.curve == 1
    assert second.started_unix_ms - first.started_unix_ms > 580_000


@pytest.mark.parametrize("at_s", [150, 450, 700, 1200])
@pytest.mark.parametrize("backwards", [False, True])
def test_both_pieces_have_the_verdict_of_the_whole_and_name_each_other(
    tmp_path, book, whole, at_s, backwards
):
    pieces = Cut(tmp_path / "board", [at_s]).pieces()
    filed = [book.file_batch(one) for one in (reversed(pieces) if backwards else pieces)]
    first, second = reversed(filed) if backwards else filed
    verdicts = [judge_batch(book, one.code, PLAIN)[1].verdict for one in (first, second)]
    assert verdicts[0] == verdicts[1]
    assert verdicts[0].split(":")[0] == whole.verdict.split(":")[0]
    assert f"Its record is in 2 parts: {first.code}, {second.code}." in verdicts[0]
    assert book.batch("last").code == second.code
    assert book.check() == []


def test_eleven_pieces_in_any_order_are_one_batch(tmp_path, book, whole):
    pieces = Cut(tmp_path / "board", range(200, 1300, 115), restarted=False).pieces()
    assert len(pieces) == 11
    filed = {one.curve.curve: book.file_batch(one).code for one in (*pieces[5:], *pieces[:5])}
    codes = [filed[number] for number in sorted(filed)]
    verdicts = {judge_batch(book, code, PLAIN)[1].verdict for code in codes}
    (verdict,) = verdicts
    assert f"Its record is in 11 parts: {', '.join(codes)}." in verdict
    assert "Not in temper" not in verdict
    assert book.batch("last").code == codes[-1]
    cautions = judge_batch(book, "last", PLAIN)[1].holes
    assert sum("recorded nothing for" in caution for caution in cautions) == 10


@pytest.mark.parametrize("at_s", [450, 700, 900])
def test_a_piece_alone_denies_nothing_that_another_may_know(tmp_path, book, at_s):
    first, second = Cut(tmp_path / "board", [at_s]).pieces()
    code = book.file_batch(second).code
    verdict = judge_batch(book, code, PLAIN)[1].verdict
    assert "Not in temper" not in verdict
    assert "goes on with curve 1 of this board, which is not in the notebook" in verdict
    alone = judge(decode(first.curve.raw))
    assert "Not in temper" not in alone.verdict
    for judgement in (alone, judge_batch(book, code, PLAIN)[1]):
        assert judgement.signs.not_in_window.state != "shown"
    assert judge(decode(second.curve.raw)).signs.not_melted.state == "uncertain"
    book.file_batch(first)
    assert "in 2 parts" in judge_batch(book, code, PLAIN)[1].verdict


@pytest.mark.parametrize("undated", [{1}, {2}, {1, 2}])
@pytest.mark.parametrize("backwards", [False, True])
def test_without_a_clock_the_hole_is_of_unknown_length(tmp_path, book, undated, backwards):
    pieces = Cut(tmp_path / "board", [700], off_s=30).pieces(undated)
    filed = [book.file_batch(one) for one in (reversed(pieces) if backwards else pieces)]
    first, second = reversed(filed) if backwards else filed
    judgement = judge_batch(book, first.code, PLAIN)[1]
    assert "In temper, proved by the test blade" in judgement.verdict
    assert any("for an unknown time, taken as 2 min" in caution for caution in judgement.holes)
    assert "never left it" not in judgement.verdict
    assert book.batch("last").code == second.code


def test_the_hole_is_named_with_its_length(tmp_path, book):
    pieces = Cut(tmp_path / "board", [900], off_s=40).pieces()
    for one in pieces:
        book.file_batch(one)
    (caution,) = [
        text for text in judge_batch(book, "last", PLAIN)[1].holes if "restarted" in text
    ]
    # 40 s off, and what had not been written when the power went: at most a minute.
    length_s = int(caution.partition("recorded nothing for ")[2].split()[0])
    assert 40 <= length_s <= 105


def test_another_boards_curve_of_the_same_number_is_no_piece(tmp_path, book):
    first, second = Cut(tmp_path / "board", [700]).pieces()
    strange = replace(first, curve=replace(first.curve, board_id=99))
    book.file_batch(strange)
    code = book.file_batch(second).code
    assert "which is not in the notebook" in judge_batch(book, code, PLAIN)[1].verdict
    assert "parts" not in judge_batch(book, strange_code(book, code), PLAIN)[1].verdict


def strange_code(book, code):
    return next(row.code for row in book.batches() if row.code != code)


def test_a_result_told_after_the_restart_is_the_last_dips(tmp_path, book):
    """The blade was dipped before, and its clock stopped with the board."""
    folder = tmp_path / "board"
    folder.mkdir()
    rig = AppRig(folder, BATCH, SEEDING, presses=[(DIPPED_S * 1000, DIPPED_S * 1000 + 200)])
    rig.run(900_000)
    rig.parts.clock.ms += 1000
    again(rig, True)
    cut = Cut.__new__(Cut)
    cut.rig, cut.booted_ms = rig, {1: 0, 2: rig.parts.clock.ms}
    rig.run(1_000_000)
    rig.parts.stream.inbox += request("mark", 5, "passed", 0)
    rig.run(1_010_000)
    rig.app.batch.end(1_010_000, "button")
    for one in cut.pieces():
        book.file_batch(one)
    judgement = judge_batch(book, "last", PLAIN)[1]
    (test,) = judgement.timeline.dip_tests
    assert test.result.passed
    assert judgement.proved


def test_its_lesson_and_its_charts_know_of_the_other_piece(tmp_path, book):
    pieces = Cut(tmp_path / "board", [700]).pieces()
    first, second = [book.file_batch(one) for one in pieces]
    noted = {second.code: NotedOutcome(True, True, None)}
    (lesson,) = learned(book, "Generic milk", noted, True)
    assert lesson.timeline.melted_s is not None
    assert lesson.timeline == judge_batch(book, first.code, PLAIN)[1].timeline
    captions = [
        content_of(timeline_of(decode(one.curve.raw)), "", PLAIN).caption for one in pieces
    ]
    assert "goes on with curve 1" in captions[1]
    assert not any("goes on" in part for part in captions[0])


def filed_after(folder, book, *after):
    """Records of a batch whose probe was forgotten outside and then went into ``after``."""
    folder.mkdir()
    points = course(*HELD, (25 * 60, "out"), *after)
    rig = AppRig(folder, points, ABSENT_SEEDING).run(points[-1][0])
    rig.app.batch.end(points[-1][0], "button")
    cut = Cut.__new__(Cut)
    cut.rig, cut.booted_ms = rig, {1: 0}
    return [book.file_batch(one) for one in reversed(cut.pieces())][::-1]


def test_a_batch_whose_probe_was_forgotten_outside_is_one(tmp_path, book):
    """Without a restart: the recording ended in the room, and goes on in another."""
    first, second = filed_after(tmp_path / "board", book, (120, "in", 29.5))
    for code in (first.code, second.code):
        judgement = judge_batch(book, code, PLAIN)[1]
        assert f"Its record is in 2 parts: {first.code}, {second.code}." in judgement.verdict
        assert "melted through at 3 min" in judgement.verdict
        assert "never left it" not in judgement.verdict
        (caution,) = [text for text in judgement.holes if "the recording ended" in text]
        assert "restarted" not in caution
        # What was read with the probe out is of neither part.
        assert judgement.timeline.below_window_s == 0


def test_what_turns_out_to_be_a_new_batch_is_no_part_of_the_old_one(tmp_path, book):
    """Put back into a bowl that melts: the board takes it for the old batch at first."""
    filed = filed_after(
        tmp_path / "board", book, (30, "in", 31.5), (30, "out"), (25, "in", 36.0), (60, "out"),
        (60, "in", 43.0), (60, "to", 46.0), (20, "to", 46.0),
    )  # fmt: skip
    assert len(filed) == 3
    assert decode(book.curve_raw(filed[1].id)).end_reason == "room"
    verdicts = [judge_batch(book, one.code, PLAIN)[1].verdict for one in filed]
    assert not any("parts" in verdict or "goes on with" in verdict for verdict in verdicts)
    assert "Not in temper" not in verdicts[1]
    assert judge_batch(book, filed[0].code, PLAIN)[1].timeline.above_window_s == 0


def test_rows_that_were_filed_stay_as_they_are(tmp_path, book):
    pieces = Cut(tmp_path / "board", [450, 900]).pieces()
    ends = []
    for order in permutations(pieces):
        for one in order:
            book.file_batch(one)
        ends.append(book.chain_end())
    assert len(set(ends)) == 1
    assert book.check() == []


@pytest.mark.parametrize("undated", [{1}, {1, 2}])
def test_an_earlier_part_is_dated_by_a_later_one(tmp_path, book, undated):
    pieces = Cut(tmp_path / "board", [700], off_s=30).pieces(undated)
    for one in pieces:
        book.file_batch(one)
    judgement = judge_batch(book, "last", PLAIN)[1]
    began_ms = judgement.timeline.clock.started_unix_ms
    follows = any("follows from a later part" in text for text in judgement.holes)
    if undated == {1, 2}:
        assert began_ms is None
        assert not follows
    else:  # the hole of 30 s is taken as 2 min, and up to a minute before it was lost
        assert -180_000 <= began_ms - START_UNIX_MS <= 60_000
        assert follows


def test_three_dips_have_each_their_own_result(tmp_path, book):
    """Told by the button, by the host, and to the notebook, not in the order of dipping."""
    (tmp_path / "board").mkdir()
    dips_s = (560, 700, 840)
    presses = [(at * 1000, at * 1000 + 200) for at in (*dips_s, 1150)]  # the last: it passed
    rig = AppRig(tmp_path / "board", BATCH, SEEDING, presses=presses)
    cut = Cut.__new__(Cut)
    cut.rig, cut.booted_ms = rig, {1: 0}
    rig.run(1_200_000)
    rig.parts.stream.inbox += request("mark", 9, "failed", 1)
    rig.run(1_210_000)
    rig.app.batch.end(1_210_000, "button")
    (piece,) = cut.pieces()
    code = book.file_batch(piece).code
    book.add_entry(NewEntry("dip_test", "Ilka", {"result": "early", "mark": 2}), code)
    judgement = judge_batch(book, code, PLAIN)[1]
    shown = {1: "marked", 2: "set too soon", 3: "set, no mark"}
    tests = judgement.timeline.dip_tests
    assert {test.number: test.result.words for test in tests} == shown
    began_s = (piece.started_unix_ms - START_UNIX_MS) / 1000
    assert [test.at_s + began_s for test in tests] == pytest.approx(dips_s, abs=1)
    told = verdict_data(judgement)["dip_tests"]
    assert {test["number"]: test["result"] for test in told} == shown
    content = content_of(judgement.timeline, "", PLAIN)
    assert {test.number: test.result.words for test in content.dip_tests} == shown
    rows = [row for row in course_rows(judgement.timeline, PLAIN) if row[0].startswith("dip")]
    assert [row[-1].split("; ")[-1] for row in rows] == list(shown.values())
    lines = summary(judgement)["dip tests"].splitlines()
    assert [line.partition(": ")[2] for line in lines] == list(shown.values())
    for number, words in shown.items():
        assert any(
            text.startswith(f"Test blade {number} ") and words in text for text in judgement.blades
        ) or (words == "set, no mark" and "it passed" in judgement.blades[number - 1])


def test_a_cut_batch_holds_what_any_of_its_parts_holds(tmp_path, book):
    """Lots filed with a later part, and leftovers noted on it, count for the whole."""
    pieces = Cut(tmp_path / "board", [700]).pieces()
    filed = [Lot("milk couverture", "MC-104", "Hollerbach", None, ("milk",))]
    pieces[1] = replace(pieces[1], lots=(Lot("hazelnut paste", "HZ-77", "", None, ("nuts",)),))
    pieces[0] = replace(pieces[0], allergens=())
    pieces[1] = replace(pieces[1], allergens=())
    first, second = [book.file_batch(one) for one in pieces]
    other = replace(
        pieces[0], curve=replace(pieces[0].curve, board_id=99), lots=tuple(filed), allergens=()
    )
    earlier = book.file_batch(other).code
    book.add_entry(
        NewEntry("lot", "Ilka", {"ingredient": "leftover", "lot": earlier}), second.code
    )
    for code in (first.code, second.code):
        found = judge_batch(book, code, PLAIN)[0]
        assert allergens.of(found).named == ("milk", "nuts")
        assert {lot.lot for lot in found.now.lots} == {"HZ-77", earlier}


def test_leftover_of_a_cut_batch_is_of_the_whole_and_one_batch_is_traced(tmp_path, book):
    """Whichever of its codes was typed; nor does one part warn of the other."""
    pieces = Cut(tmp_path / "board", [700]).pieces()
    lots = (Lot("milk couverture", "MC-104", "", None, ("milk",)),)
    first = book.file_batch(replace(pieces[0], lots=lots, allergens=(), place="by the door"))
    second = book.file_batch(replace(pieces[1], allergens=(), place="by the door"))
    after = replace(pieces[0].curve, board_id=99, generation=5)
    later = book.file_batch(
        replace(
            pieces[0],
            curve=after,
            allergens=(),
            place="by the door",
            started_unix_ms=START_UNIX_MS + 86_400_000,
        )
    )
    said = {"ingredient": "leftover", "lot": second.code}
    book.add_entry(NewEntry("lot", "Ilka", said), later.code)
    assert allergens.of(book.as_amended(later.code)).named == ("milk",)
    assert book.allergens([second.id])[second.id].named == ("milk",)
    trace = book.trace("MC-104")
    assert [(one.batch.code, one.records) for one in trace.forward] == [
        (later.code, (later.code,)),
        (first.code, (first.code, second.code)),
    ]
    assert trace.forward[0].through == (first.code,)
    assert book.trace(second.code).itself.batch.code == first.code
    assert [one.after for one in book.missing_cleanings()] == []
    said = {"ingredient": "leftover", "lot": later.code}
    with pytest.raises(SnapcurveError, match="holds this very batch"):
        book.add_entry(NewEntry("lot", "Ilka", said), first.code)
