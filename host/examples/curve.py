"""Download the curves on a board and print what each holds: python curve.py [PORT]

Nothing is filed and nothing is erased; 'snapcurve collect' does that.
"""

import sys

from snapcurve.board.opening import only_port, shaking_hands

from snapcurve.board.download import Download
from snapcurve.recording.curve import decode

with shaking_hands(sys.argv[1] if len(sys.argv) > 1 else only_port()) as board:
    for row in board.curves():
        curve = decode(Download(row).run(board))
        highest_c = max(curve.temperatures_c, default=float("nan"))
        print(f"curve {row.curve}: {curve.recorded} readings, highest {highest_c:.2f} °C")
        for event in curve.events:
            print(f"  {event.offset_ms / 1000:8.1f} s  {event.kind} {event.name}")
