"""Curves for the chart tests: one as a board recorded it, others put together by hand."""

from pathlib import Path

from snapcurve.board import structs
from snapcurve.recording.curve import Curve, Event, decode
from snapcurve.wire import catalogue

# Recorded by the firmware on the simulator: dark couverture, three-step, 24 minutes.
# After a change of the curve format record it anew, from a rehearsal of the same.
RECORDED = Path(__file__).parent / "data" / "three_step.curve"


def recorded() -> Curve:
    return decode(RECORDED.read_bytes())


def alarm(at_s: float, name: str, phase: str = "work", estimate_c: float | None = None) -> Event:
    return Event(round(at_s * 1000), "alarm", name, phase, estimate_c, 0)


def mark(at_s: float, name: str, number: int = 0) -> Event:
    return Event(round(at_s * 1000), "mark", name, "work", None, number)


def fault(at_s: float, names: str) -> Event:
    return Event(round(at_s * 1000), "fault", names, "work", None, 0)


def plain(values: list[float | None], events: list[Event] | None = None, step_s: float = 1.0):
    times = [index * step_s for index in range(len(values))]
    return Curve(times_s=times, temperatures_c=values, events=events or [])


def phase(kind: str, direction: str, target_c: float, **more):
    row = {
        "kind": kind,
        "direction": direction,
        "target_centi_c": round(target_c * 100),
        "low_centi_c": 0,
        "high_centi_c": 0,
        "lead_s": 20,
        "dwell_s": 0,
    }
    return row | more


def profile(*phases, couverture: str = "Halde milk", method: str = "seeding") -> bytes:
    head = {
        "couverture": couverture,
        "method": method,
        "never_above_centi_c": 5000,
        "test_early_s": 180,
        "test_due_s": 300,
        "test_late_s": 420,
    }
    return structs.build(catalogue.PROFILE_HEAD, head) + b"".join(
        structs.build(catalogue.PHASE, row) for row in phases
    )


HOLDING = phase("work", "hold", 32, low_centi_c=3000, high_centi_c=3200)
MELTING = phase("melt", "rise", 45)
COOLING = phase("cool", "fall", 27.5, dwell_s=120)
