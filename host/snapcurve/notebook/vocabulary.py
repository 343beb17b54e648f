"""The few words that entries and outcomes are made of; every list of them is here.

Allergens are groups of ALLERGEN_GROUPS in three states: a tuple of groups that are named, the
empty tuple where somebody declared that there are none, None where it is not known.

Common practice, no source, except ALLERGEN_LAWS, each group shortened to one word: the fourteen
of Regulation (EU) No 1169/2011, Annex II, and the nine major food allergens of the US (Food
Allergen Labeling and Consumer Protection Act of 2004, and sesame by the FASTER Act of 2021).
"""

from collections.abc import Sequence

OUTCOMES = {
    "gloss": ("high", "satin", "dull"),
    "snap": ("clean", "soft", "none"),
    "release": ("clean", "partial", "stuck"),
    "bloom": ("none", "slight", "marked"),
}
"""What can be judged of the finished pieces, each with its words from good to bad."""

BLOOM_AFTER_DAYS = (1, 2, 7)
"""Days in storage after which bloom is looked for."""

ENTRY_KINDS = (
    "note",
    "amendment",
    "outcome",
    "dip_test",
    "correction",
    "picture",
    "lot",
    "cleaning",
    "made",
    "deviation",
    "hold",
    "day",
)

HOLD_STATES = ("on hold", "released")
"""Whether a lot may go into a batch, as somebody decided."""

VERIFIED = ("seen clean", "swab negative", "swab positive")
"""How a cleaning was verified; after a swab that was positive it counts for nothing."""

DEVIATIONS = ("too hot", "above", "below", "dip test")
"""What opens a deviation: a scorching limit passed, the window left above or below, a failed
test."""

DISPOSITIONS = ("used", "reworked", "held", "thrown away")
"""What became of the chocolate; "held" until another one is noted."""

LEFTOVER = "leftover"
"""What is made of a batch and not sold: it goes on into another one."""

AMENDABLE = {
    "couverture": str,
    "operator": str,
    "notes": str,
    "place": str,
    "room_centi_c": int,
    "mass_mg": int,
    "allergens": list,
    "mistake": bool,
}
"""Fields of a batch that a person may correct, with what JSON holds for them.

Only "mistake" is no field of what was filed: the record is no batch's.
"""

WHY_A_MISTAKE = "no settled reading in chocolate"
"""The reason of the amendment by which a record is filed that was started by mistake."""

ALLERGEN_LAWS = {
    "EU": (
        "gluten",
        "crustaceans",
        "egg",
        "fish",
        "peanut",
        "soya",
        "milk",
        "nuts",
        "celery",
        "mustard",
        "sesame",
        "sulphites",
        "lupin",
        "molluscs",
    ),
    "US": (
        "milk",
        "egg",
        "fish",
        "crustaceans",
        "nuts",
        "wheat",
        "peanut",
        "soya",
        "sesame",
    ),
}
"""The groups by whose law they are declared; the settings say which is offered."""

ALLERGEN_GROUPS = (*ALLERGEN_LAWS["EU"], "wheat")
"""Every group of any of them, in the order in which they are shown."""

OTHER = "other:"
"""Before a word of one's own, such as other:kiwi: no slip becomes an allergen by itself."""

# Not of plant-milk and coatings: what is in them the kind does not say.
_OF_KIND = {
    "dark": (),
    "milk": ("milk",),
    "white": ("milk",),
    "caramelised white": ("milk",),
    "ruby-coloured": ("milk",),
    "gianduja": ("milk", "nuts"),
}

DECLARED_NONE = "none"
"""What is stored of a lot that was declared free. An empty list, which stood once for that and
for a lot of which nobody said anything, means not known: what was sealed is never rewritten."""


def stored_groups(groups: Sequence[str] | None) -> list[str]:
    """A lot's allergens as they are stored."""
    if groups is None:
        return []
    return list(groups) or [DECLARED_NONE]


def read_groups(stored: Sequence[str]) -> tuple[str, ...] | None:
    """A lot's allergens from what `stored_groups` made, or an earlier version stored."""
    if not stored:
        return None
    return () if list(stored) == [DECLARED_NONE] else tuple(stored)


def allergens_of_kind(kind: str) -> tuple[str, ...] | None:
    """Allergen groups that the kind of a couverture (`heat.kinds.KINDS`) has by its nature.

    None for a kind that is not known. The label decides: soya lecithin, traces and fillings
    are not in the kind.
    """
    return _OF_KIND.get(kind)
