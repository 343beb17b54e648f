"""The loop: every part has a step, called in order, and says when it wants the next.

Everything comes in through ``parts`` (see boards/): the app runs the same on a board, on
the desk and in a test that moves the clock millisecond by millisecond.
"""

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.frame import FrameWriter
from snapcurve.wire.version import __version__

from .batch import Batch
from .button import Button
from .link import Link
from .marks import Marks
from .recorder import Recorder
from .requests import Requests
from .resumption import Resumption
from .settings import Settings
from .sounder import Sounder
from .store import Store
from .tempering.estimate import Estimate
from .thermometer.max31856 import NO_READING
from .thermometer.reading import Thermometer
from .ticks import Uptime

_LONGEST_SLEEP_MS = const(250)
_CURVE_PART = catalogue.message_number("curve_read_answer")
_STUCK = const(4)  # "button" of catalogue.TROUBLES


class App:
    """The whole probe.

    ``parts`` has ``bus`` (an SPI bus and its select line), ``tc_type`` (of the probe unless
    another was chosen), ``beeper``, ``pressed``, ``stream``, ``store_root``,
    ``ticks_ms``, ``tick_period``, ``sleep_ms``, ``board_id``, ``board_name``,
    ``restarted`` (by a reset, not by switching on), ``watch`` (starts the watchdog and gives
    what feeds it) and ``witness`` (None, or called with each alarm; the desk board tells the
    rehearsal).
    """

    def __init__(self, parts):
        self._parts = parts
        version = tuple([int(part) for part in __version__.split(".")])
        self.uptime = Uptime(parts.ticks_ms, parts.tick_period)
        self.store = Store(parts.store_root)
        self.thermometer = Thermometer()
        self.sounder = Sounder(parts.beeper)
        self.button = Button(parts.pressed)
        estimate = Estimate()
        self.settings = Settings(self.store, self.thermometer, estimate, parts.bus, parts.tc_type)
        self.recorder = Recorder(self.store, version, parts.board_id, self.settings)
        self.batch = Batch(
            self.settings, self.thermometer, estimate, self.sounder, self.recorder, parts.witness
        )
        self.resumption = Resumption(self.store, self.settings, self.batch)
        self.marks = Marks(self.batch, self.button, self.sounder)
        writer = FrameWriter()
        # A part of a curve is read straight to its place in the answer.
        part_at = writer.PAYLOAD_AT + codec.fixed_size(catalogue.message_record(_CURVE_PART))
        requests = Requests(
            version + (parts.board_id, parts.board_name),
            self.store,
            self.settings,
            self.batch,
            self.marks,
            self.sounder,
            self.reading,
            writer.body[part_at : part_at + catalogue.CURVE_CHUNK_MAX],
        )
        self.link = Link(parts.stream, requests, writer)

    def start(self) -> None:
        """Open the store, take up what is stored, say hello."""
        now_ms = self.uptime.now()
        self.settings.start()
        self.sounder.volume = self.settings.volume
        try:
            self.store.start()
            self.sounder.play(now_ms, "hello")
        except OSError:
            self.batch.store_failed(now_ms)
        self.batch.check_settings(now_ms)
        if self._parts.restarted:
            from . import crashes  # only after a reset

            try:
                crashes.after_reset(self._parts.store_root, self.store.boot)
            except OSError:
                pass  # the store has said so, or will
        self.resumption.start(self._parts.restarted)

    def run(self) -> None:
        """Step for ever, and show the watchdog that we do."""
        feed = self._parts.watch()
        while True:
            self._parts.sleep_ms(self.step())
            feed()

    def step(self) -> int:
        """Do what is due; milliseconds until there is more to do."""
        now_ms = self.uptime.now()
        batch = self.batch
        if self.thermometer.step(now_ms):
            batch.judge(now_ms)
        batch.check_faults(now_ms)
        self.resumption.step(now_ms)
        if batch.step(now_ms) and not self.resumption.returns(now_ms):
            batch.start(now_ms, False)
        self.marks.step(now_ms)
        self.link.step(now_ms)
        self.sounder.keep(now_ms, batch.urgent())
        self.sounder.step(now_ms)
        due_ms = min(
            self.thermometer.due_ms(),
            self.button.due_ms(),
            self.recorder.due_ms(),
            self.link.due_ms(),
            self.sounder.due_ms(),
        )
        return max(0, min(due_ms - self.uptime.now(), _LONGEST_SLEEP_MS))

    def troubles(self) -> int:
        """What is wrong with the board itself, as bits of catalogue.TROUBLES."""
        settings = self.settings
        return settings.unreadable | settings.unused | (_STUCK if self.button.stuck else 0)

    def reading(self, now_ms: int):
        """The values of catalogue.READING."""
        thermometer = self.thermometer
        engine = self.batch.engine
        estimate = self.batch.estimate
        none = catalogue.CENTI_NONE
        value = thermometer.value_128ths
        rate = none
        if estimate.place == "chocolate":
            rate = max(-30000, min(30000, int(estimate.rate_c_per_s * 6000)))
        return (
            now_ms // 1000,
            now_ms % 1000,
            min(thermometer.age_ms(now_ms), 0xFFFF),
            none if value == NO_READING else (value * 100 + 64) // 128,
            thermometer.uncorrected_128ths,
            self.batch.estimate_centi_c(),
            rate,
            thermometer.room_centi_c,
            thermometer.faults,
            estimate.place,
            engine.phase_kind(),
            engine.state,
            self.recorder.curve & 0xFFFF,
            self.sounder.playing,
            catalogue.NO_SECONDS if engine.left_s < 0 else engine.left_s,
            self.troubles(),
        )
