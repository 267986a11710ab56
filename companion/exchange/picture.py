"""A photo that somebody sent, made anew: whatever comes in, a plain JPEG of modest size goes out.

Nothing of the file itself is kept, so nothing that hides in it is either: no place where it was taken, no
thumbnail of what was cut away, no second file behind the first. Its colours are brought to sRGB: redness is what
it is about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from io import BytesIO
from threading import Lock

from PIL import Image, ImageCms, ImageOps

from companion.common.errors import InvalidInput, Problem

LONGEST = 1600
"""Of the longer side [px]: enough for an eye, and a few hundred kB."""
LARGEST = 12_000_000
"""A file [bytes]: what a phone's camera makes, sent by a form without script."""
MOST_PIXELS = {"JPEG": 64_000_000, "PNG": 24_000_000, "WEBP": 24_000_000}
"""By what decoding costs: a JPEG comes out small at once, the others whole. Other kinds are not read at all."""
SEVERAL = "MPO"
"""A JPEG with further pictures behind it, as many phones make them; the first is the photo."""
MOST_SCANS = 40
"""A progressive JPEG has about ten. Each goes over the whole picture, and costs a file a few bytes to ask for."""
_MARKER = re.compile(rb"\xff([^\x00\x01\xff\xd0-\xd8])")
_SCAN, _END = b"\xda", b"\xd9"
_QUALITY = 85
_ONE_AT_A_TIME = Lock()
"""Decoding is what costs memory: a dozen at once would take it from whoever reports an eye."""


@dataclass(frozen=True)
class Picture:
    jpeg: bytes
    width: int
    height: int


def read_picture(content: bytes, field: str = "photo") -> Picture:
    """Make a photo anew, or raise InvalidInput."""
    if not content:
        raise InvalidInput(Problem("photo_missing", field))
    if len(content) > LARGEST:
        raise InvalidInput(Problem("photo_too_large", field))
    if _too_many_scans(content):
        raise InvalidInput(Problem("photo_unreadable", field))
    try:
        with _ONE_AT_A_TIME, Image.open(BytesIO(content), formats=tuple(MOST_PIXELS)) as image:
            kind = "JPEG" if image.format == SEVERAL else image.format or ""
            if image.width * image.height > MOST_PIXELS[kind]:
                raise InvalidInput(Problem("photo_too_large", field))
            return _made_anew(image)
    except InvalidInput:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise InvalidInput(Problem("photo_too_large", field)) from error
    except Exception as error:  # a spoilt file breaks its decoder in many ways, and each means the same here
        raise InvalidInput(Problem("photo_unreadable", field)) from error


def _too_many_scans(content: bytes) -> bool:
    """Say whether a JPEG's first picture is written in more scans than any camera makes (ITU-T T.81, B.1.1)."""
    scans, found = 0, _MARKER.search(content) if content.startswith(b"\xff\xd8") else None
    while found and found[1] != _END and scans <= MOST_SCANS:
        scans += found[1] == _SCAN
        after = found.end() + int.from_bytes(content[found.end() : found.end() + 2])
        found = _MARKER.search(content, after)
    return scans > MOST_SCANS


def _made_anew(image: Image.Image) -> Picture:
    image.draft("RGB", (LONGEST, LONGEST))
    profile = image.info.get("icc_profile")
    image = ImageOps.exif_transpose(image)
    image.thumbnail((LONGEST, LONGEST))
    if image.mode not in ("RGB", "L"):
        image = image.convert("RGBA")
    elif profile and image.mode == "RGB":
        image = _in_srgb(image, profile)
    # A new canvas: what the old one carries beside its pixels stays behind.
    clean = Image.new("RGB", image.size, "white")
    clean.paste(image, mask=image if image.mode == "RGBA" else None)
    made = BytesIO()
    clean.save(made, "JPEG", quality=_QUALITY)
    return Picture(made.getvalue(), clean.width, clean.height)


def _in_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    """Bring a wide camera's colours to everybody's: read as they stand, a red eye would look paler."""
    try:
        meant = ImageCms.ImageCmsProfile(BytesIO(profile))
        converted = ImageCms.profileToProfile(image, meant, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image
    return converted or image
