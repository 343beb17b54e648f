"""Do all faces of a batch say the same? ``agreement [--batches N] [--seed S] [--processes P]``"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "system"))
from agreement import disagreements


def main(words: list[str]) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks agreement")
    parser.add_argument("--batches", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args(words)
    begin = 1000 * arguments.seed
    numbers = range(begin, begin + arguments.batches)
    wrong = 0
    with ProcessPoolExecutor(arguments.processes) as pool:
        for number, found in zip(numbers, pool.map(disagreements, numbers), strict=True):
            wrong += bool(found)
            for one in found:
                print(f"batch {number}: {one}")
    print(f"{arguments.batches} batches from number {begin}: all faces agree in all but {wrong}")
    return 0
