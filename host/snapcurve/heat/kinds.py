"""What a kind of chocolate is usually made of, and how far its crystals bear warmth.

A kind is a word of the file; one that is not listed here is taken for dark, unless the file
says what fat is in it.
"""

from dataclasses import dataclass

from snapcurve.heat.constants import (
    HIGHEST_WORKING_DARK_C,
    HIGHEST_WORKING_MILK_C,
    LATENT_HEAT_COCOA_BUTTER_J_PER_G,
    LIMIT_ABOVE_WINDOW_AT_LEAST_K,
    LIMIT_ABOVE_WINDOW_AT_MOST_K,
    MILK_FAT_SHIFT_K,
    NUT_FAT_SHIFT_K_PER_SHARE,
    USUAL_MILK_FAT_SHARE,
)

_LIMIT_K_PER_SHARE = (HIGHEST_WORKING_MILK_C - HIGHEST_WORKING_DARK_C) / USUAL_MILK_FAT_SHARE


@dataclass(frozen=True)
class Kind:
    """milk_fat_share, nut_fat_share: what of all its fat is milk fat and nut oil, 0 to 1;
    highest_c: the highest working temperature; latent_heat_j_per_g: to melt one gram."""

    milk_fat_share: float
    highest_c: float
    latent_heat_j_per_g: float
    nut_fat_share: float = 0.0


def _by_fat(fat_fraction: float) -> float:
    return LATENT_HEAT_COCOA_BUTTER_J_PER_G * fat_fraction


# Latent heat of dark and milk: Beckett, p. 668, after Chevalley et al. 1970; of the others by
# their usual fat, from memory. Highest working temperatures: the guide named in constants.py;
# gianduja's as far above a window of 24 to 26 °C as theirs, plant-milk's as dark's.
_WHITE = Kind(USUAL_MILK_FAT_SHARE, 31.5, _by_fat(0.31))
KINDS = {
    "dark": Kind(0.0, HIGHEST_WORKING_DARK_C, 46.0),
    "milk": Kind(USUAL_MILK_FAT_SHARE, HIGHEST_WORKING_MILK_C, 44.0),
    "white": _WHITE,
    "caramelised white": _WHITE,
    "ruby-coloured": Kind(USUAL_MILK_FAT_SHARE, 32.0, _by_fat(0.36)),
    "plant-milk": Kind(0.0, HIGHEST_WORKING_DARK_C, _by_fat(0.36)),
    "gianduja": Kind(0.1, 28.5, _by_fat(0.33), nut_fat_share=0.4),
    "coating": Kind(0.0, HIGHEST_WORKING_DARK_C, _by_fat(0.32)),
}


def softened_k(milk_fat_share: float, nut_fat_share: float) -> float:
    """By how much these shares of all fat (0 to 1) move the melting range, K, 0 or less."""
    return (
        MILK_FAT_SHIFT_K * milk_fat_share / USUAL_MILK_FAT_SHARE
        + NUT_FAT_SHIFT_K_PER_SHARE * nut_fat_share
    )


def crystals_last_to_c(
    kind: str,
    work_high_c: float,
    milk_fat_share: float | None = None,
    nut_fat_share: float | None = None,
) -> float:
    """Highest working temperature: for long above it the crystals of temper melt, °C.

    The kind's published one, moved by what milk fat and nut oil differ from the usual, and kept
    near the window, for the figures on the bag come first.
    """
    usual = KINDS.get(kind, KINDS["dark"])
    highest_c = usual.highest_c
    if milk_fat_share is not None:
        highest_c += _LIMIT_K_PER_SHARE * (milk_fat_share - usual.milk_fat_share)
    if nut_fat_share is not None:
        highest_c += NUT_FAT_SHIFT_K_PER_SHARE * (nut_fat_share - usual.nut_fat_share)
    return min(
        max(highest_c, work_high_c + LIMIT_ABOVE_WINDOW_AT_LEAST_K),
        work_high_c + LIMIT_ABOVE_WINDOW_AT_MOST_K,
    )
