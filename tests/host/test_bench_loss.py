"""The loss to the room found in a recorded curve, from Newton's law written out here."""

import math
import random

import notebook_samples
import pytest

from snapcurve import cli, notebook
from snapcurve.advice.bench_loss import bench_loss
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import bowl_of
from snapcurve.heat.enthalpy import couverture_thermal
from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store
from snapcurve.recording.curve import Curve

MILK, BOWL = couverture_thermal("milk"), bowl_of("plastic", 250.0)
# 1 kg of melt at 1.67 J/(g K) and 70 % of 250 g of plastic at 1.9.
CAPACITY_J_PER_K = 1000 * 1.67 + 250 * 1.9 * 0.7
ROOM_C = 20.5


def readings(loss_w_per_k: float, rest_s: int, seed: int = 1, noise_c: float = 0.03):
    """Bursts up to 46 °C, a rest, then handfuls of seed."""
    chance = random.Random(seed)
    values = [20.0 + 26.0 * i / 360 for i in range(360)]
    values += [
        ROOM_C + (46.0 - ROOM_C) * math.exp(-loss_w_per_k * t / CAPACITY_J_PER_K)
        for t in range(rest_s)
    ]
    for _ in range(3):
        start_c = values[-1]
        values += [start_c - 3.5 * (1 - math.exp(-t / 20)) for t in range(90)]
    return [value + chance.gauss(0, noise_c) for value in values]


def curve_of(values) -> Curve:
    return Curve(
        times_s=[float(i) for i in range(len(values))],
        temperatures_c=list(values),
        room_c=[(0.0, ROOM_C), (300.0, ROOM_C)],
    )


@pytest.mark.parametrize("loss_w_per_k", [0.6, 1.0, 1.6])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_loss_is_found_between_melting_and_seed(loss_w_per_k: float, seed: int) -> None:
    found = bench_loss(curve_of(readings(loss_w_per_k, 300, seed)), MILK, 1000.0, BOWL)
    assert found.fit.loss_w_per_k == pytest.approx(loss_w_per_k, rel=0.05)
    assert 350 <= found.start_s <= 400
    assert 630 <= found.end_s <= 665
    assert found.room_c == ROOM_C


def test_half_the_chocolate_would_mean_half_the_loss() -> None:
    curve = curve_of(readings(1.0, 300))
    whole = bench_loss(curve, MILK, 1000.0, BOWL).fit.loss_w_per_k
    half = bench_loss(curve, MILK, 500.0, bowl_of("plastic", 125.0)).fit.loss_w_per_k
    assert half == pytest.approx(whole / 2, rel=1e-9)


def test_a_gap_ends_the_stretch() -> None:
    values = readings(1.0, 300)
    values[500] = None
    with pytest.raises(SnapcurveError, match="rest it five minutes"):
        bench_loss(curve_of(values), MILK, 1000.0, BOWL)


@pytest.mark.parametrize("rest_s", [0, 60, 140])
def test_too_short_a_rest_is_no_ground(rest_s: int) -> None:
    with pytest.raises(SnapcurveError, match="never cooled by itself"):
        bench_loss(curve_of(readings(1.0, rest_s)), MILK, 1000.0, BOWL)


def test_without_a_room_nothing_is_known() -> None:
    with pytest.raises(SnapcurveError, match="no temperature of the room"):
        bench_loss(Curve(times_s=[0.0], temperatures_c=[45.0]), MILK, 1000.0, BOWL)


def filed(folder, values) -> str:
    """A notebook with one batch that the board's own recorder wrote."""
    store = Store(str(folder))
    store.start()
    recorder = Recorder(store, (0, 1, 0), 7)
    recorder.start(0, (1_800_000_000, 0), 0, b"profile", False)
    for second, value_c in enumerate(values):
        recorder.reading(round(value_c * 128))
        recorder.step(second * 1000, round(ROOM_C * 100))
    recorder.end(len(values) * 1000, "button")
    (row,) = store.rows
    raw = bytearray(row.size)
    assert store.read_into(row, 0, raw, 0, row.size) == row.size
    place = str(folder / "notebook.db")
    with notebook.open_notebook(place) as book:
        book.file_batch(notebook_samples.new_batch(raw=bytes(raw)))
    return place


def test_a_plan_takes_the_loss_of_the_last_batch(tmp_path, capsys) -> None:
    place = filed(tmp_path, readings(1.6, 300))
    words = ["plan", "milk", "--mass", "1kg", "--notebook", place, "--loss-from", "last"]
    assert cli.main([*words, "--assumptions"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Loss of 1.6" in text or "Loss of 1.5" in text
    assert "as if it had this mass and bowl" in text
    assert (
        cli.main(["plan", "milk", "--mass", "1kg", "--notebook", place, "--loss-from", "x"]) == 2
    )
