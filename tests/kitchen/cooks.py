"""People at the rough bench: they stir now and then, wipe, lift, forget, use a water bath."""

import random
from collections.abc import Iterator

from snapcurve.simulation.bowl_simulator import Bowl
from snapcurve.simulation.person import HOLD_S, Person, Plan, finish, melt, seed, work

from .bench import RoughProbe
from .conditions import Rough

BATH_C = (52.0, 62.0)
BATH_W_PER_K = 18.0  # for a kilogram
BATH_MAX_S = 3600.0
OFF_BATH_S = 25.0
LONG_AWAY_S = (60.0, 300.0)
STIRS_S, RESTS_S = (10.0, 30.0), (20.0, 120.0)
DIP_PER_S = 1 / 90


class Cook(Person):
    """A person whose kitchen is ``own``."""

    def __init__(self, bowl: Bowl, probe: RoughProbe, own: Rough, chance: random.Random):
        super().__init__(bowl, probe, own, chance)  # type: ignore[arg-type]
        self.own = own
        self.rough = probe
        self.pieces_c = own.pieces_c

    def burst(self, seconds: float) -> Plan:
        """As everybody does, for as long as this bowl needs, perhaps wiping the probe."""
        wiped = self.random.random() < self.own.wipes
        self.rough.in_hand = wiped
        yield from super().burst(seconds * self.own.scale)
        self.rough.in_hand = False

    def hot_air(self, seconds: float) -> Plan:
        """The gun, as long as this bowl needs."""
        yield from super().hot_air(seconds * self.own.scale)

    def lift(self) -> Plan:
        """Out for a moment, and back."""
        self.probe_out()
        yield from self.wait(self.random.uniform(1.0, 6.0))
        self.probe_in()


def melt_over_bath(cook: Cook) -> Plan:
    """Over hot water, off it for a while at "near"."""
    cook.probe_in()
    cook.rough.over_bath = True
    bath_c = cook.random.uniform(*BATH_C)
    watts_per_k = BATH_W_PER_K * (cook.own.mass_g / 1000.0) ** (2 / 3)
    end_s = cook.now_s + BATH_MAX_S
    off_until_s = 0.0
    cook.bowl.stirring = True
    while cook.now_s < end_s and not cook.has_heard("reached"):
        if cook.has_heard("near"):
            off_until_s = cook.now_s + OFF_BATH_S
        on = cook.now_s >= off_until_s
        cook.bowl.heat_w = watts_per_k * (bath_c - cook.bowl.liquid_c) if on else 0.0
        yield
    yield from cook.wait(cook.own.reaction_s)
    cook.bowl.heat_w = 0.0
    cook.rough.over_bath = False


def busy(cook: Cook, plan: Plan, rests: bool = True) -> Iterator[None]:
    """``plan``, with the stirring and the accidents of a working kitchen beside it."""
    chance = cook.random
    until_s = cook.now_s
    for step in plan:
        if rests and cook.now_s >= until_s:
            cook.bowl.stirring = not cook.bowl.stirring
            until_s = cook.now_s + chance.uniform(*(STIRS_S if cook.bowl.stirring else RESTS_S))
        if cook.rough.inside and chance.random() < cook.own.dips * DIP_PER_S / 4:
            yield from cook.lift()
        elif cook.rough.inside and chance.random() < cook.own.distraction / 4 / 1500:
            cook.say("puts the probe down and is called away")
            cook.probe_out()
            yield from cook.wait(chance.uniform(*LONG_AWAY_S))
            cook.probe_in()
        yield step


def batch(cook: Cook, hold_s: float = HOLD_S) -> Plan:
    """A whole batch by seeding."""
    yield from melt_over_bath(cook) if cook.own.bath else melt(cook)
    yield from cook.wait(10)
    cook.bowl.stirring = True
    yield from busy(cook, seed(cook), rests=False)
    yield from busy(cook, work(cook, hold_s))
    yield from finish(cook)
