"""What ``snapcurve --help`` costs against importing pyserial alone."""

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


def main(words: list[str]) -> int:
    """Measure and print."""
    python = sys.executable
    reference = best_s([python, "-c", "import serial"])
    help_s = best_s([python, "-m", "snapcurve.cli", "--help"])
    print(f"python -c 'import serial'   {reference * 1000:6.1f} ms")
    print(f"snapcurve --help            {help_s * 1000:6.1f} ms")
    print(f"ratio                       {help_s / reference:6.2f}  (wanted: at most 4)")
    return 0
