"""What is asked of the board, line by line. Limits are our own, with the reason beside each."""

import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from snapcurve.board.client import Reading
from snapcurve.calibration.stored import parse
from snapcurve.couvertures import load
from snapcurve.couvertures.profile import compile_profile
from snapcurve.errors import LinkError, Refused, SnapcurveError
from snapcurve.recording.curve import Curve, decode
from snapcurve.wire import catalogue
from snapcurve.wire.version import __version__
from tests.rig import benches, course
from tests.rig.lines import FAILED, NEEDS_A_PERSON, NEEDS_A_TAPE, NOT_ON_A_DESK, Line, judged

AGE_MS = 500  # two conversions: an older reading is none of this moment
LIVE_MS = 250
LIVE_WAIT_S = 60.0  # for all of them: given up then
ASKS = 40
MEDIAN_MS = 60.0  # the board looks at its line every 50 ms
WORST_MS = 1500.0  # beyond the longest flash erase heard of, 1.2 s
PLAYS = 10  # the shortest sound is over in half a second, and this computer may be busy by then
WATCH_S = 5.0
CLOCK_MS = 60.0  # an answer's way counts in
RESTART_S = 10.0  # USB has to be found anew by the computer
CONVERTER_C = 0.1  # between tape and curve; readings are filtered by a median of three
ALARM_C = 0.3  # of the chocolate's true temperature, in a window of 2 °C
STEADY_C = 0.2  # a probe that moves more within three seconds is compared with nothing
JUNK = bytes(range(256)) * 3 + b"\x03\r\n\x11\x13\x04\x1a"
HEARD_ONLY = ("none",)

HERE = Path(__file__).parent  # no couvertures of the user's own: the built-in ones
Bench = benches.PortBench | benches.DeskBench


def timed(bench: Bench, name: str, expected: str, found: str, good: bool) -> Line:
    """A line that compares the board with this computer's clock. A desk board is a program on
    this computer, and how busy that is says nothing about a board: it is shown, not judged.
    """
    if bench.desk:
        return Line(name, expected, found, NOT_ON_A_DESK)
    return judged(name, expected, found, good)


def acceptance(bench: Bench) -> Iterator[Line]:
    """All lines in order; a line whose check fails altogether says why."""
    for name, lines in CHECKS:
        try:
            yield from lines(bench)
        except (SnapcurveError, LinkError) as error:
            yield Line(name, "an answer", str(error), FAILED)


def hello(bench: Bench) -> Iterator[Line]:
    """Who is there."""
    found = bench.board.hello()
    who = (
        f"{found.firmware}, {found.board} {found.board_id:08x}, {found.converter} {found.tc_type}"
    )
    yield judged("hello", __version__, who, found.firmware == __version__)


def profile(bench: Bench) -> Iterator[Line]:
    """A profile there and back; the board's own comes back at the end."""
    before = bench.board.profile()
    raw = compile_profile(load("dark", HERE), "three-step")
    bench.board.put_profile(raw)
    back = bench.board.profile()
    if before:
        bench.board.put_profile(before)
    yield judged("profile round trip", f"{len(raw)} bytes", f"{len(back)} bytes", back == raw)


def calibration(bench: Bench) -> Iterator[Line]:
    """What the board holds can be read."""
    found = parse(bench.board.calibration())
    yield judged("calibration", "readable", f"{len(found.points)} points", True)


def answers(bench: Bench) -> Iterator[Line]:
    """How long an answer takes."""
    times_ms = []
    for _ in range(ASKS):
        start_s = time.monotonic()
        bench.board.reading()
        times_ms.append((time.monotonic() - start_s) * 1000)
    middle, worst = statistics.median(times_ms), max(times_ms)
    yield timed(
        bench, "median answer", f"<= {MEDIAN_MS:g} ms", f"{middle:.1f} ms", middle <= MEDIAN_MS
    )
    yield timed(
        bench, "slowest answer", f"<= {WORST_MS:g} ms", f"{worst:.1f} ms", worst <= WORST_MS
    )


def clock(bench: Bench) -> Iterator[Line]:
    """The board's time against this computer's."""
    bench.board.set_clock(time.time())
    start_s, start_ms = time.monotonic(), bench.board.reading().uptime_ms
    time.sleep(WATCH_S)
    end_ms = bench.board.reading().uptime_ms
    off_ms = end_ms - start_ms - (time.monotonic() - start_s) * 1000
    yield timed(
        bench, f"clock over {WATCH_S:g} s", f"+-{CLOCK_MS:g} ms", f"{off_ms:+.0f} ms",
        abs(off_ms) <= CLOCK_MS,
    )  # fmt: skip


def readings(bench: Bench) -> Iterator[Line]:
    """Live readings, also while the flash is written: how often by the board's own clock."""
    found = live(bench, round(WATCH_S * 1000 / LIVE_MS) + 1)
    took_s = (found[-1].uptime_ms - found[0].uptime_ms) / 1000
    yield judged(
        f"{len(found)} live readings, 4 a second", f"{WATCH_S:g} s +-20 %", f"{took_s:.2f} s",
        0.8 * WATCH_S <= took_s <= 1.2 * WATCH_S,
    )  # fmt: skip
    age = max(reading.age_ms for reading in found)
    yield judged("oldest of them", f"<= {AGE_MS} ms", f"{age} ms", age <= AGE_MS)
    last = found[-1]
    shown = "none" if last.indicated_c is None else f"{last.indicated_c:.2f} °C"
    plausible = last.indicated_c is not None and -10 <= last.indicated_c <= 110
    yield judged(
        "reading", "-10 to 110 °C, no fault", f"{shown} {last.faults or ''}".strip(),
        plausible and not last.faults,
    )  # fmt: skip
    room = "none" if last.room_c is None else f"{last.room_c:.2f} °C"
    yield judged("room", "0 to 50 °C", room, last.room_c is not None and 0 <= last.room_c <= 50)


def live(bench: Bench, count: int) -> list[Reading]:
    """So many live readings, one each LIVE_MS; SnapcurveError if they do not come."""
    found: list[Reading] = []
    bench.board.live(LIVE_MS)
    deadline_s = time.monotonic() + LIVE_WAIT_S
    while len(found) < count and time.monotonic() < deadline_s:
        reading = bench.board.next_live()
        if reading is not None:
            found.append(reading)
    bench.board.live(0)
    if len(found) < count:
        raise SnapcurveError(f"only {len(found)} of {count} live readings came")
    return found


def deaf_host(bench: Bench) -> Iterator[Line]:
    """A host that asks for live readings and does not fetch them."""
    before = bench.board.reading()
    bench.board.live(100)
    start_s = time.monotonic()
    time.sleep(WATCH_S)
    bench.board.live(0)
    after = bench.board.reading()
    lost_ms = (time.monotonic() - start_s) * 1000 - (after.uptime_ms - before.uptime_ms)
    yield judged(
        f"host that fetches nothing for {WATCH_S:g} s", f"reading <= {AGE_MS} ms old",
        f"{after.age_ms} ms", after.age_ms <= AGE_MS,
    )  # fmt: skip
    yield timed(
        bench, "time that costs the board", f"<= {WORST_MS:g} ms", f"{lost_ms:.0f} ms",
        abs(lost_ms) <= WORST_MS,
    )  # fmt: skip


def junk(bench: Bench) -> Iterator[Line]:
    """Every byte there is, then a question."""
    bench.board.port.write(JUNK)
    found = bench.board.hello()
    yield judged("every byte as junk, then hello", "answered", "answered", bool(found.board))
    try:
        bench.board.ask("curve_read", curve=65535, offset=0, longest=1)
        code = "an answer"
    except Refused as refusal:
        code = refusal.code
    yield judged("a curve that is not there", "no_such_curve", code, code == "no_such_curve")


def sounds(bench: Bench) -> Iterator[Line]:
    """Each sound is played and silenced; whether it is heard is for a person."""
    names = [name for name in catalogue.SOUNDS if name not in HEARD_ONLY]
    missed = [name for name in names if not any(played(bench, name) for _ in range(PLAYS))]
    silent = bench.board.reading().sounding
    found = f"{len(names) - len(missed)}" + (f", not {', '.join(missed)}" if missed else "")
    yield judged("sounds played", str(len(names)), found, not missed)
    yield judged("silence afterwards", "none", silent, silent == "none")
    heard = NOT_ON_A_DESK if bench.desk else NEEDS_A_PERSON
    yield Line("sounds heard and told apart across the room", "each", "-", heard)


def played(bench: Bench, name: str) -> bool:
    """Whether the board says that it plays a sound, which is silenced then."""
    bench.board.ask("sound", sound=name)
    sounding = bench.board.reading().sounding
    bench.board.ask("sound", sound="none")
    return sounding == name


def restart(bench: Bench) -> Iterator[Line]:
    """A restart: how long, and what is kept."""
    if not bench.restarts:
        yield Line("restart", f"<= {RESTART_S:g} s", "-", NOT_ON_A_DESK)
        return
    raw = compile_profile(load("milk", HERE), "seeding")
    before, boot = bench.board.profile(), bench.board.greeting.boot
    bench.board.put_profile(raw)
    start_s = time.monotonic()
    bench.restart()
    took_s = time.monotonic() - start_s
    kept = bench.board.profile() == raw
    boots = bench.board.greeting.boot - boot
    if before:
        bench.board.put_profile(before)
    yield timed(bench, "restart", f"<= {RESTART_S:g} s", f"{took_s:.1f} s", took_s <= RESTART_S)
    yield judged("starts counted", "1 more", f"{boots} more", boots == 1)
    yield judged("profile over the restart", "kept", "kept" if kept else "lost", kept)


def batch(bench: Bench) -> Iterator[Line]:
    """A whole batch from a tape through the converter model, or the curves that are there."""
    if not isinstance(bench, benches.DeskBench):
        yield from stored_curves(bench)
        for name in ("whole batch", "alarms", "curve against tape"):
            yield Line(name, "-", "-", NEEDS_A_TAPE)
        return
    world = course.Course()
    raw = compile_profile(load("milk", HERE), "seeding")
    with bench.batch(world, raw) as curves:
        yield judged("whole batch", "1 curve", f"{len(curves)} curves", len(curves) == 1)
        row, data, took_s = curves[-1]
        speed = f"{row.size} bytes in {took_s:.2f} s"  # download() has compared the CRC
        yield judged("curve, CRC-32", f"{row.crc:08x}", speed, True)
        found = decode(data)
        whole = found.end_reason == "button" and not found.lost_blocks and found.profile == raw
        yield judged("curve, whole", "ended by button", str(found.end_reason), whole)
        yield from against_tape(found, world)
        yield from alarms(found)
        bench.board.erase(row)
        left = len(bench.board.curves())
        yield judged("curve erased with proof", "0 left", f"{left} left", left == 0)


def against_tape(found: Curve, world: course.Course) -> Iterator[Line]:
    """Each sample against what the probe felt in that second."""
    worst, lost = 0.0, 0
    for at_s, value_c in zip(found.times_s, found.temperatures_c, strict=True):
        second = found.started_uptime_ms / 1000 + at_s
        if value_c is None:
            lost += 1
        elif 2 <= second < course.LAST_S - 2:
            felt = world.felt_c[int(second) - 1 : int(second) + 3]
            if max(felt) - min(felt) < STEADY_C:
                worst = max(worst, value_c - max(felt), min(felt) - value_c)
    yield judged("samples without a reading", "0", str(lost), lost == 0)
    yield judged(
        "curve against tape", f"<= {CONVERTER_C:g} °C", f"{worst:.3f} °C", worst <= CONVERTER_C
    )


def alarms(found: Curve) -> Iterator[Line]:
    """The alarms of the course: what the chocolate truly was when they came."""
    heard = [(event.name, event.phase, event.offset_ms) for event in found.events]
    for phase, level_c, after_s in (("melt", 45.0, 21.0), ("work", 32.0, 441.0)):
        at = [ms for name, kind, ms in heard if name == "reached" and kind == phase]
        name, expected = f"{phase} reached", f"{level_c:g} +-{ALARM_C:g} °C"
        if not at:
            yield judged(name, expected, "no alarm", False)
            continue
        second = (found.started_uptime_ms + at[0]) / 1000
        true_c = course.chocolate_c(second) or course.ROOM_C
        late_s = second - course.crossing_s(level_c, after_s)
        yield judged(
            name, expected, f"{true_c:.2f} °C, {late_s:+.1f} s", abs(true_c - level_c) <= ALARM_C
        )
    names = [name for name, _, _ in heard]
    wrong = {"too_hot", "too_cool", "probe_fault", "store_fault"} & set(names)
    yield judged("alarms nobody wants", "none", ", ".join(sorted(wrong)) or "none", not wrong)
    out = "probe_out" in names
    yield judged("probe taken out", "noticed", "noticed" if out else "missed", out)


def stored_curves(bench: Bench) -> Iterator[Line]:
    """A curve of the board's own, which stays there."""
    rows = [row for row in bench.board.curves() if row.state == "closed"]
    if not rows:
        text = "none: press the button, wait a minute, press long, run again"
        yield Line("curve, CRC-32", "equal", text, NEEDS_A_PERSON)
        return
    row, data, took_s = benches.fetched(bench.board, max(rows, key=lambda row: row.size))
    rate = len(data) / 1024 / max(took_s, 1e-6)
    yield judged("curve, CRC-32", f"{row.crc:08x}", f"{rate:.1f} KiB/s", bool(decode(data)))


def beyond(bench: Bench) -> Iterator[Line]:
    """What no program can ask for over the wire."""
    for name in (
        "temperature against a reference",
        "longest stop while the flash is erased",
        "current from the supply",
        "behaviour of the USB connector and its driver",
    ):
        yield Line(name, "-", "-", NOT_ON_A_DESK if bench.desk else NEEDS_A_PERSON)


CHECKS: tuple[tuple[str, Callable[[Bench], Iterator[Line]]], ...] = (
    ("hello", hello),
    ("profile round trip", profile),
    ("calibration", calibration),
    ("answers", answers),
    ("clock", clock),
    ("live readings", readings),
    ("host that fetches nothing", deaf_host),
    ("junk", junk),
    ("sounds", sounds),
    ("restart", restart),
    ("whole batch", batch),
    ("beyond", beyond),
)
