"""Profiles, calibrations and curves that boards make up: read, judged and drawn, or refused.

Whatever hypothesis writes into them has right lengths and CRCs, and says what is not so.
"""

import sys
import zlib
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).parents[1] / "wire"))
import lies

from snapcurve.analysis.complaints import complaints, find
from snapcurve.analysis.cooling_curve import find_inflection
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.calibration import stored
from snapcurve.calibration.limits import CONVERTERS
from snapcurve.calibration.trust import trust
from snapcurve.collecting import filing
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.exports import curve_csv
from snapcurve.recording.curve import decode
from snapcurve.recording.timeline import timeline_of
from snapcurve.report.chart_content import content_of
from snapcurve.shown.units import PLAIN
from snapcurve.wire import catalogue

FEW = settings(max_examples=150, suppress_health_check=list(HealthCheck))


def refused(do):
    """What ``do`` gives, None if it refuses with a sentence."""
    try:
        return do()
    except SnapcurveError as error:
        sentence = str(error)
    assert sentence
    assert sentence.isprintable()
    return None


@FEW
@given(lies.PROFILES)
def test_a_profile_is_read_or_refused(raw):
    found = refused(lambda: read_profile(raw))
    if found is None:
        return
    head, phases = found
    assert head["couverture"].isprintable()
    assert 1 <= len(phases) <= catalogue.PHASES_MAX


@FEW
@given(
    lies.CALIBRATIONS,
    st.sampled_from(sorted(CONVERTERS)),
    st.sampled_from(list(catalogue.TC_TYPES)),
    st.sampled_from([None, 1, 2, 3]),
    st.floats(-10, 150),
    st.sampled_from([-327.67, -40.0, 21.0, 327.67]),
)
def test_a_calibration_is_trusted_as_far_as_it_goes_or_refused(
    raw, converter, kind, tolerance_class, at_c, room_c
):
    calibration = refused(lambda: stored.parse(raw))
    if calibration is None:
        return
    more = {"tolerance_class": tolerance_class, "room_c": room_c}
    found = refused(lambda: trust(converter, kind, calibration, at_c, 1.8e9, **more))
    if found is None:
        return
    assert found.expanded_c > 0
    assert found.words().isprintable()
    assert found.remark.isprintable()
    assert stored.parse(stored.build(calibration)).points == calibration.points
    assert -400 < calibration.corrected_c(at_c) < 400


@FEW
@given(lies.curves(), lies.CALIBRATIONS)
def test_a_curve_is_judged_drawn_and_filed_or_refused(raw, calibration):
    curve = refused(lambda: decode(raw))
    if curve is None:
        return
    assert len(curve.times_s) == len(curve.temperatures_c)
    row = CurveRow(1, "closed", 3, len(raw), zlib.crc32(raw), 7)
    new = filing.new_batch(
        curve, raw, row, "pico", converter="MAX31856", raw_calibrations=[calibration]
    )
    assert new.couverture.isprintable()
    judgement = judge(curve)
    for complaint in complaints():
        judgement.about(find(complaint))
    said = [judgement.verdict, *judgement.reasons, *judgement.cautions]
    assert all(sentence.isprintable() for sentence in said)
    curve_csv(curve)
    refused(lambda: content_of(timeline_of(curve), "", PLAIN))
    refused(lambda: find_inflection(curve.times_s, curve.temperatures_c))
