"""Recordings as no board would make them all: any couverture and method, readings that wander,
jump and are missing, alarms and marks in any order, blocks that are lost or damaged."""

import random

from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.wire import catalogue, curve

_METHODS = ("seeding", "slab", "cold-bath", "crystal-seed", "hold", "cup")
PROFILES = [
    b"",
    *(
        compile_profile(load(name, user_folder()), method)
        for name in ("milk", "dark", "white")
        for method in _METHODS
    ),
]
_PHASES = catalogue.PHASE_KINDS[1:]


def odd_recording(chance: random.Random, number: int = 5) -> bytes:
    """Its bytes, as a board would have stored them."""
    raw, writer = bytearray(), curve.BlockWriter()

    def store(length: int) -> None:
        raw.extend(writer.buffer[:length])

    unix_s = chance.choice([0, 1_764_000_000])
    head = (7, 1, 300, 0, unix_s, 0, 1, 0, 0, chance.choice([0, 1_700_000_000]))
    head = (*head, chance.choice(PROFILES))
    store(writer.finish_other("head", catalogue.CURVE_HEAD, head, number, 0))
    block, at_ms = 1, chance.choice([0, 250, 777])
    period_ms = chance.choice([1000, 1000, 250, 500, 2000, 333])
    is_c, phase, aim_c, left = chance.uniform(20, 50), "melt", chance.uniform(24, 50), 100
    for _ in range(chance.choice([0, 1, 2, 5, 20, 100, 600, 1500, 2500])):
        if left <= 0:
            aim_c = chance.choice([chance.uniform(24, 52), *(chance.uniform(29, 33),) * 2])
            left, phase = chance.randrange(20, 500), chance.choice([phase, *_PHASES])
        left -= 1
        is_c += (aim_c - is_c) * chance.uniform(0, 0.03)
        draw = chance.random()
        wild_c = chance.choice([-3.05, 150.0, is_c + 2.5])
        read_c = wild_c if draw < 0.002 else is_c + chance.gauss(0, 0.03)
        writer.sample(at_ms, curve.GAP if draw > 0.995 else round(read_c * 128))
        if chance.random() < 0.02 and writer.events < catalogue.BLOCK_EVENTS_MAX:
            kind = chance.choice(["alarm"] * 6 + ["mark"] * 3 + ["fault"])
            code = chance.choice([0, 1, 2, 256]) if kind == "fault" else chance.randrange(18)
            estimate = chance.choice([catalogue.CENTI_NONE, round(is_c * 100)])
            writer.event((at_ms, kind, code, phase, estimate, chance.randrange(4)))
        at_ms += period_ms
        if writer.full() or chance.random() < 0.004:
            room = chance.choice([2100, catalogue.CENTI_NONE])
            length = writer.finish_data(number, block, period_ms, room)
            if chance.random() > 0.01:
                store(length)
            block += 1
            if chance.random() < 0.05:
                at_ms += chance.randrange(1, 200) * 1000
    if not writer.empty():
        store(writer.finish_data(number, block, period_ms, 2100))
        block += 1
    if chance.random() < 0.8:
        ended = (at_ms, chance.choice(catalogue.END_REASONS))
        store(writer.finish_other("end", catalogue.END_BLOCK, ended, number, block))
    if chance.random() < 0.2:
        for _ in range(3):
            raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
    return bytes(raw)
