"""Pictures as the notebook keeps them: really pictures, of a bounded size, without metadata.

A telephone writes into a picture where it was taken, when and by which telephone. None of that
is kept: what holds anything beside the picture itself (Exif, XMP, IPTC, texts, a film behind its
end) is saved anew, turned as it was shown. One that holds nothing else is kept byte for byte.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import Picture
from snapcurve.shown.input_files import MIB

if TYPE_CHECKING:
    from PIL import Image

BYTES_MAX = 8 * MIB
PIXELS_MAX = 64_000_000
"""So many are 200 MB while they are looked at; few bytes can stand for many more."""

ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}
"""By the media types that are kept."""

# Pillow's names; MPO is a JPEG with another behind it, as some telephones write them.
_TYPES = {
    "JPEG": "image/jpeg",
    "MPO": "image/jpeg",
    "PNG": "image/png",
    "WEBP": "image/webp",
}
# What may stand in a file beside the picture: size, palette and colours. The PNG Specification
# (third edition), chapter 11; RFC 9649, section 2.7; ITU-T T.81, annex B, and T.871 (JFIF).
_PNG_CHUNKS = set(
    b"IHDR PLTE IDAT IEND tRNS cHRM cICP gAMA iCCP mDCV cLLI sBIT sRGB bKGD pHYs".split()
)
_WEBP_CHUNKS = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"}
_JPEG_APPS = re.compile(
    rb"\xff(?:\xe0\0\x10JFIF\0|\xe2..ICC_PROFILE\0|\xee\0\x0eAdobe)", re.DOTALL
)
_JPEG_OTHERS = re.compile(rb"\xff[\xe0-\xef\xfe]")
_COLOURS = ("icc_profile", "transparency")


def kept(raw: bytes) -> Picture:
    """The picture in the file `raw` as it is to be kept.

    Raises SnapcurveError for what is empty, no whole JPEG, PNG or WebP, moving, or larger than
    BYTES_MAX or PIXELS_MAX.
    """
    if not raw:
        raise SnapcurveError("The picture is empty; choose another file.")
    _refuse_large(raw)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of odd metadata, which goes anyway
        try:
            image = _opened(raw)
            image.load()
            content = raw if _is_bare(raw, str(image.format)) else _saved_anew(image, raw)
        except SnapcurveError:
            raise
        except Exception as error:  # of a damaged file its decoder may raise anything
            raise SnapcurveError(
                "The picture is no JPEG, PNG or WebP, or is damaged; choose another file."
            ) from error
    _refuse_large(content)
    return Picture(_TYPES[str(image.format)], content)


def _refuse_large(raw: bytes) -> None:
    if len(raw) > BYTES_MAX:
        raise SnapcurveError(
            f"The picture is larger than {BYTES_MAX // MIB} MiB; save it smaller first."
        )


def _opened(raw: bytes) -> Image.Image:
    from PIL import Image

    try:
        image = Image.open(io.BytesIO(raw), formats=("JPEG", "PNG", "WEBP"))
        pixels = image.width * image.height
    except Image.DecompressionBombError:
        pixels = PIXELS_MAX + 1
    if pixels > PIXELS_MAX:
        raise SnapcurveError(
            f"The picture has more than {PIXELS_MAX // 1_000_000} million pixels; save it"
            " smaller first."
        )
    if image.format != "MPO" and getattr(image, "n_frames", 1) > 1:
        raise SnapcurveError("The picture moves; save one still picture of it first.")
    return image


def _saved_anew(image: Image.Image, raw: bytes) -> bytes:
    """As it was shown and as finely as it was saved, and nothing else."""
    from PIL import ImageOps, JpegImagePlugin

    how: dict[str, Any] = {}
    if isinstance(image, JpegImagePlugin.JpegImageFile):
        kind = "JPEG"
        how = {
            "qtables": image.quantization,
            "subsampling": JpegImagePlugin.get_sampling(image),
        }
    elif image.format == "WEBP":
        kind, how = "WEBP", {"lossless": b"VP8L" in dict(_webp_chunks(raw)), "quality": 90}
    else:
        kind = "PNG"
    turned = ImageOps.exif_transpose(image)
    # Pillow writes some of what it read, such as comments, unless it is gone.
    turned.info = {name: turned.info[name] for name in _COLOURS if name in turned.info}
    target = io.BytesIO()
    turned.save(target, kind, icc_profile=turned.info.get("icc_profile"), **how)
    return target.getvalue()


# --- what a file holds -------------------------------------------------------------------


def _is_bare(raw: bytes, kind: str) -> bool:
    """Whether there is nothing in the file but the picture; in doubt there is."""
    if kind == "PNG":
        return _are_only(_png_chunks(raw), _PNG_CHUNKS, len(raw))
    if kind == "WEBP":
        return _are_only(_webp_chunks(raw), _WEBP_CHUNKS, len(raw))
    return kind == "JPEG" and _is_bare_jpeg(raw)


def _are_only(chunks: Iterator[tuple[bytes, int]], known: set[bytes], end: int) -> bool:
    found = list(chunks)
    return {name for name, _ in found} <= known and found[-1][1] == end


def _png_chunks(raw: bytes) -> Iterator[tuple[bytes, int]]:
    """The name of each chunk and where it ends."""
    at, name = 8, b""
    while at < len(raw) and name != b"IEND":
        name = raw[at + 4 : at + 8]
        at += 12 + int.from_bytes(raw[at : at + 4], "big")
        yield name, at
    if at != len(raw):
        yield b"more", len(raw)


def _webp_chunks(raw: bytes) -> Iterator[tuple[bytes, int]]:
    """As of a PNG."""
    at, end = 12, 8 + int.from_bytes(raw[4:8], "little")
    while at < end:
        size = int.from_bytes(raw[at + 4 : at + 8], "little")
        name, at = raw[at : at + 4], at + 8 + size + size % 2
        yield name, at
    if at != len(raw):
        yield b"more", len(raw)


def _is_bare_jpeg(raw: bytes) -> bool:
    at = 2
    while raw[at : at + 2] != b"\xff\xda":  # start of scan
        if _JPEG_OTHERS.match(raw, at) and not _JPEG_APPS.match(raw, at):
            return False
        size = int.from_bytes(raw[at + 2 : at + 4], "big")
        if raw[at : at + 1] != b"\xff" or size < 2:
            return False
        at += 2 + size
    # In what was scanned a byte FF is never followed by one of these.
    return not _JPEG_OTHERS.search(raw, at) and raw.find(b"\xff\xd9", at) == len(raw) - 2
