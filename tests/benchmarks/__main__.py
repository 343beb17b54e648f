"""Benchmarks: ``python -m tests.benchmarks NAME``. They print ratios measured in one run
and never decide whether a test passes.
"""

import subprocess
import sys
import time

REPEATS = 15


def best_s(command: list[str]) -> float:
    """The shortest of several runs: what the command costs when nothing disturbs it."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - start)
    return min(times)


def startup() -> None:
    """What ``snapcurve --help`` costs against importing pyserial alone."""
    python = sys.executable
    reference = best_s([python, "-c", "import serial"])
    help_s = best_s([python, "-m", "snapcurve.cli", "--help"])
    print(f"python -c 'import serial'   {reference * 1000:6.1f} ms")
    print(f"snapcurve --help            {help_s * 1000:6.1f} ms")
    print(f"ratio                       {help_s / reference:6.2f}  (wanted: at most 4)")


BENCHMARKS = {"startup": startup}


def main() -> int:
    """Run the benchmark that is named."""
    if len(sys.argv) != 2 or sys.argv[1] not in BENCHMARKS:
        print("usage: python -m tests.benchmarks " + "|".join(BENCHMARKS), file=sys.stderr)
        return 2
    BENCHMARKS[sys.argv[1]]()
    return 0


if __name__ == "__main__":
    sys.exit(main())
