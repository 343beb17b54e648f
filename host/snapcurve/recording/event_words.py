"""What a recording notes, in words: alarms, results of dip tests, faults, and how it ended."""

ALARM_WORDS = {
    "near": "nearly there",
    "reached": "reached",
    "dwell_done": "held long enough",
    "too_hot": "too hot",
    "too_warm": "too warm",
    "too_cool": "too cool",
    "back": "back in",
    "probe_fault": "probe fault",
    "probe_ok": "probe works",
    "store_full": "memory full",
    "store_low": "memory nearly full",
    "store_fault": "memory fault",
    "temper_lost": "temper lost",
    "unreadable": "stored settings unreadable",
    "button_stuck": "button stuck",
}
RESULT_WORDS = {"passed": "set, no mark", "failed": "marked", "set_early": "set too soon"}
FAULT_WORDS = {
    "open": "probe wire open",
    "voltage": "voltage on the probe",
    "tc_low": "probe reads too low",
    "tc_high": "probe reads too high",
    "cj_low": "board too cold",
    "cj_high": "board too hot",
    "tc_range": "beyond the probe's range",
    "cj_range": "beyond the board's range",
    "bus": "converter silent",
    "config": "converter was reset",
    "frozen": "converter stopped",
    "short_to_ground": "probe touches ground",
    "short_to_supply": "probe touches the supply",
}
ENDS = {
    "room": "ended at room temperature",
    "button": "ended by the button",
    "fault": "ended for want of readings",
    "longest": "ended at the longest length",
    "store_full": "ended with the memory full",
    "power": "ended by loss of power",
    None: "end not recorded",
}


def alarm_words(name: str) -> str:
    """Words for the alarm ``name``, one this version does not know included."""
    return ALARM_WORDS.get(name, name.replace("_", " "))


def fault_words(names: str) -> str:
    """Words for fault names joined by commas, as Event.name has them."""
    return ", ".join(FAULT_WORDS.get(name, name) for name in names.split(",") if name)
