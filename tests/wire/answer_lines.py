"""The board's codec as a service, to be run by the interpreter under test.

Each line on stdin is a JSON list: ["pack", name, values] or ["parse", name, hex]. Each
line on stdout answers one: ["bytes", hex], ["values", values] or ["refused", code, field].
Bytes among values are hexadecimal texts.
"""

import binascii
import json
import sys

from vector_files import record_of

from snapcurve.wire import codec
from snapcurve.wire.errors import WireError


def _hex(raw):
    return binascii.hexlify(raw).decode()


def answer(how, name, given):
    """The answer to one line."""
    fields = record_of(name)
    tail = bool(fields) and fields[-1][1] == "*"
    try:
        if how == "pack":
            values = list(given)
            if tail and len(values) == len(fields) and isinstance(values[-1], str):
                values[-1] = binascii.unhexlify(values[-1])
            return ["bytes", _hex(codec.pack(record_of(name), values))]
        values = codec.unpack(record_of(name), binascii.unhexlify(given))
    except WireError as error:
        return ["refused", error.code, error.field]
    if tail:
        values[-1] = _hex(values[-1])
    return ["values", values]


if __name__ == "__main__":
    while True:
        line = sys.stdin.readline()
        if not line:
            break
        print(json.dumps(answer(*json.loads(line))))
