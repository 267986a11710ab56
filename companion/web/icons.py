"""Draws the app's icon as PNG for home screens: the drawing of ``static/icon.svg``, in the sizes that phones want.

    .venv/bin/python -m companion.web.icons

writes ``static/icons/``. The maskable one fills its square: a phone cuts its own shape out of it, and the drawing
lies within the middle 80 % that every shape leaves.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FOLDER = Path(__file__).parent / "static" / "icons"
SHEET = 32.0
"""The drawing's own width and height."""
GROUND, PAPER = (0x17, 0x50, 0x4C), (0xF6, 0xF2, 0xE9)
CORNER, PUPIL = 8.0, 5.0
FINENESS = 4
"""Each pixel is looked at this many times each way."""
FILES = {"icon-192.png": (192, True), "icon-512.png": (512, True), "maskable-512.png": (512, False)}
"""Name: width in pixels, and whether the corners are rounded."""


def drawn(width: int, rounded: bool) -> NDArray[np.uint8]:
    """Return the icon as red, green, blue and opacity, (width, width, 4)."""
    fine = (np.arange(width * FINENESS) + 0.5) / (width * FINENESS) * SHEET
    x, y = np.meshgrid(fine, fine)
    middle = SHEET / 2
    # The eye's edge is the curve from 5 to 27 with its handles at a height of 8: x and height by one parameter.
    along = np.linspace(0.0, 1.0, 400)
    back = 1 - along
    edge_x = 5 * back**3 + 3 * 11 * along * back**2 + 3 * 21 * along**2 * back + 27 * along**3
    edge_height = 3 * 8 * along * back
    eye = np.abs(y - middle) <= np.interp(x, edge_x, edge_height, left=-1.0, right=-1.0)
    pupil = (x - middle) ** 2 + (y - middle) ** 2 <= PUPIL**2
    paper = eye & ~pupil
    inset = np.maximum(np.abs(np.stack((x, y)) - middle) - (middle - CORNER), 0.0)
    ground = (inset**2).sum(axis=0) <= CORNER**2 if rounded else np.ones_like(paper)
    share, opacity = _mean(paper, width), _mean(ground, width)
    colours = [g + (p - g) * share for g, p in zip(GROUND, PAPER, strict=True)]
    return np.stack([*colours, 255 * opacity], axis=-1).round().astype(np.uint8)


def _mean(inside: NDArray[np.bool_], width: int) -> NDArray[np.float64]:
    means: NDArray[np.float64] = inside.reshape(width, FINENESS, width, FINENESS).mean(axis=(1, 3))
    return means


def png(pixels: NDArray[np.uint8]) -> bytes:
    """Write pixels as a PNG of 8 bits a channel, each row unfiltered."""
    height, width, _ = pixels.shape
    rows = b"".join(b"\0" + row.tobytes() for row in pixels)
    header = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, content) for kind, content in parts)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, (width, rounded) in FILES.items():
        (FOLDER / name).write_bytes(png(drawn(width, rounded)))
