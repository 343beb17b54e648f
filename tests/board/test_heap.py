"""The heap after the start: the budget of DEVELOPERS.md, on the desk with objects of 64 bits."""

from tests.benchmarks.heap import WANTED, bare, heap


def test_after_the_start_the_firmware_keeps_to_its_budget():
    """Joined and started through main.py, with littlefs mounted and the desk's own lines; the
    script that looks is not counted."""
    found = heap("MAX31856")
    total = found["total"] - (found["script"] - bare())
    assert total <= WANTED
    # Of what is counted nothing has been left out: the code, the parts and the app are in it.
    parts = sum(
        size for name, size in found.items() if name.startswith(("code", "(desk)", "main"))
    )
    assert found["total"] == found["script"] + parts
    assert found["code: probe.app and all that it imports"] > WANTED / 2
