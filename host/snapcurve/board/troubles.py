"""What is wrong with the board itself (wire.catalogue.TROUBLES) or its probe, in words."""

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

FAULT_WORDS = {
    "open": "the thermocouple circuit is open: plug the probe in and check both its screws",
    "voltage": "the converter sees too high or too low a voltage: look for a wet or touching lead",
    "bus": "the converter does not answer: check its wiring and supply",
    "config": "the converter loses its settings: check its supply",
    "frozen": "the converter shows the same value for ever: take its supply off and on again",
    "short_to_ground": "the thermocouple touches ground: use a probe with an insulated tip",
    "short_to_supply": "the thermocouple touches the supply: check its wiring",
    "tc_range": "the temperature is beyond the range: look for swapped leads or a wrong type",
}


def sentence(trouble: str) -> str:
    """What ``trouble`` means, and the remedy."""
    return SENTENCES.get(trouble, f"The board reports trouble ({trouble}): restart it.")


def fault_sentence(faults: list[str]) -> str:
    """What to do about a probe that gives no reading."""
    for fault in faults:
        if fault in FAULT_WORDS:
            return f"there is no reading: {FAULT_WORDS[fault]}"
    return f"there is no reading ({', '.join(faults) or 'unknown reason'}): check the probe"
