"""The methods, each named once: what a person types, what travels to the board, what is said."""

from snapcurve.couvertures.model import Couverture
from snapcurve.errors import SnapcurveError

# As a sentence has it: "1200 g of Milk couverture by seeding".
METHODS = {
    "seeding": "by seeding",
    "slab": "on the slab",
    "cold-bath": "in a cold bath",
    "crystal-seed": "with crystal seed",
    "hold": "warmed only as far as the window",
    "coating": "melted and held, without temper",
    "cup": "as a sample in a cup",
}
# What a bench does by each, for who has to choose one.
MEANINGS = {
    "seeding": "pieces stirred in",
    "slab": "worked on a cold slab",
    "cold-bath": "stirred over a cold bath",
    "crystal-seed": "powdered cocoa-butter crystals stirred in",
    "hold": "in temper already, only warmed into its window",
    "coating": "what needs no temper, only melted",
    "cup": "a sample that shows how it crystallises",
}
# How earlier releases named them; the first stands in profiles and notebooks.
EARLIER = {"three-step": "slab", "tabling": "slab"}

WITH_LOW_POINT = ("slab", "cold-bath")


def named(text: str) -> str:
    """The method that `text` names, in today's word; another text is given back as it is."""
    word = text.strip().lower().replace("_", "-").replace(" ", "-")
    return EARLIER.get(word, word)


def chosen(method: str | None, couverture: Couverture) -> str:
    """`method`, or without one what the couverture asks for: seeding, or for a coating just that.

    SnapcurveError where method and couverture do not go together.
    """
    if method is None:
        return "seeding" if couverture.tempering else "coating"
    if couverture.tempering and method == "coating":
        raise SnapcurveError(
            f"{couverture.name} has to be tempered, or it blooms: choose another method."
        )
    if not couverture.tempering and method != "coating":
        raise SnapcurveError(f"{couverture.name} needs no temper: use --method coating.")
    if named(method) in WITH_LOW_POINT and couverture.cool_c is None:
        raise SnapcurveError(
            f"{couverture.name} has no cool_c, which the method {method} needs: add it to the "
            "couverture file or choose seeding."
        )
    return method
