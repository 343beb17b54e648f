"""The three codecs behind one pair of calls: board under CPython, board under MicroPython,
host with construct. A refusal is None, whatever exception stands for it."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import construct
from vector_files import record_of

from snapcurve.board import structs
from snapcurve.wire import codec
from snapcurve.wire.errors import WireError
from tests.patience import LONGEST_S

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


def is_tail(fields):
    """Whether the last of ``fields`` is bytes without a length of their own."""
    return bool(fields) and fields[-1][1] == "*"


def board_pack(name, values):
    try:
        return codec.pack(record_of(name), values)
    except WireError:
        return None


def board_parse(name, payload):
    try:
        return codec.unpack(record_of(name), payload)
    except WireError:
        return None


def host_pack(name, values):
    fields = record_of(name)
    assert len(values) <= len(fields), "a dictionary cannot say this"
    named = dict(zip([row[0] for row in fields], values, strict=False))
    try:
        return structs.build(record_of(name), named)
    except (construct.ConstructError, KeyError):
        return None


def host_parse(name, payload):
    try:
        return list(structs.parse_exactly(record_of(name), payload).values())
    except construct.ConstructError:
        return None


def micropython():
    """The MicroPython that is installed beside this Python."""
    beside = Path(sys.executable).with_name("micropython")
    found = str(beside) if beside.exists() else shutil.which("micropython")
    assert found, "micropython is not installed: install the project with its dev extra"
    return found


def line_of(how, name, given):
    """One line for answer_lines.py."""
    if how == "parse":
        return json.dumps([how, name, given.hex()])
    values = [value.hex() if isinstance(value, bytes) else value for value in given]
    # MicroPython's json knows no surrogate pairs, so characters go as themselves; half a
    # pair has no such form and goes as an escape.
    lone = any(isinstance(v, str) and any("\ud800" <= c <= "\udfff" for c in v) for v in values)
    return json.dumps([how, name, values], ensure_ascii=lone)


def under_micropython(lines):
    """What answer_lines.py says to ``lines``: bytes, a list of values, or (code, field)."""
    done = subprocess.run(
        [micropython(), str(HERE / "answer_lines.py")],
        input="".join(line + "\n" for line in lines).encode(),
        env=os.environ | {"MICROPYPATH": f"{ROOT / 'protocol'}:{HERE}"},
        capture_output=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    answers = [json.loads(line) for line in done.stdout.decode().splitlines()]
    assert len(answers) == len(lines)
    result = []
    for line, (kind, *rest) in zip(lines, answers, strict=True):
        if kind == "bytes":
            result.append(bytes.fromhex(rest[0]))
        elif kind == "values":
            values = rest[0]
            if is_tail(record_of(json.loads(line)[1])):
                values[-1] = bytes.fromhex(values[-1])
            result.append(values)
        else:
            result.append(tuple(rest))
    return result
