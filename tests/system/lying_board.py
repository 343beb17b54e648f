"""A board that speaks the real protocol on a pseudo-terminal and says what is not so.

It keeps a profile, a calibration and curves like any board, and answers from them; for each
request there may be a row of lies, of which each answer takes the next (None: the truth).
"""

import binascii
import os
import pty
import select
import sys
import threading
import tty
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from snapcurve.wire import catalogue, codec
from snapcurve.wire.frame import FrameReader

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from lying_bytes import calibration_of, curve_of, frame, packed, profile_of

CHUNK = 512


@dataclass(frozen=True)
class Lie:
    """How one answer differs from the true one.

    ``values`` replace fields; ``payload`` all of them; ``name`` the kind of message;
    ``sequence`` and ``version`` are added to; ``before`` are bytes sent first; ``times`` how
    often it is sent, 0 for silence.
    """

    values: dict[str, Any] = field(default_factory=dict)
    payload: bytes | None = None
    name: str | None = None
    sequence: int = 0
    version: int = 0
    before: bytes = b""
    times: int = 1


@dataclass
class Kept:
    """What the board has; ``rows`` replace what it says of its curves."""

    board: str | bytes = "pico"
    board_id: int = 7
    profile: bytes = field(default_factory=profile_of)
    calibration: bytes = field(default_factory=calibration_of)
    before: bytes = b""
    reason: bytes = b""
    curves: list[bytes] = field(default_factory=lambda: [curve_of(profile_of())])
    rows: list[dict[str, Any]] | None = None
    hello: dict[str, Any] = field(default_factory=dict)
    reading: dict[str, Any] = field(default_factory=dict)


class LyingBoard:
    """Use it with ``with``; ``port`` is what to open. ``asked`` counts the requests."""

    def __init__(self, kept: Kept, lies: dict[str, list[Lie | None]] | None = None):
        self._kept = kept
        self._lies = {name: list(row) for name, row in (lies or {}).items()}
        self._place = dict.fromkeys(self._lies, 0)
        self.asked: dict[str, int] = {}
        self._live = False
        self._uptime_ms = 60_000
        self._out = bytearray()
        self._ours, theirs = pty.openpty()
        tty.setraw(self._ours)
        tty.setraw(theirs)
        os.set_blocking(self._ours, False)
        self.port = os.ttyname(theirs)
        self._theirs = theirs  # stays open: no hang-up between users
        self._reader = FrameReader(self._on_frame)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> "LyingBoard":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        os.close(self._ours)
        os.close(self._theirs)

    # --- the line -------------------------------------------------------------------

    def _serve(self) -> None:
        while not self._stop.is_set():
            writing = [self._ours] if self._out else []
            ready, free, _ = select.select([self._ours], writing, [], 0.02)
            if ready:
                data = os.read(self._ours, 4096)
                self._reader.feed(data)
            if free:
                del self._out[: os.write(self._ours, self._out[:CHUNK])]
            if not ready and self._live and not self._out:
                self._uptime_ms += 250
                self._answer("live", 0, self._reading())

    def _on_frame(
        self, _v: int, number: int, sequence: int, buffer: Any, start: int, end: int
    ) -> None:
        name = catalogue.message_name(number)
        record = catalogue.message_record(number)
        names = [row[0] for row in record]
        values = dict(zip(names, codec.unpack(record, buffer, start, end), strict=True))
        self.asked[name] = self.asked.get(name, 0) + 1
        self._answer(name, sequence, getattr(self, "_" + name)(values))

    def _answer(self, name: str, sequence: int, true: dict[str, Any]) -> None:
        lie = self._next(name) or Lie()
        said = lie.name or (name if name == "live" else name + "_answer")
        number = catalogue.message_number(said)
        payload = lie.payload
        if payload is None:
            payload = packed(catalogue.message_record(number), {**true, **lie.values})
        version = catalogue.PROTOCOL_VERSION + lie.version & 0xFF
        self._out += lie.before
        self._out += frame(number, sequence + lie.sequence, payload, version) * lie.times

    def _next(self, name: str) -> Lie | None:
        row = self._lies.get(name)
        if not row:
            return None
        self._place[name] += 1
        return row[(self._place[name] - 1) % len(row)]

    # --- the truth ------------------------------------------------------------------

    def _moment(self) -> dict[str, Any]:
        self._uptime_ms += 1
        return {"uptime_s": self._uptime_ms // 1000, "uptime_ms": self._uptime_ms % 1000}

    def _hello(self, _: Any) -> dict[str, Any]:
        who = {"minor": 1, "board_id": self._kept.board_id, "board": self._kept.board, "boot": 3}
        return {**who, **self._moment(), **self._kept.hello}

    def _clock_set(self, _: Any) -> dict[str, Any]:
        return self._moment()

    def _profile_put(self, asked: Any) -> dict[str, Any]:
        self._kept.profile = asked["profile"]
        return {"crc": binascii.crc32(asked["profile"])}

    def _profile_get(self, _: Any) -> dict[str, Any]:
        return {"profile": self._kept.profile}

    def _calibration_get(self, asked: Any) -> dict[str, Any]:
        current = asked["file"] == "current"
        return {"calibration": self._kept.calibration if current else self._kept.before}

    def _calibration_put(self, asked: Any) -> dict[str, Any]:
        self._kept.before, self._kept.calibration = self._kept.calibration, asked["calibration"]
        return {"crc": binascii.crc32(asked["calibration"])}

    def _rows(self) -> list[dict[str, Any]]:
        if self._kept.rows is not None:
            return self._kept.rows
        return [
            {"curve": at + 1, "state": "closed", "boot": 3, "size": len(raw),
             "crc": binascii.crc32(raw), "generation": 77 + at}
            for at, raw in enumerate(self._kept.curves)
        ]  # fmt: skip

    def _curves_list(self, asked: Any) -> dict[str, Any]:
        rows, first = self._rows(), asked["first"]
        part = rows[first : first + catalogue.CURVE_ROWS_MAX]
        raw = b"".join(packed(catalogue.CURVE_ROW, row) for row in part)
        return {"first": first, "total": len(rows), "rows": raw}

    def _curve_read(self, asked: Any) -> dict[str, Any]:
        row = next((one for one in self._rows() if one["curve"] == asked["curve"]), {})
        raw = self._kept.curves[(asked["curve"] - 1) % max(1, len(self._kept.curves))]
        at = asked["offset"]
        longest = min(asked["longest"], catalogue.CURVE_CHUNK_MAX)
        return {
            "curve": asked["curve"],
            "offset": at,
            "total": row.get("size", 0),
            "generation": row.get("generation", 0),
            "data": raw[at : at + longest],
        }

    def _curve_erase(self, asked: Any) -> dict[str, Any]:
        return {"curve": asked["curve"]}

    def _live_on(self, _: Any) -> dict[str, Any]:
        self._live = True
        return {}

    def _live_off(self, _: Any) -> dict[str, Any]:
        self._live = False
        return {}

    def _reading(self) -> dict[str, Any]:
        good = {
            "indicated_centi_c": 3110, "uncorrected_128ths": 3981, "estimate_centi_c": 3105,
            "rate_centi_c_per_min": -20, "room_centi_c": 2100, "place": "chocolate",
            "phase": "work", "state": "inside", "curve": 4, "window_left_s": 600,
        }  # fmt: skip
        return {**good, **self._moment(), **self._kept.reading}

    def _reading_get(self, _: Any) -> dict[str, Any]:
        return self._reading()

    def _mark(self, asked: Any) -> dict[str, Any]:
        return {"token": asked["token"], **self._moment()}

    def _sound(self, _: Any) -> dict[str, Any]:
        return {}

    _bath = _volume_set = _maintenance = _probe_put = _sound

    def _chain_ends_get(self, _: Any) -> dict[str, Any]:
        return {"ends": b""}

    def _chain_end_put(self, _: Any) -> dict[str, Any]:
        return {}

    def _probe_get(self, _: Any) -> dict[str, Any]:
        return {"tc_type": "K", "mains_hz": 50, "converter": "MAX31856", "recognised": 1}

    def _crash_get(self, _: Any) -> dict[str, Any]:
        return {"boot": 2, "crashes": int(bool(self._kept.reason)), "reason": self._kept.reason}
