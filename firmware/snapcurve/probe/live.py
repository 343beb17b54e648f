"""The reading of this moment, as the host is told it."""

from snapcurve.wire import catalogue

from .thermometer.max31856 import NO_READING


def reading(app):
    """The values of catalogue.READING."""
    thermometer = app.thermometer
    estimate = app.estimate
    none = catalogue.CENTI_NONE
    value = thermometer.value_128ths
    rate = none
    if estimate.place == "chocolate":
        rate = max(-30000, min(30000, int(estimate.rate_c_per_s * 6000)))
    now_s, now_ms = app.moment()
    return (
        now_s,
        now_ms,
        min(thermometer.age_ms(now_s * 1000 + now_ms), 0xFFFF),
        none if value == NO_READING else (value * 100 + 64) // 128,
        thermometer.uncorrected_128ths,
        app.estimate_centi_c(),
        rate,
        thermometer.room_centi_c,
        thermometer.faults,
        estimate.place,
        app.engine.phase_kind(),
        app.engine.state,
        app.recorder.curve & 0xFFFF,
        app.sounder.playing,
        catalogue.NO_SECONDS if app.engine.left_s < 0 else app.engine.left_s,
        app.troubles(),
    )
