"""A photograph's file as pixels: the right way up, of a size that memory can hold, with what its EXIF says of the lens alone.

Where it was taken, when, and by whose phone is never read.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gapbook.errors import GapbookError, Place, fail

MOST_PIXELS = 64_000_000
"""Larger pictures are refused before they are unpacked: a file of some kilobytes can unpack to gigabytes."""
LEAST_PIXELS = 400_000
LARGEST_FILE = 1 << 27
"""Bytes of a photograph's file."""
_EXIF, _FOCAL_35 = 0x8769, 0xA405
FORMATS = ("JPEG", "PNG", "HEIF", "WEBP", "TIFF")
_HEIF_BRANDS = (b"heic", b"heix", b"mif1", b"heim", b"msf1", b"hevc")


Pixels = NDArray[np.uint8]


class Photograph(NamedTuple):
    """A photograph.

    name: how it is called
    pixels: red, green, blue as sRGB [H, W, 3], the right way up
    focal_35mm: focal length as for 35 mm film by its EXIF [mm]; None if that does not say
    digest: SHA-256 of its file in hexadecimal digits
    """

    name: str
    pixels: Pixels
    focal_35mm: float | None
    digest: str


def opened(content: bytes, name: str) -> Photograph:
    """The photograph in a file's bytes. GapbookError if it is no picture, too large or too small, or damaged."""
    from PIL import Image, ImageOps  # late: only here

    heif = content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS
    if heif and not _reads_heif():
        fix = "Save it as JPEG: on the phone, share it with 'most compatible', or open it on a computer and export it"
        raise fail("picture-format", "HEIC pictures need the library pillow-heif", place=Place(name), found="HEIC", fix=fix)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=[one for one in FORMATS if heif or one != "HEIF"]) as picture:
                _must_fit(picture.size, name)
                exif = picture.getexif()
                focal = _focal(exif.get_ifd(_EXIF).get(_FOCAL_35))
                upright: Any = ImageOps.exif_transpose(picture)
                pixels = np.asarray(upright.convert("RGB"))
    except GapbookError:
        raise
    except Image.DecompressionBombError:
        raise _too_large(name, "far more pixels than a phone's pictures have") from None
    except Exception as error:  # Pillow's decoders raise many kinds
        expected = "a whole JPEG or PNG"
        message = "it cannot be opened as a picture"
        raise fail("picture-format", message, place=Place(name), found=type(error).__name__, expected=expected) from None
    return Photograph(name, pixels, focal, hashlib.sha256(content).hexdigest())


def _reads_heif() -> bool:
    try:
        import pillow_heif  # type: ignore[import-not-found]  # late: seldom installed
    except ImportError:
        return False
    pillow_heif.register_heif_opener()
    return True


def _must_fit(size: tuple[int, int], name: str) -> None:
    pixels = size[0] * size[1]
    found = f"{size[0]:,} by {size[1]:,} pixels"
    if pixels > MOST_PIXELS:
        raise _too_large(name, found)
    if pixels < LEAST_PIXELS:
        raise fail("picture-size", "the picture is too small", place=Place(name), found=found, expected="at least 0.4 Mpx")


def _too_large(name: str, found: str) -> GapbookError:
    fix = "Take it with the phone's usual resolution"
    return fail("picture-size", "the picture is too large", place=Place(name), found=found, expected="at most 64 Mpx", fix=fix)


def _focal(value: Any) -> float | None:
    try:
        focal = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 10.0 <= focal <= 200.0 else None
