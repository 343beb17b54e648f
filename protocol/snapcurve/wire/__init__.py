"""What board and host say to each other: catalogue, framing, codec and curve blocks.

Pure Python that runs unchanged under MicroPython and CPython, imports nothing of the
project outside this folder, and does no input or output.
"""
