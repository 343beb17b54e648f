"""Frames gone wrong in every way we can think of, by a seeded rule."""

import binascii
import random

from cobs import cobs

from snapcurve.wire import catalogue, codec


def framed(body: bytes) -> bytes:
    """A frame with a right CRC around any body."""
    return b"\0" + cobs.encode(body + binascii.crc32(body).to_bytes(4, "little")) + b"\0"


def payload_for(chance: random.Random, record) -> bytes:
    """Mostly what the catalogue allows, with a random tail where it has one."""
    payload = chance.randbytes(codec.fixed_size(record))
    if record and record[-1][1] == "*":
        payload += chance.randbytes(chance.choice((0, 1, 7, 20, 60, record[-1][2])))
    return payload


def good_frame(chance: random.Random, numbers) -> bytes:
    """A frame of one of the messages, right in form, of any content."""
    number = chance.choice(numbers)
    body = bytearray(payload_for(chance, catalogue.message_record(number)))
    for _ in range(chance.randrange(3) if body else 0):
        body[chance.randrange(len(body))] = chance.choice((0, 1, 2, 0x7F, 0x80, 0xFF))
    head = bytes([catalogue.PROTOCOL_VERSION, number, chance.randrange(256)])
    return framed(head + bytes(body))


def mutated(chance: random.Random, frame: bytes) -> bytes:
    """The frame with something done to it."""
    way = chance.randrange(9)
    raw = bytearray(frame)
    at = chance.randrange(len(raw))
    if way == 0:
        raw[at] ^= 1 << chance.randrange(8)
    elif way == 1:
        del raw[at : at + chance.randrange(1, 9)]
    elif way == 2:
        raw[at:at] = chance.randbytes(chance.randrange(1, 9))
    elif way == 3:
        raw = raw[:at]
    elif way == 4:
        raw += raw[at:]
    elif way == 5:
        # Any body, with a right CRC: what gets through to the catalogue.
        raw = bytearray(framed(chance.randbytes(chance.randrange(0, 40))))
    elif way == 6:
        head = bytes([catalogue.PROTOCOL_VERSION, chance.randrange(256), 3])
        raw = bytearray(framed(head + chance.randbytes(at % 60)))
    elif way == 7:
        raw = bytearray(chance.randbytes(chance.choice((1, 5, 50, 1500))))
    else:
        raw = bytearray(bytes([chance.choice((0, 1, 0x43, 0xFF))]) * chance.choice((1, 300, 1500)))
    return bytes(raw)


def stream(seed: int, count: int, answers: bool):
    """About ``count`` bytes in pieces: good frames, mutated ones and noise.

    ``answers``: what a host gets; otherwise what a board gets.
    """
    chance = random.Random(seed)
    numbers = [
        number for number, _, _ in catalogue.MESSAGES if (number >= catalogue.LIVE) == answers
    ]
    made = 0
    while made < count:
        piece = good_frame(chance, numbers)
        if chance.random() < 0.8:
            piece = mutated(chance, piece)
        if piece:
            made += len(piece)
            yield piece
