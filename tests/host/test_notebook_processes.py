"""Several programs at one notebook, and programs that are killed."""

import random
import time

import pytest
from notebook_samples import new_batch, start_python

from snapcurve import notebook
from tests.patience import LONGEST_S

FILE_AT_ONCE = """
from notebook_samples import new_batch
from snapcurve import notebook
book = None
for _ in sys.stdin:  # one line starts one round in all processes at once
    if book is None:
        book = notebook.open_notebook(sys.argv[1])
        number = 0
    number += 1
    print(book.file_batch(new_batch(number, board_id=int(sys.argv[2]))).code, flush=True)
"""

# Writes large batches, so that most of its time is spent in the middle of writing.
FILE_WITHOUT_END = """
from notebook_samples import new_batch
from snapcurve import notebook
book = notebook.open_notebook(sys.argv[1])
number = int(sys.argv[2])
while True:
    print(number, book.file_batch(new_batch(number, size=300_000)).code, flush=True)
    number += 1
"""


@pytest.mark.parametrize("boards", [(7, 7), (7, 8)], ids=["one board", "two boards"])
def test_two_programs_file_at_once(any_place, boards):
    """200 times: curves of one board, the same for both, and of two boards."""
    # the place is empty: they also race to create the notebook
    programs = [start_python(FILE_AT_ONCE, any_place, str(board)) for board in boards]
    rounds = 200
    try:
        for number in range(1, rounds + 1):
            for program in programs:
                program.stdin.write("go\n")
                program.stdin.flush()
            codes = {program.stdout.readline().strip() for program in programs}
            if len(set(boards)) == 1:
                assert codes == {f"2026-11-24-{number:02d}"}
            else:
                assert codes == {f"2026-11-24-{2 * number - one:02d}" for one in (0, 1)}
    finally:
        for program in programs:
            program.stdin.close()
            assert program.wait(timeout=LONGEST_S) == 0
            program.stdout.close()
    with notebook.open_notebook(any_place) as book:
        curves = [book.batch(str(row.id)).curve for row in book.batches()]
        wanted = {(board, number) for board in boards for number in range(1, rounds + 1)}
        assert sorted((one.board_id, one.curve) for one in curves) == sorted(wanted)
        assert book.check() == []


@pytest.mark.parametrize("seed", [1, 2])
def test_killed_while_writing(tmp_path, seed):
    """After each kill -9 every filed batch is there, whole, and filing goes on."""
    place = str(tmp_path / "notebook.db")
    delay = random.Random(seed)
    told = 0
    journals = 0
    for _ in range(6):
        program = start_python(FILE_WITHOUT_END, place, str(told + 1))
        program.stdout.readline()
        time.sleep(delay.uniform(0, 0.15))
        program.kill()
        lines = program.stdout.read().splitlines(keepends=True)
        program.wait(timeout=LONGEST_S)
        program.stdout.close()
        program.stdin.close()
        journals += (tmp_path / "notebook.db-journal").exists()
        told += 1 + sum(line.endswith("\n") for line in lines)
        with notebook.open_notebook(place) as book:
            assert book.check() == []
            rows = book.batches()
            # one more than told is right: committed, then killed before it could say so
            assert len(rows) in (told, told + 1)
            told = len(rows)
            for number in (1, told):
                sample = new_batch(number, size=300_000)
                batch = book.file_batch(sample)
                assert (batch.marks, batch.alarms) == (sample.marks, sample.alarms)
                assert book.curve_raw(batch.id) == sample.curve.raw
            assert len(book.batches()) == told
    assert journals > 0, "no kill struck a write; lengthen the writes"
