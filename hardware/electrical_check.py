"""Electrical rules over the wiring: ``python -m hardware.electrical_check``.

Each rule is a pure function from the tables to sentences; none means that the rule is kept.
``check`` runs them all. Numbers about pins come from pins.csv and about parts from parts.csv,
where their sources stand.
"""

import sys
from collections.abc import Callable, Iterator

from hardware.netlist import BOARD, BOARDS, Part, Pin, Tables, WiringFileError, load

V_GPIO_HIGH = 3.3
V_BASE_EMITTER = 0.7  # silicon, handbook value
V_USB_MAX = 5.25  # USB 2.0 specification, 7.2.2
PIN_CURRENT_TOTAL_MA = 50.0  # RP2040 datasheet, 5.2.3.4: sum over all pins that source
OVERDRIVE_MIN = 2.0  # common practice, no source: base current over what the gain asks for
PULL_UP_OHM = (1_000.0, 100_000.0)
LOWEST_TONE_HZ = 1500.0  # no sound of the firmware is lower (tests hold it)
DROOP_MAX_V = 0.5  # common practice, no source: a tenth of the supply within a pulse
FILTER_NF = (1.0, 100.0)  # MAX31856 datasheet shows 10 nF; above 100 nF the open test is slow
RESISTIVE = ("R", "B", "S", "D", "F")  # two-ended parts that pass a steady voltage on


def _name(pin: Pin) -> str:
    return ".".join(pin)


def _number(part: Part, key: str) -> float:
    return part.data.get(key, 0.0)


def each_pin_once(t: Tables) -> Iterator[str]:
    """Every pin of pins.csv is in exactly one net; every wire ends at a known pin, once."""
    nets = t.nets()
    for net, members in nets.items():
        for pin in sorted(members - set(t.pins)):
            yield f"Net {net} uses {_name(pin)}, which pins.csv does not know."
    for pin in t.pins:
        homes = sorted(net for net, members in nets.items() if pin in members)
        if not homes:
            yield f"{_name(pin)} is not connected: add its wire."
        elif len(homes) > 1:
            yield f"{_name(pin)} is in more than one net: {', '.join(homes)}."
    seen = set()
    for wire in t.wires:
        ends = frozenset((wire.a, wire.b))
        if len(ends) == 1 or ends in seen:
            yield (f"The wire {_name(wire.a)} to {_name(wire.b)} goes nowhere new: remove it.")
        seen.add(ends)
    for ref in sorted({p[0] for p in t.pins} - set(t.parts)):
        yield f"{ref} is wired but is not in parts.csv."


def nets_in_one_piece(t: Tables) -> Iterator[str]:
    """The wires of a net hang together; the board's ground pins are joined on the board."""
    for net, members in t.nets().items():
        links = [{w.a, w.b} for w in t.wires if w.net == net]
        links.append({p for p in members if p[0] == BOARD and p[1].startswith("GND")})
        piece = {min(members)}
        while True:
            grown = piece.union(*(link for link in links if link & piece))
            if grown == piece:
                break
            piece = grown
        for pin in sorted(members - piece):
            yield f"Net {net} is in pieces: {_name(pin)} is not reached."


def board_pins_suit(t: Tables) -> Iterator[str]:
    """On each board: the pin exists, is free to use, serves one role and has the SPI function."""
    power = {"3V3": "power_3v3", "5V": "power_5v", "GND1": "ground", "GND2": "ground"}
    for board in BOARDS:
        used: dict[str, str] = {}
        spi_units = set()
        for wire in (w for w in t.wires if w.board_pins):
            role, label = wire.a[1], wire.board_pins[board]
            facts = t.boards[board].get(label)
            if facts is None:
                yield f"{board}: there is no pin {label} for {role}."
                continue
            if facts.kind != power.get(role, "gpio"):
                yield f"{board}: {label} cannot be {role} ({facts.kind})."
            if facts.avoid:
                yield f"{board}: {label} must not be used for {role}: {facts.avoid}."
            if used.setdefault(label, role) != role:
                yield f"{board}: {label} serves both {used[label]} and {role}."
            if role in ("SCK", "MOSI", "MISO") and facts.spi != "any":
                unit, _, function = facts.spi.partition(" ")
                spi_units.add(unit)
                if function != role:
                    yield f"{board}: {label} is {facts.spi}, not {role}."
        if len(spi_units) > 1:
            yield f"{board}: SCK, MOSI and MISO must be on one SPI unit."


def net_volts(t: Tables) -> dict[str, float]:
    """Net -> highest supply voltage that can reach it, straight or through a resistive part."""
    volts: dict[str, float] = {}
    for pin, facts in t.pins.items():
        net = t.net_of(pin)
        if net and facts.kind in ("power_out", "output") and facts.supply_v:
            volts[net] = max(volts.get(net, 0.0), facts.supply_v)
    grounds = t.nodes_of("ground")
    changed = True
    while changed:
        changed = False
        for ref in t.parts:
            ends = [t.net_of(p) for p in t.pins if p[0] == ref]
            if ref[0] not in RESISTIVE or len(ends) != 2 or set(ends) & {None, *grounds}:
                continue
            for a, b in (ends, ends[::-1]):
                if volts.get(str(a), 0.0) > volts.get(str(b), 0.0):
                    volts[str(b)] = volts[str(a)]
                    changed = True
    return volts


def supplies_and_levels(t: Tables) -> Iterator[str]:
    """Supplies within limits and not joined; no pin above its limit; grounds grounded."""
    volts = net_volts(t)
    for net, members in t.nodes.items():
        sources = [p for p in sorted(members) if p in t.pins and t.pins[p].kind == "power_out"]
        if len(sources) > 1:
            yield f"Net {net} joins supplies: {', '.join(map(_name, sources))}."
        kinds = {t.pins[p].kind for p in members if p in t.pins}
        if "ground" in kinds and kinds & {"power_out", "power_in"}:
            yield f"Net {net} shorts a supply to ground."
    if len(grounds := t.nodes_of("ground")) > 1:
        yield f"The ground pins are in different nets: {', '.join(sorted(grounds))}."
    for pin, facts in t.pins.items():
        at = volts.get(str(t.net_of(pin)), 0.0)
        if facts.max_v is not None and at > facts.max_v:
            yield (f"{_name(pin)} would see {at:.1f} V but stands {facts.max_v:.1f} V at most.")
        if facts.kind == "power_in" and facts.min_v is not None and at < facts.min_v:
            yield f"{_name(pin)} gets {at:.1f} V but needs at least {facts.min_v:.1f} V."


def drivers(t: Tables) -> Iterator[str]:
    """Each signal has one driver, and each input something that drives or pulls it."""
    for net, members in t.nodes.items():
        kinds = {p: t.pins[p].kind for p in members if p in t.pins}
        outputs = sorted(p for p, kind in kinds.items() if kind == "output")
        inputs = sorted(p for p, kind in kinds.items() if kind == "input")
        others = [p for p in kinds if t.pins[p].kind == "open_drain" or p[0].startswith("S")]
        if len(outputs) > 1:
            yield f"Net {net} has two drivers: {', '.join(map(_name, outputs))}."
        if inputs and not outputs and not others:
            yield f"Nothing drives {_name(inputs[0])} in net {net}."


def pull_ups(t: Tables) -> Iterator[str]:
    """Pins that need an outside pull-up have one to a 3.3 V supply, of a sensible size."""
    low, high = PULL_UP_OHM
    rails = t.nodes_of("power_out", V_GPIO_HIGH)
    for pin, facts in t.pins.items():
        net = t.net_of(pin)
        if facts.pull_up != "external" or net is None:
            continue
        found = [r for rail in rails for r in t.between(net, rail, "R")]
        if not found:
            yield f"{_name(pin)} has no pull-up resistor to 3.3 V."
        for part in found:
            if not low <= _number(part, "resistance_ohm") <= high:
                yield f"Pull-up {part.ref} of {_name(pin)} is not 1 to 100 kilohm."


def decoupling(t: Tables) -> Iterator[str]:
    """Pins that ask for a capacitor to ground have at least that much."""
    ground = min(t.nodes_of("ground"), default=None)
    for pin, facts in t.pins.items():
        if facts.decouple_nf is None or t.net_of(pin) is None:
            continue
        capacitors = t.between(t.net_of(pin), ground, "C")
        total = sum(_number(part, "capacitance_nf") for part in capacitors)
        if total < facts.decouple_nf:
            yield (f"{_name(pin)} has {total:g} nF to ground but needs {facts.decouple_nf:g} nF.")


def probe_input(t: Tables) -> Iterator[str]:
    """The probe is the right way round, filtered, and touches nothing else."""
    nets = t.nodes
    plus, minus = t.nodes_of("probe_plus"), t.nodes_of("probe_minus")
    if len(plus) != 1 or len(minus) != 1 or plus == minus:
        where = ", ".join(sorted(plus | minus))
        yield f"The probe is not joined plus to T+ and minus to T- (nets: {where})."
        return
    strange = sorted(
        pin
        for net in plus | minus
        for pin in nets.get(net, set()) & set(t.pins)
        if not t.pins[pin].kind.startswith("probe") and pin[0][0] != "C"
    )
    if strange:
        yield (
            f"The probe input touches {', '.join(map(_name, strange))}: the junction must float."
        )
    low, high = FILTER_NF
    size = sum(_number(c, "capacitance_nf") for c in t.between(plus.pop(), minus.pop(), "C"))
    if not low <= size <= high:
        yield (
            f"The probe input needs {low:g} to {high:g} nF across T+ and T- (10 nF); "
            f"it has {size:g} nF."
        )


def _drop_v(t: Tables, net: str) -> float:
    """Voltage that a base or a light takes between a net and ground."""
    drop = 0.0
    for pin in t.nodes[net] & set(t.pins):
        if t.pins[pin].kind == "base":
            drop = max(drop, V_BASE_EMITTER)
        if t.pins[pin].kind == "anode" and pin[0] in t.parts:
            drop = max(drop, _number(t.parts[pin[0]], "forward_v"))
    return drop


def pin_loads_ma(t: Tables) -> dict[Pin, float]:
    """Board output -> current in mA that it sources while high.

    Counts each resistor or coil from the output's net to anywhere but a supply. A base or a
    light straight on the pin has nothing to limit its current, which then counts as infinite.
    """
    loads: dict[Pin, float] = {}
    supplies = t.nodes_of("power_out")
    for pin, facts in t.pins.items():
        net = t.net_of(pin)
        if pin[0] != BOARD or facts.kind != "output" or net is None:
            continue
        if any(t.pins[p].kind in ("base", "anode") for p in t.nodes[net] & set(t.pins)):
            loads[pin] = float("inf")
            continue
        for ref, part in t.parts.items():
            ohm = _number(part, "resistance_ohm") or _number(part, "coil_ohm")
            ends = [t.net_of(p) for p in t.pins if p[0] == ref]
            if not ohm or ends.count(net) != 1:
                continue
            far = ends[1 - ends.index(net)]
            if far is not None and far not in supplies:
                current = 1000.0 * (V_GPIO_HIGH - _drop_v(t, far)) / ohm
                loads[pin] = loads.get(pin, 0.0) + current
    return loads


def pin_currents(t: Tables) -> Iterator[str]:
    """No board pin sources more than its rating, nor all together more than the chip's."""
    loads = pin_loads_ma(t)
    for pin, load_ma in loads.items():
        limit = t.pins[pin].max_ma
        if limit is not None and load_ma > limit:
            yield (
                f"{_name(pin)} would source {load_ma:.1f} mA but is rated {limit:.1f} mA: "
                "use a resistor or a transistor."
            )
    if sum(loads.values()) > PIN_CURRENT_TOTAL_MA:
        yield f"All pins together source more than {PIN_CURRENT_TOTAL_MA:g} mA."


def beeper(t: Tables) -> Iterator[str]:
    """Transistor on the low side, enough base current, pull-down, flyback diode the right way."""
    missing = sorted({"B1", "D1", "Q1"} - set(t.parts))
    if missing:
        yield from (f"parts.csv has no {ref}, which the beeper needs." for ref in missing)
        return
    plus, minus = t.net_of(("B1", "+")), t.net_of(("B1", "-"))
    base, collector, emitter = (t.net_of(("Q1", x)) for x in "BCE")
    ground = t.net_of((BOARD, "GND2"))
    q1 = t.parts["Q1"]
    coil_ma = _coil_ma(t)
    if minus != collector or emitter != ground:
        yield "The beeper's minus goes to Q1.C and Q1.E to ground; it is not so."
    if (t.net_of(("D1", "K")), t.net_of(("D1", "A"))) != (plus, minus):
        yield "Flyback diode D1 must lie across the beeper, ring (K) to plus."
    if _number(t.parts["D1"], "forward_max_ma") < coil_ma:
        yield f"D1 carries less than the coil's {coil_ma:.0f} mA."
    if _number(q1, "collector_max_ma") < coil_ma:
        yield f"Q1 carries less than the coil's {coil_ma:.0f} mA."
    if not t.between(base, ground, "R"):
        yield "Q1.B has no pull-down: the beeper may sound while the board starts."
    base_ma = pin_loads_ma(t).get((BOARD, "BEEPER"), 0.0)
    if base_ma * _number(q1, "gain_min") < OVERDRIVE_MIN * coil_ma:
        yield (
            f"Q1 gets {base_ma:.1f} mA of base current, too little for the coil's "
            f"{coil_ma:.0f} mA."
        )


def _coil_ma(t: Tables) -> float:
    """The most that the beeper's coil takes, in mA."""
    b1 = t.parts["B1"]
    ohm = _number(b1, "coil_ohm") * (1.0 - _number(b1, "coil_tolerance_pct") / 100.0)
    return 1000.0 * V_USB_MAX / ohm


def fuse_and_buffer(t: Tables) -> Iterator[str]:
    """5 V goes through a fuse that bears the coil and trips before the port does; the buffer
    feeds a whole pulse of the lowest tone."""
    if {"B1", "C3", "F1"} - set(t.parts):
        yield "parts.csv must have B1, C3 and F1: coil, buffer and fuse."
        return
    supply, fused = t.net_of((BOARD, "5V")), t.net_of(("B1", "+"))
    others = sorted(t.nodes.get(str(supply), set()) - {(BOARD, "5V"), ("F1", "1"), ("F1", "2")})
    if others or not t.between(supply, fused, "F"):
        yield "Everything on 5 V must be behind the fuse F1; it is not so."
    coil_ma, hold_ma = _coil_ma(t), _number(t.parts["F1"], "hold_ma")
    trip_ma, port_ma = _number(t.parts["F1"], "trip_ma"), t.pins[(BOARD, "5V")].max_ma or 0.0
    if hold_ma < coil_ma:
        yield f"F1 holds {hold_ma:.0f} mA, less than the coil's {coil_ma:.0f} mA."
    if trip_ma > port_ma:
        yield f"F1 trips at {trip_ma:.0f} mA, and {BOARD}.5V gives only {port_ma:.0f} mA."
    # mA over half a period in s, out of nF: volts
    droop_v = coil_ma / (2 * LOWEST_TONE_HZ) / _number(t.parts["C3"], "capacitance_nf") * 1e6
    if droop_v > DROOP_MAX_V:
        yield f"The beeper's supply droops by {droop_v:.1f} V in a pulse: C3 is too small."


def light_and_button(t: Tables) -> Iterator[str]:
    """The light has its resistor and faces the right way; the button closes to ground."""
    ground = t.net_of((BOARD, "GND2"))
    if t.net_of(("D2", "K")) != ground:
        yield "The light D2 must have its flat side (K) at ground."
    if not t.between(t.net_of((BOARD, "LIGHT")), t.net_of(("D2", "A")), "R"):
        yield "The light D2 has no series resistor."
    if {t.net_of(("S1", "1")), t.net_of(("S1", "2"))} != {t.net_of((BOARD, "BUTTON")), ground}:
        yield "The button S1 must close BUTTON to ground."


RULES: tuple[Callable[[Tables], Iterator[str]], ...] = (
    each_pin_once,
    nets_in_one_piece,
    board_pins_suit,
    supplies_and_levels,
    drivers,
    pull_ups,
    decoupling,
    probe_input,
    pin_currents,
    beeper,
    fuse_and_buffer,
    light_and_button,
)


def check(tables: Tables) -> list[str]:
    """All errors as sentences; an empty list means that the wiring keeps every rule."""
    return [sentence for rule in RULES for sentence in rule(tables)]


def main() -> int:
    """Print the errors of the stored wiring; exit code 1 if there are any."""
    try:
        tables = load()
    except WiringFileError as error:
        print(error)
        return 1
    errors = check(tables)
    for sentence in errors:
        print(sentence)
    if not errors:
        print(
            f"{len(tables.wires)} wires, {len(tables.pins)} pins, {len(RULES)} rules: no errors."
        )
    return 1 if errors else 0


if __name__ == "__main__":
    sys.exit(main())
