"""Print the chocolate's temperature from a board for ten seconds: python read_live.py [PORT]"""

import sys
import time

from snapcurve.board.connection import only_port, shaking_hands

with shaking_hands(sys.argv[1] if len(sys.argv) > 1 else only_port()) as board:
    print(f"{board.greeting.board}, firmware {board.greeting.firmware}")
    board.live(500)
    end_s = time.monotonic() + 10
    while time.monotonic() < end_s:
        reading = board.next_live()
        if reading is not None and reading.indicated_c is not None:
            print(f"{reading.uptime_ms / 1000:8.1f} s  {reading.indicated_c:6.2f} °C")
    board.live(0)
