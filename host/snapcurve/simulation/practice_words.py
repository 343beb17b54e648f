"""What a learner sees, feels and smells of the practice bowl: sentences, never a number that
only the simulator knows."""

from snapcurve.simulation.blade import GRAINY_LUMPS, HEAVY_SHARE, THICK_SHARE
from snapcurve.simulation.practice_bowl import PracticeBowl

MOSTLY_SOLID, SOME_SOLID, LAST_LUMPS = 0.5, 0.12, 0.02
PASTE_SOLID = 0.25
SMELLS, BURNT = 0.1, 0.6


def bowl_words(bowl: PracticeBowl) -> list[str]:
    """The bowl as it stands there."""
    said = [_flow(bowl)]
    if not bowl.seized and GRAINY_LUMPS < bowl.lumps_share <= SOME_SOLID:
        few = bowl.lumps_share <= LAST_LUMPS
        said.append(
            "A few lumps are left on the spatula." if few else "Many pieces still float in it."
        )
    if bowl.scorched >= BURNT:
        said.append("It smells burnt, and dark grains stick to the wall.")
    elif bowl.scorched >= SMELLS:
        said.append("It smells a little burnt.")
    if bowl.stirring:
        said.append("You are stirring.")
    if bowl.cold:
        said.append("The bowl stands in the cold.")
    return said


def _flow(bowl: PracticeBowl) -> str:
    solid = bowl.unmelted_g / bowl.mass_g
    satin = bowl.crystals_share > 0.0 and bowl.liquid_c < bowl.melts_c
    for so, sentence in (
        (bowl.seized, "It has seized: a dull, stiff paste that clumps on the spatula."),
        (bowl.lumps_share > MOSTLY_SOLID, "Solid pieces, with a little melt at the wall."),
        (bowl.lumps_share > SOME_SOLID, "Pieces lie in the melt."),
        (
            solid > PASTE_SOLID or bowl.crystals_share > THICK_SHARE,
            "Thick: it falls from the spatula in folds that stand.",
        ),
        (
            bowl.crystals_share > HEAVY_SHARE,
            "Heavy: the ribbon lies on top for a moment before it sinks in.",
        ),
        (satin, "It runs in an even ribbon with a satin shine."),
    ):
        if so:
            return sentence
    return "It runs thin and glossy."
