"""Photos from strangers' phones, and files that only call themselves one."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image, ImageCms, ImageDraw

from companion.common.errors import InvalidInput
from companion.exchange.picture import LARGEST, LONGEST, read_picture


def eye(size: tuple[int, int] = (800, 600), kind: str = "JPEG", mode: str = "RGB", **more: object) -> bytes:
    """A drawn eye, red in its right half."""
    image = Image.new("RGB", size, "#f6f2e9")
    pen = ImageDraw.Draw(image)
    pen.rectangle((size[0] // 2, 0, size[0], size[1]), fill="#c03030")
    made = BytesIO()
    image.convert(mode).save(made, kind, **more)
    return made.getvalue()


def code(content: bytes) -> str:
    with pytest.raises(InvalidInput) as caught:
        read_picture(content)
    assert caught.value.problems[0].field == "photo"
    return caught.value.problems[0].code


def chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png(width: int, height: int, rows: bytes) -> bytes:
    """A PNG whose head may promise anything (W3C, PNG third edition, 11.2.1)."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA", "P", "CMYK", "1"])
def test_what_a_phone_makes_comes_out_as_a_jpeg(kind: str, mode: str) -> None:
    if (kind, mode) in {("JPEG", "RGBA"), ("JPEG", "P"), ("PNG", "CMYK"), ("WEBP", "CMYK")}:
        return  # no such file
    made = read_picture(eye(kind=kind, mode=mode))
    with Image.open(BytesIO(made.jpeg)) as image:
        assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (800, 600))
    assert (made.width, made.height) == (800, 600)


def test_a_large_one_is_made_smaller_and_keeps_its_shape() -> None:
    made = read_picture(eye((4032, 3024)))
    assert (made.width, made.height) == (LONGEST, LONGEST * 3 // 4)
    assert len(made.jpeg) < 500_000


def test_where_it_was_taken_and_all_else_beside_the_pixels_is_gone() -> None:
    exif = Image.Exif()
    exif[0x010F] = "A maker"
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 0.0)})  # Exif 2.32: GPS
    sent = eye(exif=exif, comment=b"where we live", dpi=(72, 72))
    assert b"A maker" in sent and b"where we live" in sent
    made = read_picture(sent).jpeg
    assert b"A maker" not in made and b"where we live" not in made and b"Exif" not in made
    with Image.open(BytesIO(made)) as image:
        assert not image.getexif() and set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_a_phone_held_on_its_side_is_set_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.32: the top of the scene is on the right of the file
    made = read_picture(eye((800, 600), exif=exif))
    assert (made.width, made.height) == (600, 800)
    with Image.open(BytesIO(made.jpeg)) as image:
        below, above = (image.getpixel((300, y)) for y in (700, 100))
    assert below[1] < 90 < above[1], "the red half lies below now"  # type: ignore[index]


def test_colours_stay_what_they_are_and_a_spoilt_profile_stops_nothing() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    same = read_picture(eye(icc_profile=profile.tobytes()))
    plain = read_picture(eye())
    for made in (same, plain):
        with Image.open(BytesIO(made.jpeg)) as image:
            red = image.getpixel((700, 300))
            assert abs(red[0] - 0xC0) < 6 and abs(red[1] - 0x30) < 6  # type: ignore[index]
    assert read_picture(eye(icc_profile=b"no profile at all")).width == 800


def test_a_picture_that_hides_a_page_or_an_archive_leaves_it_behind() -> None:
    page, archive = b"<script>alert(1)</script>", b"PK\x03\x04 hidden"
    sent = eye(comment=page) + archive + page
    made = read_picture(sent).jpeg
    assert page not in made and archive not in made
    assert made.startswith(b"\xff\xd8\xff") and made.endswith(b"\xff\xd9")


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", id="svg"),
        pytest.param(b"GIF89a" + bytes(200), id="gif"),
        pytest.param(eye(kind="GIF"), id="whole-gif"),
        pytest.param(eye(kind="BMP"), id="bmp"),
        pytest.param(eye(kind="TIFF"), id="tiff"),
        pytest.param(eye(kind="PDF"), id="pdf"),
        pytest.param(eye(kind="EPS"), id="postscript"),
        pytest.param(b"\x00\x00\x00\x18ftypheic" + bytes(200), id="heic"),
        pytest.param(b"PK\x03\x04" + bytes(100), id="archive"),
        pytest.param(b"\xff\xd8\xff", id="three-bytes"),
        pytest.param(bytes(1000), id="nothing-in-it"),
        pytest.param(b"<!doctype html><p>An eye", id="page"),
    ],
)
def test_what_is_no_photo_is_refused_whatever_it_calls_itself(content: bytes) -> None:
    assert code(content) == "photo_unreadable"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_broke_off_is_refused(kind: str) -> None:
    whole = eye(kind=kind, **({"lossless": True} if kind == "WEBP" else {}))
    assert code(whole[: len(whole) // 2]) == "photo_unreadable"


def test_a_small_file_that_would_fill_the_memory_is_refused_unread() -> None:
    """A decompression bomb: 40,000 by 40,000 pixels from a few bytes, or a head that says so."""
    assert code(png(40_000, 40_000, zlib.compress(bytes(1000)))) == "photo_too_large"
    assert code(png(6_000, 6_000, zlib.compress(bytes(1000)))) == "photo_too_large"
    assert code(png(2**31 - 1, 1, b"")) == "photo_too_large"
    assert code(png(0, 10, b"")) == "photo_unreadable"


def test_a_head_that_promises_other_than_the_file_holds_is_refused() -> None:
    assert code(png(500, 500, zlib.compress(bytes(10)))) == "photo_unreadable"


def test_H3_a_small_file_that_would_keep_the_house_busy_for_hours_is_refused_unread() -> None:
    """The same scan of a progressive JPEG over and over: each goes over every pixel, and is a few bytes long."""
    usual = eye(progressive=True)
    last = usual[usual.rfind(b"\xff\xda") : -2]
    assert read_picture(usual[:-2] + last * 20 + usual[-2:])
    assert code(usual[:-2] + last * 2000 + usual[-2:]) == "photo_unreadable"
    film = bytes(one % 256 for one in range(3000)) + last * 200
    assert read_picture(usual + film), "what stands behind a photo is nobody's scan: some phones put a film there"


def test_a_photo_with_further_pictures_behind_it_is_the_first() -> None:
    made = BytesIO()
    depth = Image.new("L", (80, 60))
    Image.open(BytesIO(eye())).save(made, "MPO", save_all=True, append_images=[depth])
    assert (read_picture(made.getvalue()).width, read_picture(made.getvalue()).height) == (800, 600)


def test_nothing_and_too_much() -> None:
    assert code(b"") == "photo_missing"
    assert code(bytes(LARGEST + 1)) == "photo_too_large"


def test_a_moving_picture_is_its_first_moment() -> None:
    first, second = Image.new("RGB", (40, 30), "white"), Image.new("RGB", (40, 30), "black")
    sent = BytesIO()
    first.save(sent, "WEBP", save_all=True, append_images=[second], lossless=True)
    with Image.open(BytesIO(read_picture(sent.getvalue()).jpeg)) as image:
        assert image.getpixel((5, 5)) == (255, 255, 255)


def test_spoilt_bytes_anywhere_never_break_the_reader() -> None:
    """One byte changed at a time, all through a small file of each kind: a photo, or refused; nothing else."""
    for kind in ("JPEG", "PNG", "WEBP"):
        whole = eye((24, 16), kind)
        for at in range(0, len(whole), 3):
            spoilt = bytearray(whole)
            spoilt[at] ^= 0xA5
            try:
                made = read_picture(bytes(spoilt))
            except InvalidInput:
                continue
            assert made.jpeg.startswith(b"\xff\xd8\xff") and max(made.width, made.height) <= LONGEST
