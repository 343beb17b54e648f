"""What is wrong with the board itself, in words (wire.catalogue.TROUBLES)."""

SENTENCES = {
    "profile": "The board cannot read the couverture that it has stored, so nothing about the "
    "chocolate will sound: load it again.",
    "calibration": "The board cannot read the calibration that it has stored, so its readings "
    "are not corrected: calibrate it again.",
    "button": "The board's button does not come up, so it does nothing: free it, or use "
    "'snapcurve mark'.",
}


def sentence(trouble: str) -> str:
    """What ``trouble`` means, and the remedy."""
    return SENTENCES.get(trouble, f"The board reports trouble ({trouble}): restart it.")
