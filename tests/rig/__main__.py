"""One acceptance for any board: ``python -m tests.rig --port PORT``.

PORT is a serial port with a board on it, or ``desk``: the rig then starts a desk board and
feeds it a whole batch. The table is Markdown, to be pasted into a report.
"""

import argparse
import platform
import sys
import tempfile
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.wire.version import __version__
from tests.rig.acceptance import acceptance
from tests.rig.benches import DeskBench, PortBench
from tests.rig.lines import FAILED, Line, table

DESK = "desk"


def run(port: str, restarts: bool | None) -> list[Line]:
    """All lines of the board on ``port``; SnapcurveError if nothing answers there."""
    with tempfile.TemporaryDirectory(prefix="snapcurve-rig-") as folder:
        bench = DeskBench(Path(folder)) if port == DESK else PortBench(port, restarts)
        try:
            lines = []
            for line in acceptance(bench):
                print(f"  {line.verdict:<20} {line.name}", file=sys.stderr, flush=True)
                lines.append(line)
            return lines
        finally:
            bench.close()


def main(words: list[str] | None = None) -> int:
    """Exit code 0 if every line that can be shown here is right, 1 if not, 3 without a board."""
    parser = argparse.ArgumentParser(prog="python -m tests.rig", description=__doc__)
    parser.add_argument("--port", required=True, help="a serial port, or 'desk'")
    parser.add_argument(
        "--restart",
        choices=("auto", "yes", "no"),
        default="auto",
        help="whether the board may be restarted through its prompt (auto: if it is of hardware)",
    )
    arguments = parser.parse_args(words)
    restarts = {"auto": None, "yes": True, "no": False}[arguments.restart]
    try:
        lines = run(arguments.port, restarts)
    except SnapcurveError as error:
        print(f"rig: {error}", file=sys.stderr)
        return error.exit_code
    print(f"snapcurve {__version__}, {platform.system()}, Python {platform.python_version()}\n")
    print(table(lines))
    return 1 if any(line.verdict == FAILED for line in lines) else 0


if __name__ == "__main__":
    sys.exit(main())
