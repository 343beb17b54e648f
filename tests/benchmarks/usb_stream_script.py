"""What an answer costs on a board's USB stream: garbage and time. Under MicroPython's unix port;
standard output is the line, and the figures go to standard error. Started by link.py.
"""

import gc
import sys
import time

sys.modules["machine"] = type("machine", (), {})
from snapcurve.boards.peripherals import UsbStream  # noqa: E402
from snapcurve.wire.frame import FRAME_MAX  # noqa: E402

ANSWERS = 200
REQUEST = 16
frame = memoryview(bytearray(FRAME_MAX))
buffer = bytearray(64)
stream = UsbStream()


def measured(step):
    """Bytes of heap and nanoseconds for ``step``."""
    step()
    gc.collect()
    gc.disable()
    before = gc.mem_alloc()
    step()
    garbage = gc.mem_alloc() - before
    gc.enable()
    start_ns = time.time_ns()
    for _ in range(ANSWERS):
        step()
    return garbage, (time.time_ns() - start_ns) // ANSWERS


def answer():
    at = 0
    while at < FRAME_MAX:
        at += stream.write(frame[at:])


def raw():
    sys.stdout.buffer.write(frame)


def request():
    count = 0
    while count < REQUEST:
        count += stream.read_into(buffer)


for name, step in (("answer", answer), ("raw", raw), ("request", request)):
    garbage, ns = measured(step)
    sys.stderr.write(f"{name} {garbage} {ns}\n")
