"""The whole firmware on the desk board's parts, in virtual time, with its memory and the time
of its steps; under MicroPython, run by footprint.py and tests/system/test_day.py.

Words: hours, path of the flash image. A day of work repeats: a bowl melts, is worked and
cools, the probe comes out again and again, faults come and go, the button is pressed; a
host reads live values, marks, downloads each curve and erases it. Prints a line each hour,
and what a step took.
"""

import gc
import sys
import time

gc.threshold(8192)

HOUR_MS = 3600000
DAY_S = 5400  # a batch with the rest behind it; the probe is back at the room's temperature
ROOM_C = 21.0
# (second of the batch, celsius): straight between them; out of the bowl near the room.
COURSE = (
    (0, 21), (60, 21), (75, 40), (400, 46), (430, 46), (460, 30), (500, 44), (530, 45),
    (1200, 31), (1500, 29.6), (2400, 29.2), (2700, 28.2), (2760, 29.7), (3200, 29.4),
    (3260, 23), (3300, 29.3), (3900, 29.5), (4000, 21.5), (DAY_S, 21),
)  # fmt: skip
FAULTS = ((1700, 1712), (3400, 3460))
PRESSES = (1600, 1909, 2800, 3500)


class Day:
    """The tape: what the probe feels, without a file."""

    def __init__(self, now_ms):
        self._now_ms = now_ms
        self._row = 0
        self.ended = False

    def at(self, ms):
        second = ms // 1000 % DAY_S
        fault = 0
        for start_s, end_s in FAULTS:
            if start_s <= second < end_s:
                fault = 1
        row = self._row
        if not COURSE[row][0] <= second < COURSE[row + 1][0]:
            row = 0
            while second >= COURSE[row + 1][0]:
                row += 1
            self._row = row
        before_s, before_c = COURSE[row]
        after_s, after_c = COURSE[row + 1]
        part = (second - before_s) / (after_s - before_s)
        return before_c + (after_c - before_c) * part, ROOM_C, fault

    def button(self, ms):
        second = ms // 1000 % DAY_S
        return second in PRESSES and ms % 1000 < 300


class Host:
    """The wire: live readings all day; at each batch's end its curve read and erased."""

    def __init__(self):
        from snapcurve.wire.catalogue import message_number, message_record
        from snapcurve.wire.codec import pack, unpack_rows
        from snapcurve.wire.frame import FRAME_MAX, FrameReader, FrameWriter

        self._number = message_number
        self._record = message_record
        self._pack = pack
        self._unpack_rows = unpack_rows
        self._writer = FrameWriter()
        self._reader = FrameReader(self._on_frame)
        self._out = bytearray(FRAME_MAX)
        self._left = 0
        self._at = 0
        self._sequence = 0
        self.answers = 0
        self.errors = 0
        self.erased = 0
        self.curve = None  # number, size, crc
        self.offset = -1

    def ask(self, name, *values):
        number = self._number(name)
        payload = self._pack(self._record(number), values)
        start = self._writer.PAYLOAD_AT
        self._writer.body[start : start + len(payload)] = payload
        self._sequence = (self._sequence + 1) & 0xFF
        length = self._writer.finish(number, self._sequence, start + len(payload))
        self._out[:length] = self._writer.line[:length]
        self._left, self._at = length, 0

    def read_into(self, buffer):
        count = min(len(buffer), self._left)
        buffer[:count] = self._out[self._at : self._at + count]
        self._left -= count
        self._at += count
        return count

    def write(self, view):
        self._reader.feed(view)
        return len(view)

    def _on_frame(self, version, number, sequence, buffer, start, end):
        from snapcurve.wire.catalogue import CURVE_ROW, ERROR

        self.answers += 1
        if number == ERROR:
            self.errors += 1
            self.offset = -1
        elif number == self._number("curves_list_answer"):
            rows = self._unpack_rows(CURVE_ROW, bytes(buffer[start + 4 : end]))
            closed = [row for row in rows if row[1] == "closed"]
            if closed:
                self.curve = (closed[0][0], closed[0][3], closed[0][4])
                self.offset = 0
        elif number == self._number("curve_read_answer"):
            self.offset += end - start - 14
        elif number == self._number("curve_erase_answer"):
            self.erased += 1
            self.curve = None
            self.offset = -1

    def next_request(self, second):
        """What this second brings."""
        if self._left:
            return
        if self.curve is not None and self.offset >= self.curve[1]:
            self.ask("curve_erase", *self.curve)
        elif self.curve is not None and self.offset >= 0:
            self.ask("curve_read", self.curve[0], self.offset, 1024)
        elif second % 600 == 5:
            self.curve = None
            self.ask("curves_list", 0)
        elif second % 300 == 7:
            self.ask("mark", second & 0xFFFF, "note", second % 100)
        elif second % 3600 == 9:
            self.ask("clock_set", 1800000000 + second, 0)
        elif second % 60 == 3:
            self.ask("reading_get")
        elif second == 2:
            self.ask("live_on", 500)


def used():
    gc.collect()
    return gc.mem_alloc()


def main():
    hours, path = int(sys.argv[1]), sys.argv[2]
    script = used()  # this script and the interpreter, not the firmware
    from snapcurve.boards.desk.chip import ChipModel
    from snapcurve.boards.desk.flash import mount
    from snapcurve.probe.app import App
    from snapcurve.probe.memory import collect_each_bytes
    from snapcurve.probe.tempering.profile import parse
    from snapcurve.wire.catalogue import PHASE, PROFILE_HEAD
    from snapcurve.wire.codec import pack

    before = used()

    class Clock:
        now_ms = 0

    clock = Clock()
    now = lambda: clock.now_ms  # noqa: E731
    day = Day(now)
    host = Host()

    class Beeper:
        changes = 0
        volume = 3

        def tone(self, hz):
            self.changes += 1

    class Parts:
        pass

    parts = Parts()
    chip = ChipModel(now, day)
    script += used() - before
    parts.bus = (chip, chip.cs)
    parts.tc_type = "K"
    parts.beeper = Beeper()
    parts.pressed = lambda: day.button(clock.now_ms)
    parts.stream = host
    parts.store_root = mount(path, None, 0)
    # The ticks wrap in the middle of the first batch.
    parts.ticks_ms = lambda: (clock.now_ms + (1 << 30) - 1500000) & ((1 << 30) - 1)
    parts.tick_period = 1 << 30
    parts.sleep_ms = None
    parts.board_id = 1
    parts.board_name = "desk"
    alarms = {}

    def witness(now_ms, alarm, phase, estimate):
        alarms[alarm] = alarms.get(alarm, 0) + 1

    parts.witness = witness
    parts.restarted = False
    head = pack(PROFILE_HEAD, ("Generic milk", "seeding", 5000, 180, 300, 420))
    phases = (("melt", "rise", 4500, 0, 0, 20, 0), ("work", "hold", 3330, 2900, 3000, 20, 0))
    raw = head + b"".join([pack(PHASE, row) for row in phases])
    app = App(parts)
    app.start()
    app.settings.use_profile(parse(raw))
    gc.collect()
    gc.threshold(collect_each_bytes(gc.mem_free()))
    print("heap", gc.mem_alloc() + gc.mem_free(), "script", script, "started", gc.mem_alloc())
    worst_us = total_us = steps = second = 0
    for hour in range(hours):
        end_ms = (hour + 1) * HOUR_MS
        while clock.now_ms < end_ms:
            begun = time.ticks_us()
            sleep_ms = app.step()
            took_us = time.ticks_diff(time.ticks_us(), begun)
            total_us += took_us
            steps += 1
            worst_us = max(worst_us, took_us)
            clock.now_ms += sleep_ms if sleep_ms > 0 else 1
            if clock.now_ms // 1000 != second:
                second = clock.now_ms // 1000
                host.next_request(second)
        gc.collect()
        print("hour", hour + 1, "used", gc.mem_alloc(), "free", gc.mem_free())
    print("steps", steps, "mean_us", total_us // steps, "worst_us", worst_us)
    print("answers", host.answers, "errors", host.errors, "erased", host.erased)
    print("tones", parts.beeper.changes, "curves", len(app.store.rows), "boot", app.store.boot)
    for name in sorted(alarms):
        print("alarm", name, alarms[name])


main()
