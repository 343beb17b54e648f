"""Several programs at one notebook, and programs that are killed."""

import random
import time

import pytest
from notebook_samples import new_batch, start_python

from snapcurve import notebook

FILE_THE_SAME = """
from notebook_samples import new_batch
from snapcurve import notebook
book = None
for _ in sys.stdin:  # one line starts one round in all processes at once
    if book is None:
        book = notebook.open_notebook(sys.argv[1])
        number = 0
    number += 1
    print(book.file_batch(new_batch(number)).code, flush=True)
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


def test_two_programs_file_the_same_curves_at_once(tmp_path):
    place = str(tmp_path / "notebook.db")  # absent: they also race to create it
    programs = [start_python(FILE_THE_SAME, place) for _ in range(2)]
    rounds = 25
    try:
        for number in range(1, rounds + 1):
            for program in programs:
                program.stdin.write("go\n")
                program.stdin.flush()
            codes = [program.stdout.readline().strip() for program in programs]
            assert codes == [f"2026-11-24-{number:02d}"] * 2
    finally:
        for program in programs:
            program.stdin.close()
            assert program.wait(timeout=30) == 0
            program.stdout.close()
    with notebook.open_notebook(place) as book:
        assert len(book.batches()) == rounds
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
        program.wait(timeout=30)
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
