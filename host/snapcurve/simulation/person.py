"""The person who works at the simulated bowl: hands, ears, and a plan for each method.

A plan is a generator that uses the hands and yields once for each step of time; it knows
of the chocolate only what the board's sounds and the person's own eyes tell. Its lengths and
shares are common practice, no source: a burst shortens as the melt nears its temperature, a
quarter to a third of the total goes in as seed, by handfuls.
"""

import random
from collections.abc import Callable, Iterator

from snapcurve.couvertures import Couverture
from snapcurve.couvertures.methods import named
from snapcurve.shown.units import PLAIN
from snapcurve.simulation.bowl_simulator import (
    HOT_AIR_W,
    MICROWAVE_SHARE,
    SLAB_W_PER_K,
    Bowl,
    Conditions,
    Probe,
)

END_PRESS_S = 3.0  # a press long enough to end a recording
BURSTS_MAX = 40
NEAR_BURST_S = 8.0  # once it has sounded that it is nearly there
HANDFULS_MAX = 20
HOLD_S = 15 * 60.0
LISTEN_S = 5.0
PUT_DOWN_PER_S = 1 / 120
HOT_AIR_S = 10.0
HOT_AIRS_MAX = 8

STONE_W_PER_K = 3.0  # the bowl on a cold stone
CRYSTAL_SHARE = 0.01
COLD = {
    "slab": "spreads the chocolate on the cool slab, working it",
    "cold-bath": "sets the bowl into cold water, stirring and scraping its wall",
}

Plan = Iterator[None]
Tell = Callable[[float, str], None]


class Person:
    """Hands and ears. ``tell`` is given the time in seconds and what the person does."""

    def __init__(self, bowl: Bowl, probe: Probe, conditions: Conditions, chance: random.Random):
        self.bowl = bowl
        self.probe = probe
        self.conditions = conditions
        self.random = chance
        self.now_s = 0.0
        self.button = False
        self.heard: list[str] = []
        self.reads_c = bowl.room_c  # what stands on the screen
        self.tell: Tell = lambda seconds, text: None
        self.style = PLAIN  # how quantities are shown
        self.pieces_c = bowl.room_c  # of the pieces that lie ready

    def say(self, text: str) -> None:
        """Note what is being done."""
        self.tell(self.now_s, text)

    def wait(self, seconds: float) -> Plan:
        """Let time pass."""
        end_s = self.now_s + seconds
        while self.now_s < end_s - 1e-9:
            yield

    def wait_for(self, alarms: tuple[str, ...], seconds: float) -> Plan:
        """Listen until one of ``alarms`` sounds, at most ``seconds``."""
        end_s = self.now_s + seconds
        while self.now_s < end_s and not any(alarm in self.heard for alarm in alarms):
            yield
        yield from self.wait(self.conditions.reaction_s)

    def has_heard(self, alarm: str) -> bool:
        """Whether ``alarm`` has sounded since it was last taken note of; takes note."""
        if alarm in self.heard:
            self.heard.remove(alarm)
            return True
        return False

    def forget(self, alarm: str) -> None:
        """What was heard of ``alarm`` before does not count any more."""
        while alarm in self.heard:
            self.heard.remove(alarm)

    def probe_in(self) -> None:
        """Put the probe into the chocolate."""
        self.probe.inside = True

    def probe_out(self) -> None:
        """Take the probe out; always before the microwave."""
        self.probe.inside = False

    def press(self, seconds: float = 0.25) -> Plan:
        """Press the button."""
        self.button = True
        yield from self.wait(seconds)
        self.button = False
        yield from self.wait(0.25)

    def burst(self, seconds: float) -> Plan:
        """Probe out, bowl into the microwave, back, stir, probe in."""
        self.probe_out()
        yield from self.wait(4)
        self.bowl.stirring = False
        self.bowl.heat_w = self.conditions.microwave_w * MICROWAVE_SHARE
        yield from self.wait(seconds)
        self.bowl.heat_w = 0.0
        yield from self.wait(4)
        self.bowl.stirring = True
        self.probe_in()
        yield from self.wait(self.random.uniform(18, 30))

    def hot_air(self, seconds: float) -> Plan:
        """Warm the bowl with the hot-air gun while stirring."""
        self.bowl.heat_w = HOT_AIR_W
        yield from self.wait(seconds)
        self.bowl.heat_w = 0.0


def by_eye_s(person: "Person", near: bool) -> float:
    """How long the next burst is: until half has melted the eye sees more than the probe; then
    bursts get short."""
    solid_share = person.bowl.unmelted_g() / (person.bowl.liquid_g + person.bowl.pieces_g)
    return NEAR_BURST_S if near else 30.0 if solid_share > 0.5 else 15.0


def melt(
    person: Person,
    weighs: str = "weighs the pieces into the bowl",
    next_burst_s: Callable[[Person, bool], float] = by_eye_s,
) -> Plan:
    """Microwave bursts, stirring between them, until the board says it is all melted.

    ``next_burst_s`` says how long the next burst is, given whether it has sounded that it is
    nearly there.
    """
    person.say(f"{weighs}, and puts the probe in")
    person.probe_in()
    person.bowl.stirring = True
    yield from person.wait(8)
    near = False
    for number in range(1, BURSTS_MAX + 1):
        length_s = next_burst_s(person, near)
        person.say(f"probe out, burst {number} of {length_s:.0f} s, stirs, probe back in")
        yield from person.burst(length_s)
        near = near or person.has_heard("near")
        if person.has_heard("reached"):
            person.say("hears: melted through; no more heat")
            return
    person.say("gives up melting: the microwave is too weak for this bowl")


def seed(person: Person) -> Plan:
    """Stir pieces in by handfuls until the board says the window is near, then stir on."""
    total_g = person.bowl.liquid_g + person.bowl.pieces_g
    handful_g = total_g * person.conditions.handful_share
    for number in range(1, HANDFULS_MAX + 1):
        person.say(f"handful {number} of seed: {person.style.mass(handful_g)}, stirring")
        person.bowl.add_pieces(handful_g, person.pieces_c)
        yield from person.wait_for(("near", "reached"), person.random.uniform(35, 60))
        if person.has_heard("near"):
            person.say("hears: nearly there; no more pieces, stirs on")
            yield from person.wait_for(("reached",), 90)
        if person.has_heard("reached"):
            person.say("hears: in the working window")
            return
    person.say("has no seed left and is not in the window")


def cool_and_rewarm(person: Person, where: str) -> Plan:
    """In the cold down to the low point, wait there, then warm into the window."""
    person.say(where)
    person.bowl.cool_w_per_k = SLAB_W_PER_K
    yield from person.wait_for(("near",), 1800)
    person.say("hears: nearly there; out of the cold, stirs on")
    person.bowl.cool_w_per_k = SLAB_W_PER_K / 6
    yield from person.wait_for(("reached",), 600)
    person.bowl.cool_w_per_k = 0.0
    person.heard.clear()
    person.say("hears: the low point; stirs and waits for crystals")
    yield from person.wait_for(("dwell_done",), 300)
    person.heard.clear()
    person.say("hears: held long enough; warms gently")
    while "reached" not in person.heard:
        yield from person.hot_air(5 if "near" in person.heard else 10)
        yield from person.wait_for(("reached",), 12)
    person.heard.clear()
    person.say("hears: in the working window")


def crystal_seed(person: Person) -> Plan:
    """Stir it down to where powdered crystals bear it, dust them in, stir on into the window."""
    person.say("stirs it down, the bowl on a cold stone")
    person.bowl.cool_w_per_k = STONE_W_PER_K
    yield from person.wait_for(("reached",), 2400)
    person.heard.clear()
    crystals_g = CRYSTAL_SHARE * (person.bowl.liquid_g + person.bowl.pieces_g)
    person.say(f"hears: there; dusts in {person.style.mass(crystals_g)} of powdered crystals")
    person.bowl.add_pieces(crystals_g, person.bowl.room_c)
    yield from person.wait_for(("near", "reached"), 1800)
    person.bowl.cool_w_per_k = 0.0
    yield from person.wait_for(("reached",), 1200)
    person.heard.clear()
    person.say("hears: in the working window")


def cool_into_window(person: Person) -> Plan:
    """Stir it down into the window; nothing else is to be done to a coating."""
    person.say("stirs it down")
    yield from person.wait_for(("reached",), 2400)
    person.heard.clear()
    person.say("hears: in the working window")


def work(person: Person, length_s: float = HOLD_S, blade: bool = True) -> Plan:
    """Dip test (no ``blade``: none), then keep the window with both hands busy."""
    person.heard.clear()
    yield from person.wait(20)
    if blade:
        person.say("dips a blade, lays it aside and presses the button")
        yield from person.press()
    end_s = person.now_s + length_s
    while person.now_s < end_s:
        yield from person.wait(1)
        if person.has_heard("test_early"):
            person.say("looks at the blade after 3 minutes: not set yet, as it should be")
        if person.has_heard("test_due"):
            # While the sound lasts a press would only silence it.
            yield from person.wait(LISTEN_S)
            yield from _back_into_window(person)
            person.say("touches the blade after 5 minutes: set, no finger mark; presses once")
            yield from person.press()
        yield from _back_into_window(person)
        if person.random.random() < person.conditions.distraction * PUT_DOWN_PER_S:
            yield from _put_down(person)


def _back_into_window(person: Person) -> Plan:
    """Answer what sounds about the window; a press meanwhile would only silence it."""
    if person.has_heard("too_cool"):
        yield from _warm_up(person)
        yield from person.wait(1)
    if person.has_heard("too_warm"):
        yield from _cool_down(person)
        yield from person.wait(1)


def _late(person: Person) -> Plan:
    """A distracted person lets a sound wait."""
    if person.random.random() < person.conditions.distraction:
        yield from person.wait(person.random.uniform(10, 70))


def _warm_up(person: Person) -> Plan:
    yield from _late(person)
    person.say("hears: too cool; hot air over the bowl, stirring, until it is back")
    yield from person.press()
    person.forget("back")
    for _ in range(HOT_AIRS_MAX):
        overdone = person.random.random() < 0.5 * person.conditions.distraction
        yield from person.hot_air(HOT_AIR_S * (3 if overdone else 1))
        yield from person.wait_for(("back", "too_warm"), 20)
        if person.has_heard("back") or "too_warm" in person.heard:
            return


def _cool_down(person: Person) -> Plan:
    yield from _late(person)
    person.say("hears: too warm; stirs a few more pieces in")
    yield from person.press()
    person.forget("back")
    person.bowl.add_pieces(0.015 * person.conditions.mass_g, person.pieces_c)
    yield from person.wait_for(("back",), 60)


def _put_down(person: Person) -> Plan:
    person.say("puts the probe down to fill a mould")
    person.probe_out()
    yield from person.wait(person.random.uniform(15, 60))
    person.say("puts it back in")
    person.probe_in()
    yield from person.wait(5)


def finish(person: Person) -> Plan:
    """Probe out, wiped, recording ended."""
    person.say("takes the probe out, wipes it and holds the button to end the recording")
    person.probe_out()
    yield from person.wait(5)
    yield from person.press(END_PRESS_S)
    yield from person.wait(2)


def plan_for(
    person: Person,
    couverture: Couverture,
    method: str,
    hold_s: float,
    melted: Plan | None = None,
    seeded: Plan | None = None,
) -> Plan:
    """The whole batch by ``method``; ``melted`` and ``seeded`` are how the person does these, as
    here if None."""
    if method == "hold":
        person.say("puts the probe into chocolate that was tempered before")
        person.probe_in()
        person.bowl.stirring = True
        yield from person.wait(30)
    else:
        yield from melted or melt(person)
        yield from person.wait(10)
        if method == "seeding":
            yield from seeded or seed(person)
        elif method == "crystal-seed":
            yield from crystal_seed(person)
        elif method == "coating":
            yield from cool_into_window(person)
        else:
            yield from cool_and_rewarm(person, COLD[named(method)])
    yield from work(person, hold_s, blade=method != "coating")
    yield from finish(person)
