"""`snapcurve page` as a person starts and ends it, with the real firmware behind it."""

import signal

import pytest
from page_client import page

PORT = ("--port", "rehearsal")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_at_once_and_quietly_with_streams_open(bench, number):
    """A server waits for its streams by itself, for ever or with a traceback."""
    with page(bench, *PORT) as found:
        found.until("1.condition", "probe out")
        open_ones = [found.connection() for _ in range(9)]
        for one in open_ones:
            assert next(found.events(one))["version"]
        assert found.end(number) == (0, "")
        for one in open_ones:
            one.close()


def test_a_second_page_on_the_same_port_or_address_is_refused_in_one_sentence(bench):
    with page(bench, *PORT) as first:
        said = bench.refused("page", "--no-open", "--at", str(first.number), *PORT)
        assert "is not free" in said
        first.until("1.condition", "probe out")
        assert "Another program" in bench.refused("watch", *PORT)


def test_the_page_waits_for_a_board_and_says_so(bench):
    with page(bench, "--port", "/dev/ttyNONE") as found:
        assert "There is no port /dev/ttyNONE" in found.until("1.next", "There is no port")
        status, text = found.ask("/")
        assert status == 200
        assert "no board" in text
        assert found.end() == (0, "")


@pytest.mark.parametrize("at", ["-1", "65536"])
def test_a_number_that_is_no_address_is_refused(bench, at):
    assert f"--at is {at}" in bench.refused("page", "--at", at)


def test_a_calibration_step_by_step_asks_before_it_writes(bench, monkeypatch):
    """Ice bath, by the real firmware and the real command; the page answers its question."""
    monkeypatch.setenv("SNAPCURVE_REHEARSAL_SPEED", "200")
    with page(bench, *PORT) as found:
        found.until("1.condition", "probe out")
        for answer, came in (("no", "Nothing was written"), ("yes", "read back and compared")):
            status, _ = found.ask("/probe/step/ice", {})
            assert status == 303
            found.until("job", 'value="yes"')  # the words of an earlier question may still stand
            found.ask("/probe/answer", {"word": answer})
            assert came in found.until("job", "noted")
            found.until("1.condition", "probe out")  # the board was lent and is back
        assert "calibrated" not in found.until("1.remark", "")
        assert found.end() == (0, "")
