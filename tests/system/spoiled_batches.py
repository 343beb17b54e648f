"""Batches that go wrong on the simulator, recorded by the real firmware."""

from collections.abc import Callable

from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.recording.curve import Curve, decode
from snapcurve.simulation import person as plans
from snapcurve.simulation.bowl_simulator import USUAL, Conditions
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.person import Person, Plan
from snapcurve.simulation.rehearsal import Rehearsal


def overheated(person: Person) -> Plan:
    yield from plans.melt(person)
    yield from person.burst(45)
    yield from person.wait(30)
    yield from plans.seed(person)
    yield from plans.work(person, 330)
    yield from plans.finish(person)


def never_melted(person: Person) -> Plan:
    person.probe_in()
    person.bowl.stirring = True
    yield from person.wait(8)
    for _ in range(5):
        yield from person.burst(25)
    yield from person.wait(200)
    yield from person.press()
    yield from person.wait(330)
    yield from plans.finish(person)


def came_down_fast(person: Person) -> Plan:
    yield from plans.melt(person)
    yield from person.wait(20)
    person.bowl.cool_w_per_k = 14 * plans.SLAB_W_PER_K
    while person.bowl.liquid_c > 26:
        yield
    person.bowl.cool_w_per_k = 0.0
    yield from person.wait(60)
    for _ in range(12):
        yield from person.hot_air(10)
        yield from person.wait(10)
        if person.bowl.liquid_c > 31:
            break
    yield from person.press()  # silences; then the mark
    yield from person.press()
    yield from person.wait(320)
    yield from plans.finish(person)


def held_too_warm(person: Person) -> Plan:
    yield from plans.melt(person)
    yield from person.wait(10)
    yield from plans.seed(person)
    yield from plans.work(person, 320)
    while person.bowl.liquid_c < 36:
        yield from person.hot_air(10)
    yield from person.wait(400)
    yield from plans.finish(person)


def fault_while_working(person: Person) -> Plan:
    yield from plans.melt(person)
    yield from person.wait(10)
    yield from plans.seed(person)
    yield from person.wait(60)
    person.probe._fault_left_s = 300.0
    yield from person.wait(400)
    yield from plans.finish(person)


def as_it_should_be(person: Person) -> Plan:
    yield from plans.melt(person)
    yield from person.wait(10)
    yield from plans.seed(person)
    yield from plans.work(person, 420)
    yield from plans.finish(person)


def recorded(
    plan: Callable[[Person], Plan],
    number: int = 1,
    couverture: str = "milk",
    conditions: Conditions = USUAL,
) -> tuple[Curve, Rehearsal]:
    """The curve of a batch by ``plan``, and the world that knows the truth about it."""
    chosen = load(couverture, user_folder())
    world = Rehearsal(chosen, "seeding", number, 0.0, conditions)
    world._plan = plan(world.person)
    with desk_run(world, compile_profile(chosen, "seeding"), "max") as running:
        running.run()
        ((_, raw),) = running.collect()
    return decode(raw), world
