"""Start of the firmware; the only place that has hardware objects made."""

import micropython

# The wire is binary: a 0x03 in it must not interrupt. The interpreter switches the
# interrupt character on again before it runs this file, so this comes first.
micropython.kbd_intr(-1)

import gc  # noqa: E402
import sys  # noqa: E402

COLLECT_AT_START_BYTES = 8192  # later: probe/memory.py
INTERRUPT_CHARACTER = 3
# The button at the start: between two looks; down for so long is a press, up for so long ends it;
# without a second press within AGAIN_MS, or within ASKED_MS in all, the probe runs.
LOOK_MS = 20
DOWN_MS = 100
UP_MS = 300
AGAIN_MS = 1500
ASKED_MS = 4000
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
    """Whether the button was down at the start, let go and pressed again while the light was on.
    One press alone may be a button that sticks, and then the probe runs."""
    if not parts.pressed():
        return False
    start = parts.ticks_ms()
    passed_ms = began_ms = last_down_ms = presses = 0
    while passed_ms < ASKED_MS and presses < 2:
        up_ms = passed_ms - last_down_ms
        if parts.pressed():
            if up_ms >= UP_MS:
                began_ms = passed_ms
            last_down_ms = passed_ms
            if passed_ms - began_ms >= DOWN_MS:
                presses = 2 if began_ms else 1
        elif up_ms >= (AGAIN_MS if presses else UP_MS):
            break
        if presses:
            parts.beeper.volume = 0
            parts.beeper.tone(LIGHT_HZ)
        parts.sleep_ms(LOOK_MS)
        passed_ms = (parts.ticks_ms() - start) & (parts.tick_period - 1)
    parts.beeper.tone(0)
    return presses == 2


def main() -> None:
    """Make the board's parts and run the probe on them. Two presses at the start, or a request
    over the wire, give the interpreter's prompt instead."""
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
