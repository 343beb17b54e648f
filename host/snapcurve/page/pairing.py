"""Which tablets may use the page: a code read off the computer, once, for a while. Pure but for
chance; nothing is kept on disk, so a restart of the page forgets all tablets."""

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import short, visible

DIGITS = 8
TRIES = 5  # wrong codes from anyone; then the code is withdrawn
CODE_S = 600.0
DEVICE_S = 12 * 3600.0
DEVICES_MOST = 8
_WITHDRAWN = "This code no longer counts: make a new one on the computer, under Tablet."


@dataclass(frozen=True)
class Device:
    """A tablet that was let in; ``number`` is what the page calls it."""

    number: int
    name: str
    since_s: float


class Pairing:
    """Codes and the tablets they let in; ``clock`` returns seconds and never goes back."""

    def __init__(self, clock: Callable[[], float] = time.monotonic):
        self._clock = clock
        self._code = ""
        self._until_s = 0.0
        self._wrong = 0
        self._devices: dict[bytes, Device] = {}
        self._count = 0

    def new_code(self) -> str:
        """A fresh code; the one before no longer counts."""
        self._code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        self._until_s = self._clock() + CODE_S
        self._wrong = 0
        return self._code

    @property
    def code(self) -> str:
        """The code that counts now, "" if there is none."""
        return self._code if self._clock() < self._until_s else ""

    def admit(self, text: str, name: str) -> str:
        """The secret of a tablet that gives the right code. SnapcurveError for a wrong one, one
        that was used, is too old or was guessed at too often, and for too many tablets."""
        given = "".join(text.split())
        if not self.code:
            raise SnapcurveError(_WITHDRAWN)
        if not secrets.compare_digest(given.encode(), self._code.encode()):
            self._wrong += 1
            if self._wrong >= TRIES:
                self._code = ""
                raise SnapcurveError(_WITHDRAWN)
            left = TRIES - self._wrong
            raise SnapcurveError(f"That is not the code on the computer: {left} tries are left.")
        self._forget_old()
        if len(self._devices) >= DEVICES_MOST:
            raise SnapcurveError(
                f"{DEVICES_MOST} tablets are paired: remove one on the computer, under Tablet."
            )
        self._code = ""  # it counts once
        secret = secrets.token_urlsafe(32)
        self._count += 1
        said = short(visible(name)) or "tablet"
        self._devices[_digest(secret)] = Device(self._count, said, self._clock())
        return secret

    def known(self, secret: str) -> bool:
        """Whether a tablet with this secret was let in, not too long ago, and not removed."""
        self._forget_old()
        return _digest(secret) in self._devices

    def devices(self) -> list[Device]:
        """The tablets that are in."""
        self._forget_old()
        return list(self._devices.values())

    def remove(self, number: int) -> None:
        """Let a tablet in no longer."""
        self._devices = {key: one for key, one in self._devices.items() if one.number != number}

    def _forget_old(self) -> None:
        end_s = self._clock() - DEVICE_S
        self._devices = {key: one for key, one in self._devices.items() if one.since_s > end_s}


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "surrogateescape")).digest()
