"""Charts, sheet, verdict, cup and lessons in the units that were set, and in no other."""

import re
from pathlib import Path

import pypdf
import pytest
from chart_samples import alarm, mark, recorded
from cup_curves import drawn, made
from sheet_samples import batch, entry, four_hours, normal
from test_judgement import GOOD, IN, MELTED, curve

from snapcurve.advice.batch_plan import plan
from snapcurve.advice.correction import correct
from snapcurve.advice.inputs import PlanRequest, temperatures_of, thermal_of
from snapcurve.advice.situation import Situation
from snapcurve.analysis import cup_temper
from snapcurve.analysis.complaints import complaints
from snapcurve.analysis.cooling_curve import find_inflection
from snapcurve.analysis.filed_outcomes import Learned
from snapcurve.analysis.lessons import TrayOutcome, learn, lesson_lines
from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.analysis.verdict import judge
from snapcurve.couvertures import load
from snapcurve.errors import UnusableValueError
from snapcurve.heat.bowl import Bowl
from snapcurve.notebook.entries import amended
from snapcurve.recording.curve import Curve
from snapcurve.recording.timeline import timeline_of
from snapcurve.report import advice_charts, analysis_charts
from snapcurve.report.batch_chart import batch_chart
from snapcurve.report.batch_texts import column
from snapcurve.report.sheet_document import batch_sheet
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import PLAIN

SET = Settings(temperature="F", decimal="comma", mass="oz", dates="en-us", paper="Letter")
US = SET.style
LETTER_MM = (279.4, 215.9)  # ANSI/ASME Y14.1, on its long side
OTHERS = re.compile(r"°C|\bA4\b|[0-9]\.[0-9]|(?<![A-Za-z])k?g\b")
MILK = load("milk", Path("no folder"))


def other_units(text):
    return [text[max(0, one.start() - 20) : one.end() + 20] for one in OTHERS.finditer(text)]


def svg_words(path):
    """The words of a chart, which must be on letter paper."""
    text = path.read_text(encoding="utf-8")
    width, height = (
        float(one) for one in re.findall(r' (?:width|height)="([0-9.]+)pt"', text)[:2]
    )
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx(LETTER_MM, abs=0.1)
    return " | ".join(re.findall(r"<text[^>]*>([^<]*)</text>", text))


def outside():
    """Left the window to both sides, hot and cooled fast; two blades, one of them failed."""
    corners = ((0, 30.0), (300, 53.0), (400, 53.0), (600, 31.2), *GOOD[3:4])
    corners += ((1500, 31.0), (1600, 34.5), (1800, 34.5), (1900, 28.5), (2400, 28.5))
    events = [MELTED, IN, mark(1100, "dip_test"), mark(1420, "failed"), mark(2000, "dip_test")]
    return curve(corners, [*events, alarm(1590, "temper_lost"), alarm(1880, "too_cool")])


def cup():
    """A record of one, with its inflection."""
    one = made(drawn(3), 3)
    record = Curve(times_s=one.times_s, temperatures_c=one.values_c)
    return record, find_inflection(one.times_s, one.values_c, style=US)


def lesson():
    """Twenty good batches that were worked cooler than twenty others, and what was learned."""
    trays = [
        TrayOutcome(
            f"{n:02}",
            MILK.name,
            (31.2 if n % 2 else 30.3) + 0.03 * (n // 2),
            1.5,
            2.25,
            3.5,
            NotedOutcome(n % 2 == 0, n % 2 == 0, None),
        )
        for n in range(40)
    ]
    return trays, learn(trays, MILK.name, (30.0, 32.0), US)


def test_the_other_units_are_found():
    assert len(other_units("31 °C, 1280 g of 2.5 kg, 1.5 J/g on A4")) == 7
    assert other_units("87,8 °F, 45,15 oz, page 1 of 2, gloss") == []


RECORDS = {"24 minutes": recorded(), "four hours": four_hours(), "outside": outside()}


@pytest.mark.parametrize("name", RECORDS)
def test_the_chart_of_a_batch(name, tmp_path):
    path, uncertainty = tmp_path / "a.svg", US.uncertainty(0.32)
    chosen = {"uncertainty": uncertainty, "paper": SET.paper, "style": US}
    batch_chart(timeline_of(RECORDS[name]), "A batch", path, **chosen)
    words = svg_words(path)
    assert "°F" in words
    assert "0,6 °F" in words
    assert other_units(words) == []


def test_charts_of_plan_correction_and_heat(tmp_path):
    temperatures, thermal = temperatures_of(MILK), thermal_of(MILK)
    bench = {"temperatures": temperatures, "thermal": thermal, "mass_g": 1280.0, "room_c": 21.3}
    bench["bowl"] = Bowl(500.0, 0.5)
    request = PlanRequest(**bench, method="seeding", microwave_w=700.0)
    situation = Situation(**bench, temperature_c=33.4)
    path = tmp_path / "chart.svg"
    advice_charts.plan_chart(plan(request), request, MILK.name, path, "Letter", US)
    words = svg_words(path)
    assert " oz" in words
    assert other_units(words) == []
    answer = correct(situation, "too warm")
    advice_charts.correction_chart(answer, situation, MILK.name, path, "Letter", US)
    assert "now 92,1 °F" in svg_words(path)
    assert other_units(svg_words(path)) == []
    advice_charts.enthalpy_chart(thermal, temperatures, MILK.name, path, "Letter", US)
    assert "J/oz" in svg_words(path)
    assert other_units(svg_words(path)) == []


def test_the_sheet(tmp_path):
    corrected = entry("correction", {"text": "hot air"}, 0.01)
    amended = entry("amendment", {"field": "room_centi_c", "was": 2040, "value": 2170}, why="read")
    sheet = normal(settings=SET, entries=(corrected, amended))
    path = batch_sheet(sheet, tmp_path / "sheet.pdf", "Letter", US)
    pages = pypdf.PdfReader(path).pages
    text = "\n".join(page.extract_text() for page in pages).replace(recorded().firmware, "")
    assert "45,15 oz" in text
    assert "±0,6 °F at 89 °F" in text
    assert other_units(text) == []
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == (612, 792)


@pytest.mark.parametrize("name", RECORDS)
def test_verdict_reasons_and_complaints(name):
    judgement = judge(RECORDS[name], uncertainty_c=1.95, style=US)
    words = [judgement.verdict, *judgement.blades, *judgement.reasons, *judgement.cautions]
    for complaint in complaints(US).values():
        words += [complaint.name, complaint.looks]
        for answer in judgement.about(complaint):
            words += [answer.reason, answer.cause.words, answer.cause.check, answer.cause.source]
    assert "°F" in " ".join(words)
    assert [text for text in words if other_units(text)] == []


def test_a_cup_and_what_is_no_cup(tmp_path):
    record, inflection = cup()
    path = tmp_path / "cup.svg"
    for good in ((), [-0.3, -0.1, 0.0, 0.1, 0.2, 0.25, 0.3, 0.35, 0.4]):
        verdict = cup_temper.name_temper(inflection, good, cup_temper.spread_of([]), US)
        assert "°F/min" in verdict.sentence
        analysis_charts.cup_chart(record, inflection, verdict, "Cup", path, "Letter", US)
        place = cup_temper.place_words(inflection, US)
        assert other_units(f"{verdict.sentence} {place} {svg_words(path)}") == []
    for values in ([31.0] * 100, [45.0 - 0.2 * n for n in range(200)]):
        with pytest.raises(UnusableValueError) as caught:
            find_inflection([float(n) for n in range(len(values))], values, style=US)
        assert "°F" in str(caught.value)
        assert other_units(str(caught.value)) == []


def test_batches_compared(tmp_path):
    batches = [("one", judge(record).timeline) for record in (recorded(), outside())]
    path = analysis_charts.compared_chart(batches, tmp_path / "both.svg", "Letter", US)
    assert "°F" in svg_words(path)
    assert other_units(svg_words(path)) == []
    one = amended(batch(room_centi_c=2150, mass_mg=1_280_000), ())
    cells = " | ".join(column(one, judge(outside(), style=US), US).values())
    assert "45,15 oz" in cells
    assert "70,7 °F" in cells
    assert other_units(cells) == []


def test_what_was_learned(tmp_path):
    trays, lesson_ = lesson()
    assert lesson_.window_c is not None
    text = "\n".join([*lesson_lines(lesson_, US), lesson_.why, lesson_.warning])
    assert "87,05" in text  # 30.585 °C
    assert "4,05" in text  # 2.25 °C/min
    assert other_units(text) == []
    learned = [Learned(tray, judge(recorded()).timeline) for tray in trays]
    path = tmp_path / "learned.svg"
    analysis_charts.outcomes_chart(learned, lesson_, (30.0, 32.0), path, "Letter", US)
    assert other_units(svg_words(path)) == []
    assert "°F" in lesson_.why
    assert "°C" in learn(trays, MILK.name, (30.0, 32.0), PLAIN).why
