"""The firmware with a fault built in: ``fail=MS:KIND`` among the arguments. Run as the desk board.

At that device time of its first start the firmware raises an error ("error") or stands still
("still") in the middle of a step; a start after a reset is sound.
"""

import sys

from snapcurve.boards import desk

options = dict([word.split("=", 1) for word in sys.argv[1:]])
at_ms, kind = options.pop("fail").split(":")
sound = desk.Parts.pressed


def pressed(self):
    clock = self._clock
    if not self.restarted and clock.now_ms >= int(at_ms):
        if kind == "error":
            raise ValueError("built in")
        clock.stall(9000)
    return sound(self)


desk.Parts.pressed = pressed
import start  # noqa: E402, F401  # main.py, as desk.py calls it
