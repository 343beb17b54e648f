"""The WAV files hold what the beeper plays: rhythm from the envelope, pitch from the zeros."""

import wave
from array import array

import pytest

from snapcurve.errors import SnapcurveError
from snapcurve.probe import sounds
from snapcurve.report.sound_files import EDGE_S, PEAK, RATE_HZ, write

WINDOW = RATE_HZ // 200  # 5 ms
FULL = 32767


def read(path):
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        values = array("h")
        values.frombytes(file.readframes(file.getnframes()))
    return values


def pulses(values):
    """``(sounding, ms)`` as an ear would find them."""
    loud = [
        max(map(abs, values[at : at + WINDOW])) > 0.1 * PEAK * FULL
        for at in range(0, len(values), WINDOW)
    ]
    found = []
    for sounding in loud:
        if found and found[-1][0] == sounding:
            found[-1][1] += 5
        else:
            found.append([sounding, 5])
    return found[:-1]  # the tail


@pytest.mark.parametrize("name", sounds.names())
def test_rhythm_and_pitch(tmp_path, name):
    (path,) = write(tmp_path, [name])
    _, rhythm, hz, *_ = sounds.find(name)
    values, wanted = read(path), sounds.tones(rhythm)
    found = pulses(values)
    assert [sounding for sounding, _ in found] == [sounding for sounding, _ in wanted]
    for (_, got_ms), (_, ms) in zip(found, wanted, strict=True):
        assert abs(got_ms - ms) <= 10
    count = RATE_HZ * wanted[0][1] // 1000
    rising = sum(values[at - 1] < 0 <= values[at] for at in range(1, count))
    assert rising == pytest.approx(hz * count / RATE_HZ, abs=1.5)


def test_soft_edges_and_no_clipping(tmp_path):
    values = read(write(tmp_path, ["mark"])[0])
    assert max(map(abs, values)) <= PEAK * FULL + 1
    assert max(abs(value) for value in values[: int(EDGE_S * RATE_HZ * 0.1)]) < 0.03 * FULL


def test_a_folder_that_cannot_be(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(SnapcurveError, match="taken"):
        write(tmp_path / "taken", ["mark"])
