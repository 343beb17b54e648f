"""Benchmarks: ``python -m tests.benchmarks NAME``. They print ratios and figures measured in
one run and never decide whether a test passes.
"""

import importlib
import sys

# name -> module of this folder with main(words) -> int
BENCHMARKS = {
    "startup": "startup_cost",
    "agreement": "agreement",
    "alarms": "alarms",
    "footprint": "footprint",
    "learn": "learn",
    "left": "left",
    "link": "link",
    "store": "store",
    "size": "size",
    "conversion": "conversion",
    "notebook": "notebook",
    "large": "large",
    "killed": "killed",
    "recall": "recall",
    "bowl": "bowl",
    "sweep": "sweep",
    "budget": "budget",
    "cup": "cup",
    "heap": "heap",
    "page": "page",
    "page_range": "page_range",
    "floats": "float_ops",
    "plan_times": "plan_times",
    "sheet": "sheet_cost",
}


def main() -> int:
    """Run the benchmark that is named with the words behind its name."""
    if len(sys.argv) < 2 or sys.argv[1] not in BENCHMARKS:
        print("usage: python -m tests.benchmarks " + "|".join(BENCHMARKS), file=sys.stderr)
        return 2
    module = importlib.import_module("tests.benchmarks." + BENCHMARKS[sys.argv[1]])
    return int(module.main(sys.argv[2:]))


if __name__ == "__main__":
    sys.exit(main())
