"""What is wrong with the board itself, in words (wire.catalogue.TROUBLES)."""

SENTENCES = {
    "profile": "The board cannot read the couverture that it has stored, so nothing about the "
    "chocolate will sound: load it again.",
    "calibration": "The board cannot read the calibration that it has stored, so its readings "
    "are not corrected: calibrate it again.",
    "button": "The board's button does not come up, so it does nothing: free it, or use "
    "'snapcurve mark'.",
    "other_type": "The board's calibration was made with another type of thermocouple, so it is "
    "not used: calibrate this one, or set the type back with 'snapcurve probe --type'.",
    "probe": "The board cannot read which thermocouple was chosen, so its readings may be several "
    "degrees off: say it again with 'snapcurve probe --type'.",
}


def sentence(trouble: str) -> str:
    """What ``trouble`` means, and the remedy."""
    return SENTENCES.get(trouble, f"The board reports trouble ({trouble}): restart it.")
