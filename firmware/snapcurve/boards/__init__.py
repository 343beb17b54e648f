"""Boards: pins and peripherals of each. main.py asks ``name_of`` which one it runs on."""

# Part of sys.implementation._machine, and the module.
KNOWN = (
    ("RP2040", "pico"),
    ("RP2350", "pico2"),
    ("ESP32S3", "esp32s3"),
    ("ESP32-S3", "esp32s3"),
    ("linux", "desk"),
    ("darwin", "desk"),
    ("desk", "desk"),
)

# Set by an installed main.py if the user named the board.
FITTED = ""


def name_of(machine: str) -> str:
    """The board module for the interpreter's machine text; ValueError if none is known."""
    if FITTED:
        return FITTED
    for part, name in KNOWN:
        if part in machine:
            return name
    raise ValueError("no board file for " + machine)
