"""A rehearsal that ran faster than the clock goes ends when it is filed, not in the future."""

import dataclasses
import time
import zlib

import pytest
from chart_samples import RECORDED, recorded

from snapcurve.board.client import CurveRow
from snapcurve.collecting.filing import new_batch

LENGTH_MS = 1_465_000  # of the recorded curve: 24 min 25 s, sampled each second


def filed(started_unix_ms, rehearsal, curve=None):
    raw = RECORDED.read_bytes()
    curve = dataclasses.replace(curve or recorded(), started_unix_ms=started_unix_ms)
    row = CurveRow(1, "closed", curve.boot, len(raw), zlib.crc32(raw), 1)
    return new_batch(curve, raw, row, "desk", rehearsal=rehearsal)


@pytest.mark.parametrize("began_ago_ms", [0, 7_000, LENGTH_MS - 5_000])
def test_one_that_would_end_in_the_future_ends_now(began_ago_ms):
    now_ms = time.time_ns() // 1_000_000
    began_ms = filed(now_ms - began_ago_ms, True).started_unix_ms
    assert began_ms + LENGTH_MS == pytest.approx(now_ms, abs=3_000)


def test_one_that_took_its_time_keeps_its_beginning():
    began_ms = time.time_ns() // 1_000_000 - LENGTH_MS - 60_000
    assert filed(began_ms, True).started_unix_ms == began_ms


def test_of_one_of_unknown_time_it_stays_unknown():
    assert filed(None, True).started_unix_ms is None


def test_a_real_batch_keeps_what_its_clock_said():
    ahead_ms = time.time_ns() // 1_000_000 + 60_000
    assert filed(ahead_ms, False).started_unix_ms == ahead_ms


def test_an_empty_one_begins_now_at_the_latest():
    curve = dataclasses.replace(recorded(), times_s=[], temperatures_c=[], events=[])
    now_ms = time.time_ns() // 1_000_000
    assert filed(now_ms + 60_000, True, curve).started_unix_ms == pytest.approx(now_ms, abs=3_000)
