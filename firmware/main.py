"""Start of the firmware; the only place that has hardware objects made."""

import micropython

# The wire is binary: a 0x03 in it must not interrupt. The interpreter switches the
# interrupt character on again before it runs this file, so this comes first.
micropython.kbd_intr(-1)

import gc  # noqa: E402
import sys  # noqa: E402

# The collector never moves anything. Collecting early and often keeps what stays together
# at the bottom of the heap, so that littlefs always finds a piece for an open file.
COLLECT_EACH_BYTES = 8192


def main() -> None:
    """Make the board's parts and run the probe on them for ever."""
    import boards

    gc.collect()
    if hasattr(gc, "mem_free"):  # MicroPython; elsewhere a threshold counts other things
        gc.threshold(COLLECT_EACH_BYTES)
    machine = getattr(sys.implementation, "_machine", "desk")
    board = __import__("boards." + boards.name_of(machine), None, None, ("died",))
    parts = None
    try:
        from probe.app import App

        parts = board.Parts(sys.argv)
        app = App(parts)
        app.start()
        app.run()
    except Exception as error:
        if parts is not None:
            parts.beeper.tone(0)  # before a restart, which never comes back here
        board.died(error)
    finally:
        if parts is not None:
            parts.beeper.tone(0)


main()
