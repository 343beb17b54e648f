"""The rehearsal's person with a plan in hand: its grams and bursts, by what the probe reads.

The person knows the plan, the reading and the sounds; the bowl keeps its own physics, which the
plan does not know. What the plan leaves open is common practice, as in `person`.
"""

from snapcurve.advice.batch_plan import Plan as Planned
from snapcurve.advice.batch_plan import plan
from snapcurve.advice.inputs import PlanRequest, temperatures_of, thermal_of, usual_bowl
from snapcurve.advice.plan_words import more_burst_s
from snapcurve.couvertures import Couverture
from snapcurve.simulation.bowl_simulator import Conditions
from snapcurve.simulation.person import NEAR_BURST_S, Person, Plan, melt

STIR_IN_S = 90.0
LONGEST_WAIT_S = 2700.0
MORE_ROUNDS = 3


def planned_for(couverture: Couverture, method: str, conditions: Conditions) -> Planned:
    """What `snapcurve plan` says for this bench. SnapcurveError as there."""
    mass_g = conditions.mass_g
    return plan(
        PlanRequest(
            temperatures=temperatures_of(couverture),
            thermal=thermal_of(couverture),
            mass_g=mass_g,
            room_c=conditions.room_c,
            bowl=usual_bowl("plastic", mass_g),
            method=method,
            microwave_w=conditions.microwave_w,
        )
    )


def melt_by(person: Person, planned: Planned) -> Plan:
    """The bursts of the plan; those are left out that the reading has already made good."""
    bursts = [burst for burst in planned.bursts if burst.tool == "microwave"]

    def next_burst_s(person: Person, near: bool) -> float:
        while bursts and person.reads_c >= bursts[0].reads_c:
            bursts.pop(0)
        length_s = bursts.pop(0).seconds if bursts else more_burst_s(planned)
        return min(length_s, NEAR_BURST_S) if near else length_s

    grams = person.style.mass(planned.melt_first_g)
    yield from melt(person, f"weighs {grams} into the bowl as planned", next_burst_s)


def seed_by(person: Person, planned: Planned, work_high_c: float) -> Plan:
    """The handfuls of the plan, each at its reading; then stirs on until it sounds."""
    style = person.style
    for number, handful in enumerate(planned.handfuls, 1):
        yield from _stirred_to(person, handful.at_c)
        if person.reads_c <= work_high_c or person.has_heard("reached"):
            break
        if number > 1 and person.reads_c < handful.leave_out_below_c:
            person.say(
                f"leaves handful {number} out: it reads {style.temperature(person.reads_c)}"
            )
            continue
        person.say(
            f"handful {number} of {style.mass(handful.grams)} at "
            f"{style.temperature(person.reads_c)}, stirring"
        )
        person.bowl.add_pieces(handful.grams, person.pieces_c)
        yield from person.wait_for(("reached",), STIR_IN_S)
    for _ in range(MORE_ROUNDS):
        if person.has_heard("near"):
            person.say("hears: nearly there; no more pieces, stirs on")
        if person.has_heard("reached"):
            person.say("hears: in the working window")
            return
        yield from person.wait_for(("near", "reached"), LONGEST_WAIT_S / MORE_ROUNDS)
    person.say("waits no longer: it is not in the window")


def _stirred_to(person: Person, reads_c: float) -> Plan:
    end_s = person.now_s + LONGEST_WAIT_S
    while person.reads_c > reads_c and person.now_s < end_s:
        yield from person.wait(1)
