"""The board's sounds as WAV files: what the beeper plays, with soft edges.

Mono, 16 bit, 44100 samples a second. A sine rather than the beeper's rectangular wave: the
rhythm and the pitch are what is to be learnt.
"""

import io
import math
import sys
import wave
from array import array
from pathlib import Path

from snapcurve.errors import file_errors
from snapcurve.probe import sounds
from snapcurve.shown.whole_files import write_whole

RATE_HZ = 44100
PEAK = 0.5  # of full scale
EDGE_S = 0.004  # each pulse swells and fades so long: no click, and the rhythm stays sharp
TAIL_MS = 150


def samples(rhythm: str, pitch_hz: float) -> "array[int]":
    """The sound as 16-bit samples."""
    values: array[int] = array("h")
    for sounding, length_ms in [*sounds.tones(rhythm), (False, TAIL_MS)]:
        count = RATE_HZ * length_ms // 1000
        if not sounding:
            values.extend([0] * count)
            continue
        edge = EDGE_S * RATE_HZ
        for at in range(count):
            # Raised-cosine edges.
            part = min(1.0, at / edge, (count - 1 - at) / edge)
            swell = 0.5 - 0.5 * math.cos(math.pi * part)
            turn = 2 * math.pi * pitch_hz * at / RATE_HZ
            values.append(round(32767 * PEAK * swell * math.sin(turn)))
    return values


def place(folder: Path, name: str) -> Path:
    """The file of a sound in ``folder``."""
    return folder / f"{name}.wav"


def write(folder: Path, names: list[str]) -> list[Path]:
    """A file in ``folder`` for each sound; RecordError if it cannot be written."""
    with file_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        write_whole(place(folder, name), wav(name), "sound")
    return [place(folder, name) for name in names]


def wav(name: str) -> bytes:
    """The bytes of a sound's WAV file."""
    _, rhythm, pitch_hz, *_ = sounds.find(name)
    values = samples(rhythm, pitch_hz)
    if sys.byteorder == "big":
        values.byteswap()
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(values.tobytes())
    return held.getvalue()
