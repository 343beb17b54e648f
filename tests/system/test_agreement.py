"""Board, verdict, chart, sheet, comparison, CSV and JSON of a batch say the same.

``python -m tests.benchmarks agreement`` asks 300 others.
"""

import pytest
from agreement import disagreements

from tests.how_many import cases


@pytest.mark.parametrize("number", range(cases(12, 30)))
def test_all_faces_of_a_batch_agree(number):
    assert disagreements(number) == []
