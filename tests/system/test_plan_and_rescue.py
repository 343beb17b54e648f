"""The commands plan and correct, as a person at the bowl meets them."""

import json

import pytest
from running import Bench

PICTURES = {".png": b"\x89PNG", ".pdf": b"%PDF", ".svg": b"<?xml"}


def test_a_plan_for_a_kilogram_of_milk_needs_nothing_else(bench: Bench) -> None:
    text = bench.ok("plan", "milk", "--mass", "1kg")
    for words in ("to melt, and hold back", "bursts", "handful", "Take the probe out"):
        assert words in text
    assert text.startswith("Weigh ")  # what to do comes first
    assert "Assumed:" not in text
    text = bench.ok("plan", "milk", "--mass", "1kg", "--assumptions")
    assert "Assumed:" in text
    assert "20 °C: give --room" in text
    assert max(len(line) for line in text.splitlines()) <= 92


def test_a_plan_adds_up_and_can_be_weighed(bench: Bench) -> None:
    made = bench.ok_json(
        "plan", "dark", "--shells", "120", "--grams", "9", "--waste", "8%", "--room", "21",
        "--watts", "700",
    )  # fmt: skip
    assert made["batch_g"] == 1170.0  # 120 x 9 x 1.08 = 1166.4, up to 5 g
    assert made["leftover_g"] == pytest.approx(90.0)
    assert made["melt_first_g"] + made["seed_g"] == made["batch_g"]
    assert sum(handful["grams"] for handful in made["handfuls"]) == made["seed_g"]
    assert made["seed_g"] % 5 == 0
    assert 31 <= made["predicted_c"] <= 32
    seconds = [burst["seconds"] for burst in made["bursts"]]
    assert seconds == sorted(seconds, reverse=True)
    assert seconds[-1] < seconds[0]
    assert not any("give --room" in sentence for sentence in made["assumptions"])


@pytest.mark.parametrize(
    "method",
    ["seeding", "slab", "cold-bath", "crystal-seed", "hold", "tabling", "three-step"],
)
def test_every_couverture_can_be_planned_by_every_method(bench: Bench, method: str) -> None:
    for couverture in ("dark", "caramelised-white", "gianduja"):
        text = bench.ok("plan", couverture, "--mass", "850 g", "--method", method)
        assert "Test" in text


def test_a_coating_is_melted_and_held(bench: Bench) -> None:
    text = bench.ok("plan", "coating", "--mass", "1kg")
    assert "It needs no temper" in text
    assert "Keep its bowls and tools apart" in text
    assert bench.ok_json("plan", "coating", "--mass", "1kg")["predicted_c"] == pytest.approx(40)
    for method in ("seeding", "hold", "slab"):
        said = bench.refused("plan", "coating", "--mass", "1kg", "--method", method)
        assert "use --method coating" in said
    assert "blooms" in bench.refused("plan", "dark", "--mass", "1kg", "--method", "coating")
    assert "needs no plan" in bench.refused("plan", "dark", "--mass", "1kg", "--method", "cup")
    warm = bench.ok("rescue", "coating", "--mass", "1kg", "--temp", "45")
    assert warm.startswith("Do        Stir it in the room until it reads 40 °C")
    assert "crystal" not in warm


def test_a_metal_bowl_is_planned_without_the_oven(bench: Bench) -> None:
    text = bench.ok("plan", "dark", "--mass", "1.2kg", "--bowl", "steel")
    assert "no microwave" in text
    assert "bursts" not in text


def test_the_water_test_by_hand(bench: Bench) -> None:
    # (4.187 x 1000 x 10 + 0.55 x 400 x (20 - 20)) / 52 = 805.2 W
    found = bench.ok_json("plan", "--water-test", "10", "20", "52", "--vessel", "400g")
    assert found["microwave_w"] == pytest.approx(805.19, abs=0.01)
    assert any("IEC 60705" in sentence for sentence in found["followed"])
    made = bench.ok_json("plan", "milk", "--mass", "1kg", "--water-test", "10", "20", "60")
    assert any("698 W" in sentence for sentence in made["assumptions"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--mass", "-1kg"), "not above zero"),
        (("--mass", "0"), "not above zero"),
        (("--mass", "heavy"), "is not a number: write it like 850 g"),
        (("--mass", "1.2"), "without a unit"),
        (("--mass", "900kg"), "50000 g"),
        ((), "Give --mass, or --shells"),
        (("--mass", "1kg", "--shells", "3"), "not both"),
        (("--shells", "120"), "--grams"),
        (("--shells", "-3", "--grams", "9"), "above zero"),
        (("--shells", "120", "--grams", "9", "--waste", "lots"), "write it like 8%"),
        (("--mass", "1kg", "--room", "34"), "room of about 20 °C"),
        (("--mass", "1kg", "--room", "nan"), "The room"),
        (("--mass", "1kg", "--stock", "36"), "no longer sound seed"),
        (("--mass", "1kg", "--watts", "0"), "0 W cannot be used"),
        (("--mass", "1kg", "--watts", "-700"), "cannot be used"),
        (("--mass", "1kg", "--bowl", "gold"), "plastic, glass"),
        (("--mass", "1kg", "--bowl", "steel", "--watts", "700"), "metal bowl"),
        (("--mass", "1kg", "--bowl-mass", "80kg"), "far too heavy"),
        (("--mass", "1kg", "--seed", "0g"), "not above zero"),
        (("--mass", "1kg", "--loss", "0"), "above zero"),
        (("--mass", "1kg", "--water-test", "20", "10", "50"), "did not get warmer"),
        (("--mass", "1kg", "--chart", "plan.xyz"), "let it end in .png, .svg or .pdf"),
    ],
)
def test_a_plan_that_cannot_be_made(bench: Bench, words: tuple[str, ...], says: str) -> None:
    assert says in bench.refused("plan", "milk", *words)


def test_a_plan_of_nothing(bench: Bench) -> None:
    assert "Which couverture" in bench.refused("plan")


@pytest.mark.parametrize(
    ("reads_c", "showed", "says"),
    [
        ("31.2", "mark", "pieces in temper"),
        ("31.2", "early", "hot air"),
        ("31.0", "grainy", "sieve"),
        ("31.0", "streaked", "Scrape wall and bottom"),
        ("31.0", "thick", "hot air"),
        ("31.0", "seized", "will not temper any more"),
        ("33.5", "too_warm", "its crystals melt"),
        ("55", "mark", "then smell it and taste"),
        ("36", "too_warm", "pieces in temper"),
        ("28", "too-cool", "hot air"),
    ],
)
def test_a_correction_for_everything_a_test_shows(
    bench: Bench, reads_c: str, showed: str, says: str
) -> None:
    text = bench.ok("rescue", "milk", "--mass", "1kg", "--temp", reads_c, "--showed", showed)
    second = "\nThen " if reads_c == "55" else "\nOr "
    for words in (says, "\nDo ", second, "\nGive up", "Caution:"):
        assert words in "\n" + text
    assert text.startswith("Do ")
    assert "Assumed:" not in text
    assert max(len(line) for line in text.splitlines()) <= 92


def test_a_correction_in_figures(bench: Bench) -> None:
    words = ("rescue", "dark", "--mass", "1.2kg", "--room", "22", "--temp")
    cool = bench.ok_json(*words, "29.8")
    assert cool["observation"] == "too cool"
    assert cool["recommended"]["kind"] == "warm"
    assert cool["recommended"]["predicted_c"] == pytest.approx(31.5, abs=0.1)
    assert cool["alternative"]["melted_g"] > 50
    # What hot air puts in is known least: 14 s or so, by 0.6 to 1.4 times.
    first, second = cool["moved_most"]
    assert "hot air" in first["assumption"]
    assert first["by"] > second["by"] > 0
    assert first["unit"] == "s"
    tired = bench.ok_json(*words, "31.5", "--showed", "mark", "--tried", "3")
    assert tired["recommended"]["kind"] == "melt again"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--mass", "1kg", "--temp", "31"), "--showed"),
        (("--mass", "1kg", "--temp", "31", "--showed", "too_warm"), "not too warm"),
        (("--mass", "-1kg", "--temp", "31", "--showed", "mark"), "not above zero"),
        (("--mass", "1kg", "--temp", "nan", "--showed", "mark"), "The reading"),
        (("--mass", "1kg", "--temp", "31", "--showed", "mark", "--room", "34"), "about 20 °C"),
        (("--mass", "1kg", "--temp", "31", "--showed", "mark", "--stock", "33"), "sound seed"),
        (("--mass", "1kg", "--temp", "29", "--hot-air", "0"), "hot air"),
        (("--mass", "1kg", "--temp", "29", "--tried", "-1"), "corrections"),
        (("--mass", "1kg", "--temp", "29", "--bowl", "gold"), "plastic, glass"),
        (
            ("--mass", "1kg", "--temp", "29", "--chart", "now.gif"),
            "let it end in .png, .svg or .pdf",
        ),
        (("--mass", "1kg", "--port", "rehearsal:unplugged"), "circuit is open"),
        (("--mass", "1kg", "--port", "/dev/ttyNOPE"), "/dev/ttyNOPE"),
    ],
)
def test_a_correction_that_cannot_be_given(
    bench: Bench, words: tuple[str, ...], says: str
) -> None:
    assert says in bench.refused("rescue", "milk", *words)


def test_without_a_reading_the_board_is_asked(bench: Bench) -> None:
    words = ("rescue", "milk", "--mass", "1kg", "--showed", "seized", "--port", "rehearsal")
    answer = json.loads(bench.ok(*words, "--json", SNAPCURVE_REHEARSAL_SPEED="4"))
    assert 19.0 <= answer["reads_c"] <= 45.0  # somewhere in its first melt
    assert any("board's reading" in sentence for sentence in answer["assumptions"])


@pytest.mark.parametrize("ending", PICTURES)
def test_charts_are_written(bench: Bench, ending: str) -> None:
    for name, words in (
        ("plan", ("plan", "milk", "--mass", "1kg")),
        ("correction", ("rescue", "dark", "--mass", "1kg", "--temp", "33", "--showed", "mark")),
        ("heat", ("couvertures", "white")),
    ):
        path = bench.folder / (name + ending)
        bench.ok(*words, "--chart", str(path))
        assert path.read_bytes().startswith(PICTURES[ending])


def test_a_chart_of_every_couverture_is_refused(bench: Bench) -> None:
    assert "Name the one" in bench.refused("couvertures", "--chart", "all.png")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--room", "27"), "warm for this work"),
        (("--seed", "60g"), "too little to reach the window"),
    ],
)
def test_a_plan_says_where_it_is_doubtful(bench: Bench, words: tuple[str, ...], says: str) -> None:
    text = " ".join(bench.ok("plan", "dark", "--mass", "1kg", *words).split())
    assert "Mind:" in text
    assert "too hot to hold" in text  # 48 °C and more
    assert says in text


def test_units_of_choice_reach_plan_correction_and_judgement(bench: Bench) -> None:
    said = ("--mass", "1.2kg", "--room", "21", "--watts", "700")
    plain = json.loads(bench.ok("plan", "milk", *said, "--json"))
    for key, value in (("temperature", "F"), ("mass", "oz")):
        bench.ok("settings", "set", key, value)
    american = ("--mass", "42.3", "--room", "69.8", "--watts", "700")
    made = json.loads(bench.ok("plan", "milk", *american, "--json"))
    assert made["seed_g"] == pytest.approx(plain["seed_g"], abs=5)
    text = bench.ok("plan", "milk", *american)
    assert "42.33 oz of Milk couverture" in text
    assert "86 to 89.6 °F" in text  # 30 to 32 °C
    assert "°C" not in text
    text = bench.ok("rescue", "milk", "--mass", "35oz", "--temp", "90.5", "--showed", "mark")
    assert "90.5 °F" in text
    assert "°C" not in text
    bench.ok("rehearse", "milk", "--speed", "max")
    assert "°F" in bench.ok("show", "last")
    assert "°C" not in bench.ok("show", "last")
