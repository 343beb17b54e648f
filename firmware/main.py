"""Start of the firmware; the only place that has hardware objects made."""

import micropython

# The wire is binary: a 0x03 in it must not interrupt. The interpreter switches the
# interrupt character on again before it runs this file, so this comes first.
micropython.kbd_intr(-1)

import gc  # noqa: E402
import sys  # noqa: E402

COLLECT_AT_START_BYTES = 8192  # later: probe/memory.py
INTERRUPT_CHARACTER = 3
# A press at the start: between two looks; down for so long, then up for so long; else stuck.
LOOK_MS = 20
DOWN_MS = 100
UP_MS = 300
STUCK_MS = 4000
LIGHT_HZ = 1000  # any: with volume 0 only the light shows it


def run(board, parts) -> None:
    """Run the probe until it fails; then record the reason and restart."""
    app = None
    try:
        from snapcurve.probe.app import App
        from snapcurve.probe.memory import collect_each_bytes

        app = App(parts)
        app.start()
        if hasattr(gc, "mem_free"):  # MicroPython; elsewhere a threshold counts other things
            gc.collect()
            gc.threshold(collect_each_bytes(gc.mem_free()))
        app.run()
    except Exception as error:
        parts.beeper.tone(0)
        rescue(parts, app, error)
        board.died(error)


def rescue(parts, app, error) -> None:
    """Write what the curve has not on flash yet, and the reason. The restart must come even if
    that fails."""
    try:
        app.recorder.rescue()
    except Exception:
        pass
    try:
        gc.collect()
        from snapcurve.probe import crashes

        crashes.record(parts.store_root, crashes.describe(error))
    except Exception:
        pass


def prompt_requested(parts) -> bool:
    """Whether the button was held at the start and let go while the light was on. A button that
    stays down is stuck, and the probe runs."""
    if not parts.pressed():
        return False
    start = parts.ticks_ms()
    passed_ms = last_down_ms = 0
    requested = False
    while passed_ms < STUCK_MS:
        if parts.pressed():
            last_down_ms = passed_ms
        elif passed_ms - last_down_ms >= UP_MS:
            requested = last_down_ms >= DOWN_MS
            break
        if last_down_ms >= DOWN_MS:
            parts.beeper.volume = 0
            parts.beeper.tone(LIGHT_HZ)
        parts.sleep_ms(LOOK_MS)
        passed_ms = (parts.ticks_ms() - start) & (parts.tick_period - 1)
    parts.beeper.tone(0)
    return requested


def main() -> None:
    """Make the board's parts and run the probe on them. The button at the start, or a request
    over the wire, gives the interpreter's prompt instead."""
    from snapcurve import boards

    gc.collect()
    if hasattr(gc, "mem_free"):
        gc.threshold(COLLECT_AT_START_BYTES)
    machine = getattr(sys.implementation, "_machine", "desk")
    board = __import__("snapcurve.boards." + boards.name_of(machine), None, None, ("died",))
    parts = None
    try:
        parts = board.Parts(sys.argv)
        if not prompt_requested(parts):
            run(board, parts)
    except KeyboardInterrupt:  # asked for over the wire
        from snapcurve.probe import crashes

        crashes.left(parts.store_root)
    except Exception as error:
        board.died(error)
    finally:
        if parts is not None:
            parts.beeper.tone(0)
    if parts is not None:
        parts.leave()
    micropython.kbd_intr(INTERRUPT_CHARACTER)


main()
