"""Photos: what may say where or when is gone, the picture stays as it was, and what cannot be cleaned is refused."""

from __future__ import annotations

import base64
import struct
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import InputError
from diagnose.show.report import photos, read_photo
from diagnose.show.report.photos import photo_of

SECRET = b"50 10 03 N, 5 01 02 W, kept by nobody"
SCAN = b"\x12\x34\xff\x00\x56\xff\xd0\x78\x9a\xff\xd1\xbc"
"""Coded data with a stuffed byte and two restarts in it (ITU-T T.81, B.1.1.5 and B.2.1)."""


def segment(marker: int, body: bytes) -> bytes:
    """One marker segment of a JPEG: the length counts itself and the body (ITU-T T.81, B.1.1.4)."""
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def exif(turned: int | None, order: str = ">") -> bytes:
    """An EXIF block with which way up, and a place behind it (TIFF 6.0; Exif 2.3, tag 0x0112)."""
    entries = [struct.pack(f"{order}HHIHH", 0x0112, 3, 1, turned, 0)] if turned else []
    entries.append(struct.pack(f"{order}HHII", 0x8825, 4, 1, 60))
    mark = b"MM" if order == ">" else b"II"
    head = mark + struct.pack(f"{order}HI", 42, 8) + struct.pack(f"{order}H", len(entries)) + b"".join(entries) + bytes(4)
    return b"Exif\x00\x00" + head + SECRET


def jpeg(*extra: bytes, width: int = 40, height: int = 30, trailer: bytes = b"") -> bytes:
    """The frame of a JPEG with any further segments before its tables; not a picture that could be drawn."""
    return b"".join(
        [
            b"\xff\xd8",
            segment(0xE0, b"JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"),
            *extra,
            segment(0xDB, bytes(65)),
            segment(0xC0, struct.pack(">BHHB", 8, height, width, 1) + b"\x01\x11\x00"),
            segment(0xC4, bytes(20)),
            segment(0xDA, b"\x01\x01\x00\x00\x3f\x00"),
            SCAN,
            b"\xff\xd9",
            trailer,
        ]
    )


def chunk(name: bytes, body: bytes) -> bytes:
    """One chunk of a PNG (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I4s", len(body), name) + body + struct.pack(">I", zlib.crc32(name + body))


def png(*extra: bytes, width: int = 2, height: int = 1, trailer: bytes = b"") -> bytes:
    """A grey PNG with any further chunks before its data."""
    data = zlib.compress(b"".join(b"\x00" + bytes(width) for _ in range(height)))
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(extra) + chunk(b"IDAT", data) + chunk(b"IEND", b"") + trailer


DIRTY_JPEG = {
    "place in EXIF": jpeg(segment(0xE1, exif(None))),
    "XMP": jpeg(segment(0xE1, b"http://ns.adobe.com/xap/1.0/\x00" + SECRET)),
    "captions of the press": jpeg(segment(0xED, b"Photoshop 3.0\x00" + SECRET)),
    "a comment": jpeg(segment(0xFE, SECRET)),
    "a preview": jpeg(segment(0xE2, b"MPF\x00" + SECRET)),
    "a maker's block": jpeg(segment(0xEB, SECRET)),
    "a second picture behind the first": jpeg(trailer=jpeg(segment(0xFE, SECRET))),
    "text behind the end": jpeg(trailer=SECRET),
    "fill bytes before a marker": jpeg(b"\xff\xff" + segment(0xFE, SECRET)),
}
DIRTY_PNG = {
    "text": png(chunk(b"tEXt", b"Comment\x00" + SECRET)),
    "pressed text": png(chunk(b"zTXt", b"Comment\x00\x00" + zlib.compress(SECRET))),
    "text of the world": png(chunk(b"iTXt", b"Place\x00\x00\x00\x00\x00" + SECRET)),
    "EXIF": png(chunk(b"eXIf", exif(None)[6:])),
    "a time": png(chunk(b"tIME", b"\x07\xea\x05\x03\x14\x28\x00")),
    "text behind the end": png(trailer=SECRET),
}


@pytest.mark.parametrize("what", DIRTY_JPEG)
def test_a_jpeg_loses_all_but_the_picture(what: str) -> None:
    """Place, texts, previews and whatever stands behind the end are gone; tables, frame and coded data are kept byte by byte."""
    photo = photo_of(DIRTY_JPEG[what], "a pump")
    assert SECRET not in photo.data
    assert photo.data == jpeg().replace(segment(0xE0, b"JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"), b"")
    assert (photo.kind, photo.width, photo.height) == ("jpeg", 40, 30)


@pytest.mark.parametrize("what", DIRTY_PNG)
def test_a_png_loses_all_but_the_picture(what: str) -> None:
    """Texts, times, EXIF and whatever stands behind the end are gone; the picture is kept byte by byte."""
    photo = photo_of(DIRTY_PNG[what], "a pump")
    assert photo.data == png()
    assert (photo.kind, photo.width, photo.height) == ("png", 2, 1)


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("turned", range(1, 9))
def test_which_way_up_is_kept_and_nothing_else(turned: int, order: str) -> None:
    """The camera's turn stays, in a block of its own that holds no place; lying down changes width for height."""
    photo = photo_of(jpeg(segment(0xE1, exif(turned, order))), "a pump")
    assert SECRET not in photo.data
    assert (photo.width, photo.height) == ((30, 40) if turned >= 5 else (40, 30))
    assert (b"Exif" in photo.data) is (turned != 1)
    if turned != 1:
        assert struct.pack(">HHIH", 0x0112, 3, 1, turned) in photo.data


def test_colours_are_kept() -> None:
    """A colour profile and the mark of how colours are coded belong to the picture."""
    profile, adobe = segment(0xE2, b"ICC_PROFILE\x00\x01\x01abc"), segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x01")
    assert profile in photo_of(jpeg(profile), "x").data
    assert adobe in photo_of(jpeg(adobe), "x").data


@pytest.mark.parametrize("raw", [jpeg(segment(0xFE, SECRET)), png(chunk(b"tEXt", b"C\x00" + SECRET))], ids=["jpeg", "png"])
def test_half_a_photo_is_refused(raw: bytes) -> None:
    """Cut off anywhere, a photo is refused and says why."""
    for length in range(len(raw)):
        with pytest.raises(InputError, match="cannot be freed of what it may say about the place"):
            photo_of(raw[:length], "a pump")


@given(st.binary(max_size=40), st.integers(0, 160), st.sampled_from([jpeg(segment(0xE1, exif(6))), png(chunk(b"tEXt", b"C\x00" + SECRET))]))
def test_a_damaged_photo_is_read_or_refused(damage: bytes, at: int, raw: bytes) -> None:
    """With any bytes written over it a photo is either read, with a size, or refused with a message; nothing else happens."""
    broken = raw[:at] + damage + raw[at + len(damage) :]
    try:
        photo = photo_of(broken, "a pump")
    except InputError:
        return
    assert min(photo.width, photo.height) >= 1


@pytest.mark.parametrize("raw", [b"", b"GIF89a" + bytes(50), b"RIFF\x00\x00\x00\x00WEBPVP8 ", b"<svg/>", b"\x00\x00\x00\x18ftypheic"])
def test_other_kinds_are_refused(raw: bytes) -> None:
    """What is neither JPEG nor PNG cannot be cleaned here and is refused, with what would be right."""
    with pytest.raises(InputError) as refused:
        photo_of(raw, "a pump", where="pump.heic")
    assert refused.value.where == "pump.heic"
    assert "JPEG or PNG" in refused.value.right


def test_a_file_is_read_with_its_caption(tmp_path: Path) -> None:
    """A photo is read from its file; the caption and what it is about go with it, and the data are those that were cleaned."""
    path = tmp_path / "pump.png"
    path.write_bytes(DIRTY_PNG["text"])
    photo = read_photo(path, "Brown crust", "pump-weep")
    assert (photo.caption, photo.about) == ("Brown crust", "pump-weep")
    head, _, data = photo.uri.partition(",")
    assert head == "data:image/png;base64"
    assert base64.b64decode(data) == png()


def test_a_photo_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    """No file, a folder, no caption: each is refused with the file's name."""
    path = tmp_path / "pump.png"
    path.write_bytes(png())
    for where, caption, what in ((tmp_path / "ghost.png", "x", "no such file"), (tmp_path, "x", "folder"), (path, "  ", "no caption")):
        with pytest.raises(InputError, match=what) as refused:
            read_photo(where, caption)
        assert refused.value.where == str(where)


def test_a_picture_of_absurd_size_is_refused() -> None:
    """A few bytes that claim millions of pixels are not taken for a photo."""
    for raw in (jpeg(width=60_000, height=60_000), png(width=2)[:16] + b"\x00\x0f\xff\xff" * 2):
        with pytest.raises(InputError):
            photo_of(raw, "a pump")


def test_without_pillow_a_heavy_photo_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing can make it smaller, a photo too heavy for a report is refused, and says what would help."""
    monkeypatch.setattr(photos, "_pillow", lambda: None)
    monkeypatch.setattr(photos, "MOST_SHOWN", 100)
    with pytest.raises(InputError, match="too large for a report") as refused:
        photo_of(jpeg(), "a pump")
    assert "Pillow" in refused.value.right
    monkeypatch.setattr(photos, "MOST_SHOWN", 10_000)
    assert photo_of(jpeg(), "a pump").width == 40


# ------------------------------------------------------------------ against Pillow, an outside reader and writer of both kinds


@pytest.fixture
def pillow() -> Any:
    """Pillow's image module."""
    return pytest.importorskip("PIL.Image", reason="Pillow is not installed")


def taken(pillow: Any, size: tuple[int, int], turned: int = 1, **how: Any) -> bytes:
    """A photo as a camera writes it: a red left half, with a place, a time and a maker in its EXIF."""
    image = pillow.new("RGB", size, "white")
    image.paste((200, 30, 30), (0, 0, size[0] // 2, size[1]))
    data = pillow.Exif()
    data[0x0112], data[0x010F], data[0x0132] = turned, SECRET.decode(), "2026:05:03 20:40:00"
    place = data.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (50.0, 10.0, 3.0), "W", (5.0, 1.0, 2.0)
    out = BytesIO()
    image.save(out, exif=data, comment=SECRET, **{"format": "JPEG", "quality": 90, **how})
    return out.getvalue()


@pytest.mark.parametrize("how", [{}, {"progressive": True}, {"subsampling": 0}, {"restart_marker_rows": 1}])
def test_a_cleaned_jpeg_is_the_same_picture(pillow: Any, how: dict[str, Any]) -> None:
    """An outside reader finds the same pixels as before, no place, no maker and no comment; the turn is still there."""
    raw = taken(pillow, (64, 48), turned=6, **how)
    assert pillow.open(BytesIO(raw)).getexif().get_ifd(0x8825)
    photo = photo_of(raw, "a pump")
    with pillow.open(BytesIO(raw)) as before, pillow.open(BytesIO(photo.data)) as after:
        assert after.tobytes() == before.tobytes()
        assert dict(after.getexif()) == {0x0112: 6}
        assert dict(after.getexif().get_ifd(0x8825)) == {}
        assert "comment" not in after.info
    assert SECRET not in photo.data
    assert (photo.width, photo.height) == (48, 64)


@pytest.mark.parametrize("mode", ["RGB", "L", "P", "RGBA", "1"])
def test_a_cleaned_png_is_the_same_picture(pillow: Any, mode: str) -> None:
    """An outside reader finds the same pixels as before and no text, whatever the kind of PNG."""
    from PIL.PngImagePlugin import PngInfo

    told = PngInfo()
    told.add_text("Place", SECRET.decode())
    out = BytesIO()
    pillow.radial_gradient("L").resize((32, 20)).convert(mode).save(out, "PNG", pnginfo=told)
    photo = photo_of(out.getvalue(), "a pump")
    with pillow.open(BytesIO(out.getvalue())) as before, pillow.open(BytesIO(photo.data)) as after:
        assert after.convert("RGBA").tobytes() == before.convert("RGBA").tobytes()
        assert "Place" not in after.info
    assert SECRET not in photo.data


@pytest.mark.parametrize(("turned", "size"), [(1, (1600, 1200)), (6, (1200, 1600))])
def test_a_large_photo_is_made_smaller(pillow: Any, turned: int, size: tuple[int, int]) -> None:
    """The longer side is cut to what paper needs, upright as the camera was held, with nothing said about the place."""
    raw = taken(pillow, (2400, 1800), turned)
    photo = photo_of(raw, "a pump")
    assert (photo.width, photo.height) == size
    with pillow.open(BytesIO(photo.data)) as image:
        assert image.size == size
        assert dict(image.getexif()) == {}
        at = (100, 600) if turned == 1 else (600, 100)  # a quarter turn clockwise puts the left half on top
        assert abs(image.getpixel(at)[1] - 30) < 12


def test_a_large_picture_with_clear_parts_is_laid_on_white(pillow: Any) -> None:
    """See-through parts of a large PNG become paper, not black."""
    out = BytesIO()
    pillow.new("RGBA", (2000, 1000), (0, 0, 0, 0)).save(out, "PNG")
    photo = photo_of(out.getvalue(), "a pump")
    with pillow.open(BytesIO(photo.data)) as image:
        assert image.size == (1600, 800)
        assert image.convert("L").getextrema()[0] > 250
