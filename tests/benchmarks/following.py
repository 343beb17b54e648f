"""Hands that follow a plan or a correction on the simulator, by the probe's reading.

The bench keeps its own physics (snapcurve.simulation.matter) and its own numbers, drawn
around the usual ones; plan and correction know the usual ones only, and what a person can
weigh and read.
"""

import random
from dataclasses import dataclass

from snapcurve.advice.batch_plan import Plan
from snapcurve.advice.inputs import PlanRequest, WorkingTemperatures, temperatures_of
from snapcurve.advice.plan_words import more_burst_s
from snapcurve.advice.situation import Action, Situation
from snapcurve.couvertures import load, user_folder
from snapcurve.heat.bowl import bowl_of
from snapcurve.heat.constants import (
    BOWL_MATERIALS,
    HANDFUL_STIR_S,
    MELT_REST_MIN,
    MELTED_STIR_S,
    PIECES_STIR_S,
    STIR_AFTER_BURST_S,
    TOUCH_STIR_S,
    USUAL_BOWL_G_AT_1_KG,
)
from snapcurve.heat.enthalpy import couverture_thermal
from snapcurve.simulation.bowl_simulator import STEP_S, Bowl
from snapcurve.simulation.matter import EARLIER_K, LATENT_J_PER_G, Matter, moved

KINDS = ("dark", "milk", "white")
LONGEST_WAIT_S = 45 * 60.0
STONE_W_PER_K = 3.0  # the bowl on a cold stone


@dataclass(frozen=True)
class Truth:
    """One bench: what a person can weigh and read, and what nobody knows of it."""

    temperatures: WorkingTemperatures
    kind: str
    mass_g: float
    room_c: float
    material: str
    bowl_g: float
    microwave_w: float
    # Known to the bench only.
    matter: Matter
    bowl_j_per_k: float
    loss_w_per_k: float
    coupling: float
    hot_air_w: float
    probe_off_c: float

    def request(self) -> PlanRequest:
        """What the person asks for."""
        return PlanRequest(
            temperatures=self.temperatures,
            thermal=couverture_thermal(self.kind),
            mass_g=self.mass_g,
            room_c=self.room_c,
            bowl=bowl_of(self.material, self.bowl_g),
            microwave_w=self.microwave_w,
        )

    def situation(self, reading_c: float, mass_g: float) -> Situation:
        """What the person says of a bowl that came out wrong."""
        return Situation(
            temperatures=self.temperatures,
            thermal=couverture_thermal(self.kind),
            temperature_c=reading_c,
            mass_g=mass_g,
            room_c=self.room_c,
            bowl=bowl_of(self.material, self.bowl_g),
        )


def drawn(number: int) -> Truth:
    """Bench `number`: usual values and how far one is off from them (chosen here)."""
    chance = random.Random(f"bowl {number}")
    kind = KINDS[number % len(KINDS)]
    mass_g = 5.0 * round(400.0 * 10 ** chance.uniform(0.0, 1.0) / 5.0)
    surface = (mass_g / 1000.0) ** (2.0 / 3.0)
    material = chance.choice([name for name, (_, safe) in BOWL_MATERIALS.items() if safe])
    bowl_g = USUAL_BOWL_G_AT_1_KG[material] * surface * chance.uniform(0.6, 1.4)
    specific_heat = BOWL_MATERIALS[material][0]
    return Truth(
        temperatures=temperatures_of(load(kind, user_folder())),
        kind=kind,
        mass_g=mass_g,
        room_c=chance.uniform(17.0, 25.0),
        material=material,
        bowl_g=bowl_g,
        microwave_w=chance.choice([600.0, 700.0, 800.0, 900.0, 1000.0]),
        matter=Matter(
            LATENT_J_PER_G[kind] * chance.uniform(0.93, 1.07),
            1.59 * chance.uniform(0.97, 1.03),
            1.67 * chance.uniform(0.97, 1.03),
            moved(chance.uniform(-0.5, 0.5) - EARLIER_K[kind]),
        ),
        bowl_j_per_k=bowl_g * specific_heat * chance.uniform(0.9, 1.1) * chance.uniform(0.5, 0.9),
        loss_w_per_k=surface * chance.uniform(0.6, 1.5),
        coupling=chance.uniform(0.55, 0.85),
        hot_air_w=200.0 * surface * chance.uniform(0.5, 1.3),
        probe_off_c=chance.uniform(-0.1, 0.1),
    )


class Hands:
    """One bowl on one bench, in virtual time."""

    def __init__(self, truth: Truth, bowl: Bowl) -> None:
        self.truth = truth
        self.bowl = bowl
        self.bowl.stirring = True
        self.seconds = 0.0

    def reading_c(self) -> float:
        """What a good probe shows: a little off, in tenths."""
        return round(self.bowl.liquid_c + self.truth.probe_off_c, 1)

    def wait(self, seconds: float) -> None:
        """Stir on."""
        for _ in range(round(seconds / STEP_S)):
            self.bowl.step(STEP_S)
        self.seconds += seconds

    def cool_to(self, reading_c: float) -> None:
        """Stir until it reads so little, but not for ever."""
        until_s = self.seconds + LONGEST_WAIT_S
        while self.reading_c() > reading_c and self.seconds < until_s:
            self.wait(2.0)

    def settle(self) -> None:
        """Stir until the reading holds still: no tenth in a quarter of a minute."""
        for _ in range(20):
            before_c = self.reading_c()
            self.wait(15.0)
            if abs(self.reading_c() - before_c) < 0.1:
                return

    def burst(self, seconds: float) -> None:
        """In the oven without stirring, then out and stirred."""
        self.bowl.stirring = False
        self.bowl.heat_w = self.truth.microwave_w * self.truth.coupling
        self.wait(seconds)
        self.bowl.heat_w = 0.0
        self.bowl.stirring = True
        self.wait(STIR_AFTER_BURST_S)

    def warm_to(self, reading_c: float) -> None:
        """Hot air in blasts of at most ten seconds, stirring and reading between them."""
        for _ in range(120):
            short_k = reading_c - self.reading_c()
            if short_k < 0.1:
                return
            self.bowl.heat_w = self.truth.hot_air_w
            self.wait(10.0 if short_k > 0.5 else 4.0)
            self.bowl.heat_w = 0.0
            self.wait(10.0)

    def melt(self, plan: Plan) -> None:
        """The bursts of the plan, fewer or more of them by the reading; then the rest."""
        melt_c = self.truth.temperatures.melt_c
        lengths = [burst.seconds for burst in plan.bursts if burst.tool == "microwave"]
        for seconds in lengths + [more_burst_s(plan)] * 40:
            if self.reading_c() >= melt_c and self.bowl.unmelted_g() < 1.0:
                break
            if self.reading_c() >= melt_c:
                self.wait(30.0)
                continue
            self.burst(seconds)
        self.cool_to(melt_c)
        self.wait(60.0 * MELT_REST_MIN)

    def seed(self, plan: Plan) -> None:
        """The handfuls of the plan by the reading, then stirring until it is in the window."""
        high_c = self.truth.temperatures.work_high_c
        for number, handful in enumerate(plan.handfuls):
            self.cool_to(handful.at_c)
            if self.reading_c() <= high_c:
                break
            if number and self.reading_c() < handful.leave_out_below_c:
                continue
            self.bowl.add_pieces(handful.grams, self.truth.room_c)
            self.wait(HANDFUL_STIR_S)
        self.cool_to(self.truth.temperatures.settled_c)
        self.wait(10.0)

    def seed_hastily(self, plan: Plan) -> None:
        """Every handful by the clock, whatever it reads, and no stirring on afterwards."""
        for handful in plan.handfuls:
            self.bowl.add_pieces(handful.grams, self.truth.room_c)
            self.wait(HANDFUL_STIR_S)
        self.settle()

    def act(self, action: Action) -> None:
        """One correction."""
        if action.kind == "stir":
            self.cool_to(action.predicted_c)
            return
        if action.kind == "cool":
            self.bowl.cool_w_per_k = STONE_W_PER_K
            self.cool_to(action.predicted_c)
            self.bowl.cool_w_per_k = 0.0
            return
        self.wait(60.0 * action.stir_min)
        if action.warm_first_to_c is not None:
            self.warm_to(action.warm_first_to_c)
        if action.pieces_g:
            self.bowl.add_pieces(action.pieces_g, self.truth.room_c)
            if action.stir_on_to_c is None:  # a pinch, chopped fine
                self.wait(TOUCH_STIR_S)
            else:
                self.wait(PIECES_STIR_S)
                self.settle()
        if action.stir_on_to_c is not None:
            self.cool_to(action.stir_on_to_c)
            if self.reading_c() < self.truth.temperatures.work_low_c:
                self.warm_to(self.truth.temperatures.target_c)
        if action.melted_g:
            self._pour(action.melted_g, action.melted_at_c or 0.0)
            self.wait(MELTED_STIR_S)
        if action.hot_air_s:
            self.warm_to(action.predicted_c)

    def _pour(self, mass_g: float, at_c: float) -> None:
        bowl = self.bowl
        there = bowl.liquid_g * bowl.matter.liquid_j_per_g_k + bowl.bowl_j_per_k
        poured = mass_g * bowl.matter.liquid_j_per_g_k
        bowl.liquid_c = (there * bowl.liquid_c + poured * at_c) / (there + poured)
        bowl.liquid_g += mass_g


def solid(truth: Truth, mass_g: float) -> Bowl:
    """Pieces at the room's temperature with the trace of melt that is stirred."""
    bowl = molten(truth, 0.02 * mass_g, truth.room_c)
    bowl.add_pieces(0.98 * mass_g, truth.room_c)
    return bowl


def molten(truth: Truth, mass_g: float, at_c: float) -> Bowl:
    """Melt only."""
    return Bowl(
        truth.matter,
        truth.room_c,
        mass_g,
        at_c,
        loss_w_per_k=truth.loss_w_per_k,
        bowl_j_per_k=truth.bowl_j_per_k,
    )


def with_crystals(truth: Truth, mass_g: float, at_c: float, crystals: float) -> Bowl:
    """`mass_g` at `at_c` of which a share `crystals` is solid; less where that cannot be."""
    solid_share = 1.0 - truth.matter.melted_share(at_c)
    pool_g = min(crystals / solid_share, 0.5) * mass_g if solid_share > 1e-6 else 0.0
    bowl = molten(truth, mass_g - pool_g, at_c)
    if pool_g > 0:
        bowl.add_pieces(pool_g, at_c)
    return bowl
