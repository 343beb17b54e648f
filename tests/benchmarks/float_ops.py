"""Float operations of the estimate for each reading, beside a plain threshold, which needs none.

``python -m tests.benchmarks floats``

The estimate runs on numbers that count what is done with them (+, -, * and /), on the tape of
dipped.py. What the board does in integers, and square roots, are not counted.
"""

import sys
from collections import defaultdict
from pathlib import Path

from tests.benchmarks.dipped import ROOM_C, shown_c

sys.path.insert(0, str(Path(__file__).parents[1] / "board"))
from float32 import Float32, Float32Estimate

OPERATIONS = ("add", "radd", "sub", "rsub", "mul", "rmul", "truediv", "rtruediv")


def main(words: list[str]) -> int:
    """Count and print."""
    if words:
        print(__doc__, file=sys.stderr)
        return 2
    done = [0]
    for name in OPERATIONS:
        method = getattr(Float32, f"__{name}__")

        def counted(self, other, method=method):
            done[0] += 1
            return method(self, other)

        setattr(Float32, f"__{name}__", counted)
    estimate = Float32Estimate()
    found: dict[str, list[int]] = defaultdict(list)
    for number, value_c in enumerate(shown_c()):
        done[0] = 0
        estimate.update(number * 250, round(value_c * 128), round(ROOM_C * 128), 0)
        found[estimate.place].append(done[0])
    for place in sorted(found):
        counts = found[place]
        print(f"{place:<12} mean {sum(counts) / len(counts):6.0f}   most {max(counts):5}")
    return 0
