"""What a board objects to reaches the person: which board, which field of which request, the code,
and whose mistake it is."""

import sys
from pathlib import Path

import pytest

from snapcurve.board.client import Board
from snapcurve.errors import Refused
from snapcurve.wire import catalogue, codec
from snapcurve.wire.frame import FrameReader, FrameWriter

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from damaging_wire import Wire
from vector_files import refusal_of, rows

OUR_MISTAKE = "this is a mistake in snapcurve, report it with this line."


def _refused(board, name, **values):
    with pytest.raises(Refused) as caught:
        board.ask(name, **values)
    sentence = str(caught.value)
    assert "\n" not in sentence
    return caught.value.code, sentence


def test_the_firmware_refuses_an_interval(tmp_path):
    wire = Wire(tmp_path)
    code, sentence = _refused(Board(wire, wire.clock), "live_on", interval_ms=5)
    assert code == "bad_value"
    assert sentence == (
        f"The board on /dev/wire refused interval_ms of live_on (bad_value): {OUR_MISTAKE}"
    )


def test_the_firmware_refuses_a_profile(tmp_path):
    wire = Wire(tmp_path)
    _, sentence = _refused(Board(wire, wire.clock), "profile_put", profile=b"\xff" * 60)
    assert sentence.startswith("The board on /dev/wire refused profile of profile_put (bad_")
    assert sentence.endswith(OUR_MISTAKE)


def test_the_firmware_has_no_such_curve(tmp_path):
    wire = Wire(tmp_path)
    board = Board(wire, wire.clock)
    code, sentence = _refused(board, "curve_read", curve=9, offset=0, longest=32)
    assert code == "no_such_curve"
    assert sentence.startswith(
        "The board on /dev/wire refused curve of curve_read (no_such_curve): "
    )
    assert "mistake" not in sentence


class Objecting:
    """A port on which every request is refused with these values of `error`."""

    name = "/dev/ttyACM0"

    def __init__(self, *values):
        self._values = values
        self._reader = FrameReader(self._refuse)
        self._writer = FrameWriter()
        self._out = b""

    def _refuse(self, version, number, sequence, buffer, start, end):
        end = codec.pack_into(
            catalogue.message_record(catalogue.ERROR),
            self._writer.body,
            FrameWriter.PAYLOAD_AT,
            self._values,
        )
        length = self._writer.finish(catalogue.ERROR, sequence, end)
        self._out += bytes(self._writer.line[:length])

    def write(self, data):
        self._reader.feed(data)

    def read(self):
        out, self._out = self._out, b""
        return out


SOUND = catalogue.message_number("sound")
WHOSE = {
    "unknown_message": "its firmware is older than this tool",
    "bad_length": OUR_MISTAKE,
    "bad_value": OUR_MISTAKE,
    "bad_choice": OUR_MISTAKE,
    "bad_text": OUR_MISTAKE,
    "no_such_curve": "collect again",
    "not_the_same_curve": "it stays on the board",
    "still_recording": "still recording",
    "no_profile": "snapcurve load",
    "store_fault": "its flash failed",
}


@pytest.mark.parametrize("code", [one for one in catalogue.ERROR_CODES if one != "wrong_version"])
def test_every_code_says_whose_mistake_it_is(code):
    board = Board(Objecting(code, SOUND, 0, catalogue.PROTOCOL_VERSION))
    got, sentence = _refused(board, "sound", sound="hello")
    assert got == code
    assert sentence.startswith(f"The board on /dev/ttyACM0 refused sound of sound ({code}): ")
    assert WHOSE[code] in sentence


@pytest.mark.parametrize(
    ("request_number", "field", "words"),
    [
        (SOUND, 255, "refused sound (bad_value)"),
        (SOUND, 7, "refused field 7 of sound (bad_value)"),
        (0x6E, 255, "refused request 6E (bad_value)"),
        (0x6E, 3, "refused field 3 of request 6E (bad_value)"),
    ],
)
def test_a_place_that_is_none_is_told_as_it_came(request_number, field, words):
    values = ("bad_value", request_number, field, catalogue.PROTOCOL_VERSION)
    assert words in _refused(Board(Objecting(*values)), "sound", sound="hello")[1]


@pytest.mark.parametrize("row", rows("refusals.txt"), ids=lambda row: f"{row[0]}: {row[3]}")
def test_the_field_is_called_as_the_request_calls_it(row):
    name, _, refusal, _ = row
    code, place = refusal_of(refusal)
    number = catalogue.message_number(name)
    record = catalogue.message_record(number)
    field = f"{record[place][0]} of " if place != catalogue.NO_FIELD else ""
    board = Board(Objecting(code, number, place, catalogue.PROTOCOL_VERSION))
    assert f"refused {field}{name} ({code})" in _refused(board, "sound", sound="hello")[1]
