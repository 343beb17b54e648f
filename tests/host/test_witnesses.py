"""Witnesses of the chain: sheets, labels, backups and boards, against everything that somebody who
may write to the database can do, up to working out the whole chain anew."""

import json

import pytest
import zxingcpp
from notebook_samples import alter, full_batch, new_batch, raw_engine, raw_sql, with_curve
from PIL import Image
from pypdf import PdfReader
from sqlalchemy import text

from snapcurve import notebook
from snapcurve.board.client import ChainEndRow, Hello
from snapcurve.cli import main
from snapcurve.collecting import chain_ends
from snapcurve.notebook import hash_chain, records, tables, witnesses
from snapcurve.notebook.records import ChainEnd
from snapcurve.notebook.witnesses import Witness

BY = ("--by", "Ilka Brandner")
NOTE = records.NewEntry("note", "Ilka Brandner", {"text": "x"})


class ToldBoard:
    """A board that keeps what it is told, as `probe/chain_ends.py` does."""

    def __init__(self):
        self.greeting = Hello("0.1.0", 7, "pico", 1, 1)
        self.rows = []

    def chain_ends(self):
        return self.rows

    def put_chain_end(self, end):
        self.rows = [end, *(row for row in self.rows if row.notebook != end.notebook)][:4]


def end_of(place):
    with notebook.open_notebook(place) as book:
        return book.chain_end()


def rechained(place, first=1):
    """Work out every seal from `first` on anew, as somebody with this program could."""
    with raw_engine(place).connect() as connection:
        query = hash_chain.raw_query(
            "seals",
            "number kind item_id name form late sealed_unix_ms digests hash filed_by",
            "ORDER BY number",
        )
        seals = connection.execute(query).all()
        previous, statements = hash_chain.NOTHING, []
        for row in seals:
            values = dict(row._mapping)
            if row.number >= first:
                found = hash_chain.rows_of(connection, row.form, row.kind, [row.item_id])
                values["digests"] = hash_chain.digests_of(row.form, found[row.item_id])
                values["hash"] = hash_chain.hash_of(previous, values)
                statements.append(
                    f"UPDATE seals SET digests = '{values['digests']}', hash = '{values['hash']}'"
                    f" WHERE number = {row.number}"
                )
            previous = values["hash"]
    statements.append(f"UPDATE seal_head SET hash = '{previous}'")
    alter(place, *statements)


def altered_and_rechained(place):
    alter(place, "UPDATE batches SET room_centi_c = 1900 WHERE id = 2")
    rechained(place, 2)


def all_rechained(place):
    """Even what tells this notebook from others is another then."""
    alter(place, "UPDATE batches SET room_centi_c = 1900 WHERE id = 1")
    rechained(place)


def cut_off(place):
    """The newest batch with its seals, and the head pulled back."""
    ((last,),) = raw_sql(place, "SELECT hash FROM seals WHERE number = 2")
    children = ("words", "lots", "alarms", "marks", "curves")
    alter(
        place,
        *(f"DELETE FROM {one} WHERE batch_id = 3" for one in children),
        "DELETE FROM batches WHERE id = 3",
        "DELETE FROM seals WHERE number > 2",
        f"UPDATE seal_head SET number = 2, hash = '{last}'",
    )


def emptied(place):
    every = [table.name for table in reversed(tables.metadata.sorted_tables)]
    alter(
        place,
        *(f"DELETE FROM {one}" for one in every if one != "seal_head"),
        f"UPDATE seal_head SET number = 0, hash = '{hash_chain.NOTHING}'",
    )


def begun_anew(place):
    """Emptied, and other batches filed since: more than there were."""
    emptied(place)
    with notebook.open_notebook(place) as book:
        for number in range(11, 16):
            book.file_batch(new_batch(number))


ATTACKS = [altered_and_rechained, all_rechained, cut_off, emptied, begun_anew]


@pytest.fixture
def filled(any_place):
    with notebook.open_notebook(any_place) as book:
        for number in (1, 2, 3):
            book.file_batch(full_batch(number))
    return any_place


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_check_alone_finds_none_of_these_and_any_witness_each(filled, attack):
    board, stranger = ToldBoard(), ToldBoard()
    with notebook.open_notebook(filled) as book:
        end = book.chain_end()
        assert chain_ends.tell(board, book) is None
        assert not book.vouched(chain_ends.said(board, book)).against
        assert chain_ends.said(stranger, book) == []
    attack(filled)
    shown = [
        Witness("the label", end.number, end.hash[: witnesses.DIGITS]),
        *witnesses.in_text(f"ended with {end.number}:{end.hash} when", "the sheet"),
    ]
    assert len(shown) == 2
    with notebook.open_notebook(filled) as book:
        assert book.check() == []
        for witness in [*shown, *chain_ends.said(board, book)]:
            found = book.vouched([witness])
            assert found.by is None
            (sentence,) = found.against
            assert witness.where in sentence
            assert "changed or left out" in sentence
        before = list(board.rows)
        said = chain_ends.tell(board, book)
        # another first seal is another notebook to the board: it keeps what it was told of this
        assert set(before) <= set(board.rows) or said
        assert set(before) <= set(board.rows)


def test_what_a_witness_vouches_for_is_said_and_what_not(filled):
    with notebook.open_notebook(filled) as book:
        before = book.chain_end()
        book.add_entry(NOTE, "1")
        end = book.chain_end()
        vouched = book.vouched(
            [Witness("an older sheet", 1, hash_of(book, 1)), Witness("a sheet", 3, before.hash)]
        )
        assert not vouched.against
    assert witnesses.vouched_words(vouched, end) == (
        "a sheet vouches for all up to seal 3; for 1 seal since nothing does."
    )
    none = witnesses.compared([])
    assert witnesses.vouched_words(none, end).startswith("Nothing outside the notebook vouches")


def hash_of(book, number):
    with book.engine.connect() as connection:
        query = text("SELECT hash FROM seals WHERE number = :number")
        return connection.scalar(query, {"number": number})


def test_too_few_digits_vouch_for_nothing(filled):
    end = end_of(filled)
    with notebook.open_notebook(filled) as book:
        for digits in ("", end.hash[:8], end.hash[: witnesses.DIGITS - 1]):
            assert book.vouched([Witness("x", end.number, digits)]).against
        assert not book.holds(end.number, end.hash[:8])
        assert book.holds(end.number, end.hash[: witnesses.DIGITS])


def test_an_older_backup_restored_is_accepted_only_when_asked(filled):
    board = ToldBoard()
    with notebook.open_notebook(filled) as book:
        chain_ends.tell(board, book)
    cut_off(filled)  # what a restored backup from before the last batch looks like
    with notebook.open_notebook(filled) as book:
        assert "notebook check" in (chain_ends.tell(board, book) or "")
        assert board.rows[0].number == 3
        assert chain_ends.tell(board, book, whatever=True) is None
        assert board.rows[0].number == 2
        assert not book.vouched(chain_ends.said(board, book)).against


def test_a_notebook_without_a_seal_tells_a_board_nothing(any_book):
    board = ToldBoard()
    assert chain_ends.tell(board, any_book) is None
    assert board.rows == []
    board.rows = [ChainEndRow(9, 4, "ab" * 16)]
    assert any_book.vouched(chain_ends.said(board, any_book)).against


@pytest.mark.parametrize("spaced", ["{}:{}", " {} : {}", "chain {}:\n{}", "x {}:{}."])
def test_ends_are_read_however_they_were_set(spaced):
    end = ChainEnd(120, "0123456789abcdef" * 4)
    groups = " ".join(end.hash[at : at + 8] for at in range(0, 64, 8))
    for digits in (end.hash, end.hash.upper(), groups, end.hash[:40] + "\n" + end.hash[40:]):
        assert witnesses.in_text(spaced.format(120, digits), "x") == [Witness("x", 120, end.hash)]
    assert witnesses.in_text("batch 2026-11-24-01 at 12:30", "x") == []


# --- a board, the real firmware ---------------------------------------------------------------


def test_a_board_that_was_collected_from_vouches_and_finds_what_was_worked_out_anew(worked):
    at = ("--port", "rehearsal")
    assert "vouches" in worked("notebook", "check", *at)
    assert "board desk" not in worked("notebook", "check", *at)
    worked("collect", *at)
    assert "board desk" in worked("notebook", "check", *at)
    all_rechained(worked.place)
    said = worked("notebook", "check", *at, fails=True)
    assert "The chain does not hold 1:" in said
    assert "board desk" in said
    assert "everything as it was filed" in worked("notebook", "check", *at, "--accept")


# --- on paper ---------------------------------------------------------------------------------


@pytest.fixture
def worked(tmp_path, own_computer, capsys):
    """A notebook with a batch whose curve can be read; type a command, its output."""
    place = str(tmp_path / "notebook.db")
    with notebook.open_notebook(place) as book:
        book.file_batch(with_curve())

    def run(*words, fails=False):
        code = main([*words, "--notebook", place])
        out, err = capsys.readouterr()
        assert (code != 0) == fails, (code, out, err)
        assert "Traceback" not in err
        return out + err

    run.place = place
    return run


def codes_in(picture):
    return [one.text for one in zxingcpp.read_barcodes(picture)]


def page_of(path):
    import pypdfium2

    document = pypdfium2.PdfDocument(path)
    return document[len(document) - 1].render(scale=4).to_pil()


def test_sheet_label_and_backup_carry_the_end_in_words_code_and_file(worked):
    end = end_of(worked.place)
    whole, short = witnesses.written(end, 64), witnesses.written(end)
    worked("sheet", "last", "-o", "sheet.pdf")
    said = "".join(page.extract_text() for page in PdfReader("sheet.pdf").pages)
    assert witnesses.in_text(said, "x") == [Witness("x", end.number, end.hash)]
    assert codes_in(page_of("sheet.pdf")) == [whole]
    worked("sheet", "last", "--label", "label.png")
    (code,) = codes_in(Image.open("label.png"))
    assert code.splitlines()[-1] == short
    worked("sheet", "last", "--label", "labels.pdf", "--copies", "1")
    said = "".join(page.extract_text() for page in PdfReader("labels.pdf").pages)
    assert witnesses.in_text(said, "x") == [Witness("x", end.number, end.hash[:32])]
    assert whole in worked("notebook", "backup", "saved.db")
    for given in ("sheet.pdf", "label.png", "labels.pdf", "saved.db", whole, short, code):
        said = worked("notebook", "check", "--sheet", given)
        assert f"vouches for all up to seal {end.number}" in said, given
    assert "Nothing outside the notebook vouches" in worked("notebook", "check")
    all_rechained(worked.place)
    for given in ("sheet.pdf", "label.png", "labels.pdf", "saved.db", whole, short, code):
        said = worked("notebook", "check", "--sheet", given, fails=True)
        assert "The chain does not hold" in said, given
    assert "everything as it was filed" in worked("notebook", "check")


def test_a_recall_carries_the_end_on_paper_and_on_the_screen(worked, tmp_path):
    worked("lot", "last", "milk couverture", "MC-104", *BY)
    end = end_of(worked.place)
    whole = witnesses.written(end, 64)
    (tmp_path / "recall.txt").write_text(worked("trace", "MC-104", "-o", "recall.pdf"))
    assert codes_in(page_of("recall.pdf")) == [whole]
    assert json.loads(worked("trace", "MC-104", "--json"))["chain_end"] == whole
    for given in ("recall.pdf", "recall.txt"):
        said = worked("notebook", "check", "--sheet", given)
        assert f"vouches for all up to seal {end.number}" in said, given
    all_rechained(worked.place)
    for given in ("recall.pdf", "recall.txt"):
        said = worked("notebook", "check", "--sheet", given, fails=True)
        assert "The chain does not hold" in said, given


def test_what_is_no_witness_is_one_sentence(worked, tmp_path):
    (tmp_path / "notes.txt").write_text("nothing here")
    for given, said in {
        "notes.txt": "says nothing of a chain",
        "absent.pdf": "absent.pdf",
        "rubbish": "no end of a chain",
        "": "no end of a chain",
    }.items():
        assert said in worked("notebook", "check", "--sheet", given, fails=True)


def test_a_batch_that_was_altered_says_so_wherever_it_is_shown(worked):
    alter(worked.place, "UPDATE batches SET operator = 'nobody'")
    named = "Batch 2026-11-24-01: its own fields differ from what was filed."
    assert f"Not as filed: {named}" in " ".join(worked("show", "last").split())
    assert "not as filed" in worked("batches")
    assert named in worked("show", "last", "--json")
    assert '"proved": null' in worked("show", "last", "--json")
    worked("sheet", "last", "-o", "sheet.pdf")
    pages = [page.extract_text() for page in PdfReader("sheet.pdf").pages]
    assert all("NOT AS FILED" in page for page in pages)
    assert "So it proves nothing" in " ".join("".join(pages).split())
    worked("notebook", "export", "all")
    for name in ("batches.csv", "notebook.json"):
        with open(f"all/{name}", encoding="utf-8-sig") as file:
            assert named in file.read()


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE entries SET who = 'nobody'", "Batch 2026-11-24-01, entry 1: its own fields"),
        ("UPDATE seals SET name = name || ' ' WHERE kind = 'batch'", "its seal was altered"),
        ("DELETE FROM seals WHERE kind = 'entry'", "entry 1: it was never sealed"),
        ("DELETE FROM marks", "Batch 2026-11-24-01: its marks differ"),
        (
            "INSERT INTO entries VALUES (9, 1, 'note', 'x', '', 1, 0, '{\"text\":\"y\"}')",
            "entry 9",
        ),
    ],
)
def test_every_part_of_a_batch_counts(any_place, statement, said):
    with notebook.open_notebook(any_place) as book:
        code = book.file_batch(full_batch(1)).code
        book.add_entry(NOTE, code)
        other = book.file_batch(full_batch(2)).code
        assert book.as_amended(code).not_as_filed == ()
    alter(any_place, statement)
    with notebook.open_notebook(any_place) as book:
        (first, *_) = book.as_amended(code).not_as_filed
        assert said in first
        if "id = 1" in statement or "entries" in statement:
            assert book.as_amended(other).not_as_filed == ()


@pytest.mark.parametrize("digits", [32, 64])
def test_whatever_byte_follows_in_a_file_the_end_is_the_same(digits):
    """Behind it stands a checksum in a PNG: one in twelve began with a hexadecimal digit."""
    chain = f"17:{'0123456789abcdef' * 4}"[: 3 + digits]
    for byte in range(256):
        raw = b"\x89PNG..." + witnesses.marked(chain).encode() + bytes([byte]) * 4 + b"IEND"
        assert witnesses.in_bytes(raw, "x") == [Witness("x", 17, chain[3:])]
