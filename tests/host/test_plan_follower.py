"""The rehearsal's person follows what `plan` says, by the reading."""

import re

import pytest

from snapcurve.couvertures import load, user_folder
from snapcurve.simulation.bowl_simulator import USUAL
from snapcurve.simulation.plan_follower import planned_for
from snapcurve.simulation.rehearsal import Rehearsal


def rehearsed(couverture, method):
    """A batch in which the sounds come from what the chocolate truly is, not from a board."""
    chosen = load(couverture, user_folder())
    story = Rehearsal(chosen, method, 1, 60.0, by_plan=True)
    phase, added = "melt", []
    bowl = story.person.bowl
    put_in = bowl.add_pieces

    def add_pieces(mass_g, at_c):
        added.append((mass_g, story.person.reads_c))
        put_in(mass_g, at_c)

    bowl.add_pieces = add_pieces
    while story.rows(0) is not None:
        now_s, liquid_c, unmelted_g, inside = story.truth[-1]
        melted = liquid_c >= chosen.melt_c and unmelted_g < 1 and inside
        if phase == "melt" and melted:
            story.heard(round(now_s * 1000), ["alarm", "reached", "melt", "4500"])
            phase = "cool"
        elif phase == "cool" and liquid_c <= chosen.work_high_c - 0.2:
            story.heard(round(now_s * 1000), ["alarm", "reached", "work", "3180"])
            phase = "work"
    return chosen, story, added


@pytest.mark.parametrize("couverture", ["milk", "dark", "white"])
def test_seed_goes_in_as_planned_at_the_reading(couverture) -> None:
    chosen, story, added = rehearsed(couverture, "seeding")
    planned = planned_for(chosen, "seeding", USUAL)
    said = " ".join(text for _, _, text in story.steps)
    assert f"weighs {planned.melt_first_g:.0f} g into the bowl as planned" in said
    left_out = len(re.findall(r"leaves handful", said))
    handfuls = list(planned.handfuls)
    seeded = added[: len(handfuls) - left_out]
    assert len(seeded) >= 2
    for (grams, reads_c), handful in zip(seeded, handfuls, strict=False):
        assert grams == handful.grams
        assert reads_c <= handful.at_c
    assert "hears: in the working window" in said
    lengths = [float(found) for found in re.findall(r"burst \d+ of (\d+) s", said)]
    assert set(lengths) <= {*(burst.seconds for burst in planned.bursts), 8.0, 10.0}
    assert max(c for _, c, _, _ in story.truth) < chosen.never_above_c
    end_c = story.truth[-1][1]
    assert chosen.work_low_c - 0.6 <= end_c <= chosen.work_high_c


def test_stock_in_temper_is_only_kept() -> None:
    _, story, _ = rehearsed("milk", "hold")
    assert "as planned" not in " ".join(text for _, _, text in story.steps)
