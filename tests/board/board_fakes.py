"""Fake parts for the firmware's tests: a converter on a bus, a clock, a wire, a beeper."""

import binascii

from cobs import cobs

from snapcurve.boards.desk.chip import ChipModel
from snapcurve.boards.desk.chip_31855 import Max31855Model
from snapcurve.wire import catalogue, codec, curve, curve_data
from snapcurve.wire.curve import BlockWriter

POWER_UP = bytes.fromhex("00 03 FF 7F C0 7F FF 80 00 00 00 00 00 00 00 00")
AUTO = 0x80
FILTER_50_HZ = 0x01
RUBBISH = bytes.fromhex("55 AA 5A")


class FakeBus:
    """SPI bus, select line and MAX31856 in one, at the level of bytes.

    Keeps the rules a careless driver breaks: transfers need the select line; the mains
    filter and the averaging change only while conversions are off, or the chip delivers
    rubbish from then on. ``damage`` makes the bus lie: "low", "high", "late", "early".
    """

    def __init__(self, hot=b"\0\0\0", cold=b"\0\0", status=0):
        self.registers = bytearray(POWER_UP)
        self.hot, self.cold, self.status = bytes(hot), bytes(cold), status
        self.selected = False
        self.writes = []
        self.reads = 0
        self.damage = ""
        self.deaf = False  # writes do not arrive
        self.spoilt = False

    def cs(self, level):
        self.selected = level == 0

    def write(self, data):
        assert self.selected
        data = bytes(data)
        self.writes.append(data)
        assert data[0] & 0x80
        if self.deaf:
            return
        for index, value in enumerate(data[1:]):
            self._store(data[0] & 0x7F, index, value)

    def _store(self, address, index, value):
        register = address + index
        before = self.registers[register]
        running = self.registers[0] & AUTO
        # Switching off and choosing the filter in one write is the known-good order.
        if register == 0 and running & value and (before ^ value) & FILTER_50_HZ:
            self.spoilt = True
        if running and register == 1 and before != value:
            self.spoilt = True
        if register == 0:
            value &= ~0x02  # fault clear clears itself
        self.registers[register] = value

    def write_readinto(self, out, into):
        assert self.selected
        assert len(out) == len(into)
        self.reads += 1
        self.registers[0x0A:0x0C] = self.cold
        self.registers[0x0C:0x0F] = RUBBISH if self.spoilt else self.hot
        self.registers[0x0F] = self.status
        answer = bytes([self.registers[(out[0] + i) & 0x0F] for i in range(len(out) - 1)])
        into[0] = 0xFF
        into[1:] = answer
        bits = int.from_bytes(answer, "big")
        whole = (1 << 8 * len(answer)) - 1
        if self.damage == "low":
            into[:] = bytes(len(into))
        elif self.damage == "high":
            into[:] = b"\xff" * len(into)
        elif self.damage == "late":
            into[1:] = (bits >> 1).to_bytes(len(answer), "big")
        elif self.damage == "early":
            into[1:] = ((bits << 1) & whole).to_bytes(len(answer), "big")

    def lose_settings(self):
        """A dip of the supply: everything is as after power-up."""
        self.registers[:] = POWER_UP
        self.spoilt = False


class Clock:
    """Device time that the test moves; ticks wrap."""

    def __init__(self, first_tick=0, period=1 << 30):
        self.ms = 0
        self.first_tick, self.period = first_tick, period

    def now(self):
        return self.ms

    def ticks_ms(self):
        return (self.first_tick + self.ms) % self.period

    def sleep_ms(self, length_ms):
        self.ms += length_ms


class Beeper:
    """Notes each change of tone with its time."""

    def __init__(self, now):
        self._now = now
        self.hz = 0
        self.log = []

    def tone(self, hz):
        if hz != self.hz:
            self.log.append((self._now(), hz))
            self.hz = hz


class Stream:
    """The wire: ``inbox`` is what the host sent, ``outbox`` what it got."""

    def __init__(self):
        self.inbox = bytearray()
        self.outbox = bytearray()
        self.room = 1 << 30  # bytes the host's end still takes
        self.at_most = 1 << 30  # bytes in one write
        self.writes = 0

    def read_into(self, buffer):
        count = min(len(buffer), len(self.inbox))
        buffer[:count] = self.inbox[:count]
        del self.inbox[:count]
        return count

    def write(self, view):
        self.writes += 1
        count = min(len(view), self.at_most, self.room)
        self.room -= count
        self.outbox += bytes(view[:count])
        return count

    def answers(self):
        """Frames the board has sent since last asked: ``(name, sequence, values)``."""
        frames = [piece for piece in bytes(self.outbox).split(b"\0") if piece]
        self.outbox.clear()
        return [parse_frame(piece) for piece in frames]


def parse_frame(piece):
    """One frame without its delimiters, read with the package cobs."""
    body = cobs.decode(piece)
    assert int.from_bytes(body[-4:], "little") == binascii.crc32(body[:-4])
    assert body[0] == catalogue.PROTOCOL_VERSION
    values = codec.unpack(catalogue.message_record(body[1]), body[3:-4])
    return catalogue.message_name(body[1]), body[2], values


def raw_frame(number, sequence=1, payload=b"", version=catalogue.PROTOCOL_VERSION):
    """A frame as the host sends it, made with the package cobs."""
    body = bytes([version, number, sequence]) + payload
    body += binascii.crc32(body).to_bytes(4, "little")
    return b"\0" + cobs.encode(body) + b"\0"


def request(name, *values, sequence=1):
    """The frame of a request by name and values."""
    number = catalogue.message_number(name)
    return raw_frame(number, sequence, codec.pack(catalogue.message_record(number), values))


# Temperatures of a generic milk couverture; test times as in the host's profiles.
MELT = ("melt", "rise", 4500, 0, 0, 20, 0)
COOL = ("cool", "fall", 2700, 0, 0, 20, 120)
REWARM = ("rewarm", "rise", 2930, 0, 0, 20, 0)
WORK = ("work", "hold", 3000, 2900, 3000, 20, 0)


def profile_bytes(*phases, never_above=5000, method="seeding", times=(180, 300, 420)):
    """A profile of phases given as rows of catalogue.PHASE."""
    head = ("Generic milk", method, never_above, *times)
    return codec.pack(catalogue.PROFILE_HEAD, head) + b"".join(
        codec.pack(catalogue.PHASE, row) for row in phases
    )


class World:
    """What the probe feels: straight lines between ``(ms, celsius)``; faults by interval."""

    def __init__(self, points, room_c=21.0, faults=()):
        self.points, self.room_c, self.faults = points, room_c, faults

    def at(self, ms):
        bits = 0
        for start_ms, end_ms, fault in self.faults:
            if start_ms <= ms < end_ms:
                bits |= fault
        before = self.points[0]
        for point in self.points:
            if point[0] > ms:
                part = max(0.0, (ms - before[0]) / (point[0] - before[0]))
                return before[1] + (point[1] - before[1]) * part, self.room_c, bits
            before = point
        return before[1], self.room_c, bits


class Parts:
    """Everything App asks of a board."""

    tc_type = "K"

    def __init__(self, folder, world, first_tick=0, presses=(), converter="MAX31856", kind="K"):
        self.clock = Clock(first_tick)
        self.world = world
        if converter == "MAX31855":
            self.spi = Max31855Model(self.clock.now, world, kind)
        else:
            self.spi = ChipModel(self.clock.now, world, kind=kind)
        self.bus = (self.spi, self.spi.cs)
        self.beeper = Beeper(self.clock.now)
        self.stream = Stream()
        self.store_root = str(folder)
        self.ticks_ms = self.clock.ticks_ms
        self.tick_period = self.clock.period
        self.sleep_ms = self.clock.sleep_ms
        self.board_id = 0x1234
        self.board_name = "fake"
        self.presses = presses  # (from ms, to ms)
        self.alarms = []
        self.restarted = False
        self.fed_ms = []  # when the watchdog was fed

    def watch(self):
        return lambda: self.fed_ms.append(self.clock.ms)

    def press(self, length_ms):
        """The button goes down now, for so long."""
        self.presses = (*self.presses, (self.clock.ms, self.clock.ms + length_ms))

    def pressed(self):
        return any(start <= self.clock.ms < end for start, end in self.presses)

    def witness(self, now_ms, alarm, phase, estimate_centi_c):
        self.alarms.append((now_ms, alarm, phase, estimate_centi_c))


def write_curve(store, blocks=3, end=True):
    """Write one curve of a head and ``blocks`` data blocks into ``store``; its row."""
    writer = BlockWriter()
    curve = store.begin()
    values = (1, store.boot, 0, 0, 0, 0, 1, 0, 0, 0, b"profile")
    length = writer.finish_other("head", catalogue.CURVE_HEAD, values, curve, 0)
    store.append(writer.buffer, length)
    for block in range(1, blocks + 1):
        for second in range(60):
            writer.sample((block - 1) * 60_000 + second * 1000, 4000 + second * block)
        store.append(writer.buffer, writer.finish_data(curve, block, 1000, 2100))
    if end:
        store.end()
    return store.row(curve)


def blocks_of(raw):
    """The blocks of a whole curve: ``(kind, number of curve, running number, body)``.

    The body is what parse_data gives, or the values of the block's fields.
    """
    fields = {
        "head": catalogue.CURVE_HEAD,
        "clock": catalogue.CLOCK_BLOCK,
        "end": catalogue.END_BLOCK,
        "probe": catalogue.PROBE,
    }
    at, blocks = 0, []
    while at < len(raw):
        kind, number, block, start, end = curve.parse_block(raw, at)
        if kind == "data":
            body = curve_data.parse_data(raw, start, end)
        else:
            body = codec.unpack(fields[kind], raw, start, end)
        blocks.append((kind, number, block, body))
        at = end
    return blocks


def samples_of(blocks):
    """All samples as ``{ms since the start: 1/128 °C or None}``."""
    found = {}
    for kind, _, _, body in blocks:
        if kind == "data":
            (start_ms, period_ms, *_), values, _ = body
            for index, value in enumerate(values):
                found[start_ms + index * period_ms] = None if value == curve.GAP else value
    return found


def events_of(blocks):
    """All events, in order."""
    return [event for kind, _, _, body in blocks if kind == "data" for event in body[2]]
