"""A wire in virtual time between the board's real Link and the host's real Board.

It has a byte rate and a latency, and it damages, drops, doubles and delays by a seeded
rule. No time passes but in ``Port.read``, so hours of bad luck take no longer than the
bytes that move.
"""

import random
from collections import deque
from types import SimpleNamespace

from snapcurve.probe.link import Link
from snapcurve.probe.requests import Requests
from snapcurve.probe.store import Store
from snapcurve.wire import catalogue

# Any reading at all: the first word of each list, and 1.
READING = tuple(field[2][0] if len(field) == 3 else 1 for field in catalogue.READING)
READ_WAIT_MS = 100.0  # longer than SerialPort takes, so that hours of waiting are cheap
FIFO = 256  # what a board's serial output takes before it drains


class Damage:
    """Spoils bytes: ``rate`` of them are damaged, dropped or doubled, each as often."""

    def __init__(self, chance: random.Random, rate: float):
        self._chance, self.rate = chance, rate
        self.spoilt = 0

    def __call__(self, data: bytes) -> bytes:
        if not self.rate:
            return data
        out = bytearray()
        chance = self._chance.random
        for byte in data:
            if chance() >= self.rate:
                out.append(byte)
                continue
            self.spoilt += 1
            way = self._chance.randrange(3)
            if way == 0:
                out.append(byte ^ self._chance.randrange(1, 256))
            elif way == 1:
                out += bytes([byte, byte])
        return bytes(out)


class Direction:
    """Bytes on their way, in the order in which they were sent."""

    def __init__(self, damage, byte_ms: float, latency_ms: float):
        self._damage, self._byte_ms, self._latency_ms = damage, byte_ms, latency_ms
        self._free_ms = 0.0  # when the line has sent all it was given
        self._last_ms = 0.0
        self._moving: deque[tuple[float, bytes]] = deque()
        self.sent = 0

    def backlog(self, now_ms: float) -> int:
        """Bytes given but not yet sent."""
        if not self._byte_ms:
            return 0
        return max(0, round((self._free_ms - now_ms) / self._byte_ms))

    def put(self, now_ms: float, data: bytes, delay_ms: float = 0.0) -> None:
        self.sent += len(data)
        self._free_ms = max(self._free_ms, now_ms) + len(data) * self._byte_ms
        arrival_ms = self._free_ms + self._latency_ms + delay_ms
        self._last_ms = max(self._last_ms, arrival_ms)  # a line never overtakes itself
        self._moving.append((self._last_ms, self._damage(data)))

    def next_ms(self) -> float:
        return self._moving[0][0] if self._moving else float("inf")

    def get(self, now_ms: float) -> bytes:
        data = b""
        while self._moving and self._moving[0][0] <= now_ms:
            data += self._moving.popleft()[1]
        return data


class Wire:
    """Both ends: ``port`` for the host, ``link`` of the board, ``clock`` in seconds."""

    name = "/dev/wire"

    def __init__(
        self, folder, seed=0, rate=0.0, delayed=0.0, longest_delay_ms=0.0, baud=0, latency_ms=0.0
    ):
        self._chance = random.Random(seed)
        self._delayed, self._longest_delay_ms = delayed, longest_delay_ms
        byte_ms = 10_000 / baud if baud else 0.0  # a start and a stop bit
        self.damage = Damage(self._chance, rate)
        self.up = Direction(self.damage, byte_ms, latency_ms)
        self.down = Direction(self.damage, byte_ms, latency_ms)
        self.now_ms = 0.0
        self._inbox = bytearray()
        self.store = Store(str(folder))
        self.store.start()
        settings = SimpleNamespace(use_profile=self._use_profile, probe=("K", 50, "MAX31856"))
        batch = SimpleNamespace(recorder=SimpleNamespace(running=False), set_clock=lambda *_: None)
        requests = Requests(
            (0, 1, 0, 7, "fake"), self.store, settings, batch, None, None,
            lambda _now_ms: READING, bytearray(catalogue.CURVE_CHUNK_MAX),
        )  # fmt: skip
        self.link = Link(self, requests)

    def _use_profile(self, profile) -> bool:
        self.store.save("profile", profile.raw)
        return True

    def clock(self) -> float:
        return self.now_ms / 1000

    # --- the board's stream ---------------------------------------------------------

    def read_into(self, buffer) -> int:
        count = min(len(buffer), len(self._inbox))
        buffer[:count] = self._inbox[:count]
        del self._inbox[:count]
        return count

    # The board gives its frames in pieces; one delay for each is delay enough.
    def _board_writes(self, view) -> int:
        count = min(len(view), FIFO - self.up.backlog(self.now_ms))
        if count <= 0:
            return 0
        delay_ms = 0.0
        if self._delayed and self._chance.random() < self._delayed:
            delay_ms = self._chance.uniform(0, self._longest_delay_ms)
        self.up.put(self.now_ms, bytes(view[:count]), delay_ms)
        return count

    # --- the host's port ------------------------------------------------------------

    def write(self, data):
        """Both ends write: the board a memoryview, the host bytes."""
        if isinstance(data, memoryview):
            return self._board_writes(data)
        self.down.put(self.now_ms, data)
        return None

    def read(self) -> bytes:
        deadline_ms = self.now_ms + READ_WAIT_MS
        while True:
            data = self.up.get(self.now_ms)
            if data or self.now_ms >= deadline_ms:
                return data
            self._inbox += self.down.get(self.now_ms)
            if self.link.due_ms() <= self.now_ms:
                self.link.step(int(self.now_ms))
                continue
            self.now_ms = min(
                deadline_ms, max(self.now_ms, self.up.next_ms()), float(self.link.due_ms())
            )

    def close(self) -> None:
        pass
