"""Photos for a report: read, freed of all that is not the picture (place, time, camera, hidden previews), and made smaller.

JPEG and PNG are taken apart here, after their standards (ITU-T T.81 annex B; PNG, ISO/IEC 15948), and only the parts that draw
the picture are kept. What cannot be taken apart is refused, so that no place leaves the boat by oversight. Which way up the
camera was held is kept, for without it the picture lies on its side. Pillow, where it is installed, makes large ones smaller.
"""

from __future__ import annotations

import base64
import struct
import zlib
from dataclasses import dataclass
from importlib import import_module
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

from diagnose.errors import InputError

MOST_BYTES = 60_000_000
"""A file larger than this is not read."""
MOST_SHOWN = 6_000_000
"""Bytes of a photo that a report carries; more is refused where Pillow is not there to make it smaller."""
MOST_PIXELS = 80_000_000
LONG_SIDE = 1600
"""Pixels of the longer side in a report: enough for a sheet of paper, where 1600 pixels on 13 cm are 300 an inch."""
LARGE = 700_000
"""Bytes from which a photo is worth making smaller."""

_JPEG, _PNG = b"\xff\xd8", b"\x89PNG\r\n\x1a\n"
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TABLES = frozenset({0xC4, 0xCC, 0xDB, 0xDD, 0xDC, 0xFE, *range(0xE0, 0xF0)}) | _FRAMES
_CHUNKS = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB"})
_ORIENTATION = 0x0112


@dataclass(frozen=True)
class Photo:
    """A photo as a report carries it.

    Attributes:
        data: the file, holding nothing but the picture.
        kind: its format.
        width: pixels across, as it is shown.
        height: pixels down, as it is shown.
        caption: what it shows, in the words of whoever took it; also what is read out in its place.
        about: id of the symptom it shows, if one.
    """

    data: bytes
    kind: Literal["jpeg", "png"]
    width: int
    height: int
    caption: str
    about: str | None = None

    @property
    def uri(self) -> str:
        """The photo as a data URI."""
        return f"data:image/{self.kind};base64,{base64.b64encode(self.data).decode('ascii')}"


def read_photo(path: Path, caption: str, about: str | None = None) -> Photo:
    """Read a photo from a file, clean it and make it small enough to carry.

    Args:
        path: a JPEG or PNG file.
        caption: what it shows; not empty.
        about: id of the symptom it shows.

    Raises:
        InputError: the file cannot be read, is no JPEG or PNG, is damaged, or is too large for what is installed here.
    """
    where = str(path)
    if not caption.strip():
        raise InputError("has no caption", where=where, right="what the photo shows, for those who cannot see it")
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError("is a folder, not a photo", where=where, right="a JPEG or PNG file")
        if size > MOST_BYTES:
            raise InputError(f"is {size / 1e6:.0f} MB; a photo here is never over {MOST_BYTES / 1e6:.0f} MB", where=where)
        raw = path.read_bytes()
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=where, right="a photo that can be read") from None
    return photo_of(raw, caption, about, where=where)


def photo_of(raw: bytes, caption: str, about: str | None = None, *, where: str = "photo") -> Photo:
    """A photo from its bytes; see `read_photo`.

    Raises:
        InputError: as `read_photo`.
    """
    try:
        cleaned = _cleaned(raw)
    except (IndexError, struct.error):
        cleaned = None
    if cleaned is None:
        raise InputError("cannot be freed of what it may say about the place", where=where, right="a whole JPEG or PNG file, saved again")
    photo = Photo(*cleaned, caption=caption, about=about)
    if photo.width * photo.height > MOST_PIXELS or 0 in (photo.width, photo.height):
        raise InputError(f"is {photo.width} by {photo.height} pixels", where=where, right="a photo of an ordinary camera")
    if max(photo.width, photo.height) > LONG_SIDE or len(photo.data) > LARGE:
        photo = _smaller(photo, where)
    if len(photo.data) > MOST_SHOWN:
        raise InputError(f"is {len(photo.data) / 1e6:.0f} MB, too large for a report", where=where,
                         right="a smaller one; or install Pillow, with which it is made smaller")
    return photo


def _cleaned(raw: bytes) -> tuple[bytes, Literal["jpeg", "png"], int, int] | None:
    """The picture alone with its format and size; None where it cannot be had."""
    if raw.startswith(_JPEG):
        found = _clean_jpeg(raw)
        return None if found is None else (found[0], "jpeg", found[1], found[2])
    if raw.startswith(_PNG):
        kept = _clean_png(raw)
        return None if kept is None else (kept[0], "png", kept[1], kept[2])
    return None


# ------------------------------------------------------------------ JPEG


def _clean_jpeg(raw: bytes) -> tuple[bytes, int, int] | None:
    """The segments that draw the picture; comments, EXIF, XMP, previews and all after the end are left out."""
    kept, at, size, turned = [_JPEG], 2, (0, 0), 1
    drawn = False
    while True:
        if raw[at] != 0xFF:
            return None
        while raw[at + 1] == 0xFF:  # fill bytes before a marker
            at += 1
        marker = raw[at + 1]
        at += 2
        if marker == 0xD9:
            kept.append(b"\xff\xd9")
            break
        if marker != 0xDA and marker not in _TABLES:
            return None
        length = struct.unpack(">H", raw[at : at + 2])[0]
        body = raw[at + 2 : at + length]
        if length < 2 or len(body) != length - 2:
            return None
        at += length
        if marker in _FRAMES:
            size = struct.unpack(">HH", body[1:5])[::-1]
        if marker == 0xE1 and body.startswith(b"Exif\x00\x00"):
            turned = _orientation(body[6:])
        if _draws(marker, body):
            kept.append(struct.pack(">BBH", 0xFF, marker, length) + body)
        if marker == 0xDA:
            end = _end_of_scan(raw, at)
            kept.append(raw[at:end])
            at, drawn = end, True
    if not drawn or 0 in size:
        return None
    if turned != 1:
        kept.insert(1, _turned_segment(turned))
    width, height = (size[1], size[0]) if turned >= 5 else size
    return b"".join(kept), width, height


def _draws(marker: int, body: bytes) -> bool:
    """Whether a segment is needed to draw: tables, frames and scans are, and of the others the colours alone."""
    if marker == 0xE2:
        return body.startswith(b"ICC_PROFILE\x00")
    if marker == 0xEE:
        return body.startswith(b"Adobe")
    return not 0xE0 <= marker <= 0xEF and marker != 0xFE


def _end_of_scan(raw: bytes, at: int) -> int:
    """Where the coded data of a scan ends: at the first marker that is neither a stuffed byte nor a restart."""
    while True:
        at = raw.find(b"\xff", at)
        if at < 0 or at + 1 >= len(raw):
            raise IndexError("no end")
        if raw[at + 1] == 0x00 or 0xD0 <= raw[at + 1] <= 0xD7:
            at += 2
        elif raw[at + 1] == 0xFF:
            at += 1
        else:
            return at


def _orientation(tiff: bytes) -> int:
    """Which way up the camera was held, 1 to 8; 1 where it is not said."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1
    try:
        first = struct.unpack(f"{order}I", tiff[4:8])[0]
        count = struct.unpack(f"{order}H", tiff[first : first + 2])[0]
        for i in range(count):
            tag, kind, _, value = struct.unpack(f"{order}HHIH", tiff[first + 2 + 12 * i : first + 12 + 12 * i])
            if tag == _ORIENTATION and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 1
    return 1


def _turned_segment(turned: int) -> bytes:
    """An EXIF segment that says which way up, and nothing else."""
    tiff = struct.pack(">2sHIHHHIHHI", b"MM", 42, 8, 1, _ORIENTATION, 3, 1, turned, 0, 0)
    body = b"Exif\x00\x00" + tiff
    return struct.pack(">BBH", 0xFF, 0xE1, len(body) + 2) + body


# ------------------------------------------------------------------ PNG


def _clean_png(raw: bytes) -> tuple[bytes, int, int] | None:
    """The chunks that draw the picture; texts, times, EXIF and all after the end are left out."""
    kept, at, size = [_PNG], len(_PNG), (0, 0)
    while True:
        length, name = struct.unpack(">I4s", raw[at : at + 8])
        body = raw[at + 8 : at + 8 + length]
        check = raw[at + 8 + length : at + 12 + length]
        if len(body) != length or check != struct.pack(">I", zlib.crc32(name + body)):
            return None
        if name == b"IHDR":
            size = struct.unpack(">II", body[:8])
        if name in _CHUNKS:
            kept.append(raw[at : at + 12 + length])
        at += 12 + length
        if name == b"IEND":
            return b"".join(kept), *size


# ------------------------------------------------------------------ size


def _smaller(photo: Photo, where: str) -> Photo:
    """The photo with its longer side cut down, if Pillow is there; else as it is."""
    pillow = _pillow()
    if pillow is None:
        return photo
    image_module, turn = pillow
    try:
        with image_module.open(BytesIO(photo.data), formats=["JPEG", "PNG"]) as opened:
            profile = opened.info.get("icc_profile")
            image = turn(opened)
            image.thumbnail((LONG_SIDE, LONG_SIDE))
            if image.mode not in ("RGB", "L"):
                image, profile = _on_white(image_module, image), None
            out = BytesIO()
            image.save(out, "JPEG", quality=82, optimize=True, icc_profile=profile)
    except (OSError, ValueError, SyntaxError, image_module.DecompressionBombError) as error:
        raise InputError(f"cannot be drawn: {error}", where=where, right="a whole JPEG or PNG file, saved again") from None
    cleaned = _cleaned(out.getvalue())
    assert cleaned is not None
    return Photo(*cleaned, caption=photo.caption, about=photo.about)


def _on_white(image_module: Any, image: Any) -> Any:
    """A picture with see-through parts or a palette, laid on white paper."""
    clear = image.convert("RGBA")
    paper = image_module.new("RGB", image.size, "white")
    paper.paste(clear, mask=clear.getchannel("A"))
    return paper


def _pillow() -> tuple[Any, Any] | None:
    """Pillow's image module and its turning by EXIF; None where it is not installed."""
    try:
        return import_module("PIL.Image"), import_module("PIL.ImageOps").exif_transpose
    except ImportError:
        return None
