"""The README's own first example, then a dark batch: what the couverture holds comes home."""

import re
from pathlib import Path

from boards_with_curves import ShortBatch, standing
from running import Bench

from snapcurve.simulation.desk_run import desk_run

README = Path(__file__).parents[2] / "README.md"


class Later(ShortBatch):
    """Begins ``begins_s`` after the board's start: up to half a minute of it has passed when
    the clock is set, so two that are to follow each other begin further apart."""

    def __init__(self, begins_s: int):
        super().__init__(0)
        self.START_S = begins_s
        self.END_S, self.LAST_S = begins_s + 236, begins_s + 246


def test_milk_by_path_before_dark_warns(bench: Bench) -> None:
    (bag,) = re.findall(r"```toml\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    (bench.folder / "bag.toml").write_text(bag)
    flash, board = bench.folder / "board", bench.folder.name
    for couverture, begins_s in (("bag.toml", 60), ("dark", 180)):
        with standing(flash, board) as desk:
            bench.ok("load", couverture, "--port", desk.port)
        with desk_run(Later(begins_s), None, "max", flash, board) as running:
            running.run()
    with standing(flash, board) as desk:
        done = bench.run("collect", "--port", desk.port)
    assert done.returncode == 0, done.stderr
    dark, milk = bench.ok_json("batches", "--rehearsals")
    names = (milk["now"]["couverture"], dark["now"]["couverture"])
    assert names == ("House milk, lot 7", "Dark couverture")
    warning = f"! {dark['batch']} followed {milk['batch']} at the same place without a cleaning"
    assert warning in done.stderr
    assert warning in bench.ok("batches", "--rehearsals")
    assert (milk["now"]["allergens"], dark["now"]["allergens"]) == (["milk"], [])
