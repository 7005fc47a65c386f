"""Photos of the journal: taken in bounded, turned upright, made small, and stripped.

What is stored is drawn anew from the pixels alone, so that nothing the camera or an editor wrote
into the file can be in it: no place, no owner, no maker, no thumbnail, no comment. It lies in
a note of the kind ``photo`` under its SHA-256, so that a backup of the bench carries it.
"""

from __future__ import annotations

import hashlib
import io
import threading
import warnings
from base64 import b64decode, b64encode
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from beadworth.core import InputError, NotFoundError, Problem

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

    from beadworth.store.store import Bench

PHOTO_KIND: Final = "photo"
PHOTO_LIMIT_BYTES: Final = 15_000_000
"""What is taken of one file: a photo of a good camera is 5 to 12 MB."""
LIMIT_PIXELS: Final = {
    "JPEG": 120_000_000,
    "MPO": 120_000_000,
    "PNG": 40_000_000,
    "WEBP": 40_000_000,
}
"""What is decoded of one photo, pixels by format: a file of a few kB can claim more than any
memory holds. JPEG is decoded at a fraction of its size, so more of it is taken."""
LONGEST_PX: Final = 1600
QUALITY: Final = 85
MEDIA_TYPE: Final = "image/jpeg"
FORMATS: Final = ("JPEG", "PNG", "WEBP")
_PROFILE_LIMIT: Final = 4_000_000
_ONE_AT_A_TIME = threading.Lock()
"""Bounds the memory of several uploads at once; silencing warnings is not safe across threads."""


@dataclass(frozen=True)
class Photo:
    """A photo as it is stored: JPEG, upright, at most :data:`LONGEST_PX` on its longer side."""

    sha256: str
    data: bytes
    width_px: int
    height_px: int


def clean_photo(data: bytes, source: str) -> Photo:
    """Make of a file what may be stored of it.

    Parameters
    ----------
    data : bytes
        A JPEG, PNG or WebP file of up to :data:`PHOTO_LIMIT_BYTES`.
    source : str
        Its name, for messages only: it is not stored.

    Raises
    ------
    InputError
        Too large, not such a picture, cut short, or claiming more pixels than are decoded.
    """
    if len(data) > PHOTO_LIMIT_BYTES:
        raise InputError(
            f"{len(data) / 1e6:.1f} MB is more than the {PHOTO_LIMIT_BYTES / 1e6:g} MB taken "
            "of a photo.",
            source,
            len(data),
            "Make it smaller first; nothing was stored.",
        )
    if not data:
        raise InputError("this file is empty.", source, remedy="Choose another photo.")
    picture = _upright(data, source)
    out = io.BytesIO()
    # A new picture of the pixels alone: Pillow hands a picture's notes on to its copies.
    plain = picture.convert("RGB")
    plain.info.clear()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True, exif=b"", icc_profile=None)
    made = out.getvalue()
    return Photo(hashlib.sha256(made).hexdigest(), made, plain.width, plain.height)


def _upright(data: bytes, source: str) -> Image:
    """The picture decoded, turned as its camera says, on white, within the longest side."""
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of odd notes in a file: they are not stored anyway
        picture = _opened(data, source)
        try:
            return _small(picture)
        except Exception:  # a hostile file may break a decoder in any way
            raise _broken(source) from None


def _opened(data: bytes, source: str) -> ImageFile:
    """The file as a picture whose pixels are not decoded yet, if it claims no more than we take."""
    from PIL import Image

    try:
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError:
        raise _too_many(source, LIMIT_PIXELS["PNG"]) from None
    except Exception:
        raise _no_picture(source) from None
    most = LIMIT_PIXELS[picture.format or "PNG"]
    if picture.width * picture.height > most:
        raise _too_many(source, most)
    return picture


def _small(picture: ImageFile) -> Image:
    from PIL import ImageOps

    picture.draft("RGB", (2 * LONGEST_PX, 2 * LONGEST_PX))  # JPEG decodes at a fraction
    picture.load()
    profile = picture.info.get("icc_profile")
    small = _full_colour(picture)
    small.thumbnail((LONGEST_PX, LONGEST_PX))
    return _in_srgb(_on_white(ImageOps.exif_transpose(small)), profile)


def _full_colour(picture: Image) -> Image:
    """A mode that can be made smaller smoothly and put on white."""
    if picture.mode.startswith("I"):  # 16-bit grey
        return picture.convert("I").point(lambda value: value / 257).convert("L")
    if picture.mode in ("P", "PA", "LA", "RGBA") or "transparency" in picture.info:
        return picture.convert("RGBA")
    return picture if picture.mode in ("RGB", "CMYK", "L") else picture.convert("RGB")


def _on_white(picture: Image) -> Image:
    """Without transparency: JPEG has none."""
    from PIL import Image

    if picture.mode != "RGBA":
        return picture
    return Image.alpha_composite(Image.new("RGBA", picture.size, "white"), picture).convert("RGB")


def _in_srgb(picture: Image, profile: bytes | None) -> Image:
    """Colours as a page without a profile shows them; a profile that does not serve is ignored."""
    if not isinstance(profile, bytes) or len(profile) > _PROFILE_LIMIT:
        return picture.convert("RGB")
    from PIL import ImageCms

    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(
            picture, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        made = None
    return made or picture.convert("RGB")


def store_photo(bench: Bench, photo: Photo) -> str:
    """Store a photo on the bench, once; its digest."""
    if not bench.notes(PHOTO_KIND, photo.sha256):
        bench.add_note(
            PHOTO_KIND, photo.sha256,
            {
                "media_type": MEDIA_TYPE,
                "width_px": photo.width_px,
                "height_px": photo.height_px,
                "base64": b64encode(photo.data).decode("ascii"),
            },
        )  # fmt: skip
    return photo.sha256


def photo(bench: Bench, sha256: str) -> Photo:
    """A photo of the bench.

    Raises
    ------
    NotFoundError
        None of that digest.
    """
    return photos_by_digest(bench, [sha256])[sha256]


def photos_by_digest(bench: Bench, digests: Collection[str]) -> dict[str, Photo]:
    """Several photos of the bench, by their SHA-256, in one statement.

    Raises
    ------
    NotFoundError
        None of one of these digests.
    """
    found = {
        note.subject: Photo(
            note.subject,
            b64decode(note.data["base64"]),
            note.data["width_px"],
            note.data["height_px"],
        )
        for note in bench.notes(PHOTO_KIND, digests)
    }
    problems = [
        Problem("there is no such photo on the bench.", "photo", digest,
                "Look in the journal it belongs to.")
        for digest in digests
        if digest not in found
    ]  # fmt: skip
    if problems:
        raise NotFoundError(problems)
    return found


def _no_picture(source: str) -> InputError:
    return InputError("this is not a JPEG, PNG or WebP picture.", source,
                remedy="Save it as JPEG (phones: choose the most compatible format); nothing was "
                "stored.")  # fmt: skip


def _broken(source: str) -> InputError:
    return InputError(
        "this picture cannot be decoded to its end: the file is cut short or damaged.",
        source,
        remedy="Send it again or take another; nothing was stored.",
    )


def _too_many(source: str, most: int) -> InputError:
    return InputError(f"this picture claims more than the {most / 1e6:g} million pixels decoded.",
                source, remedy="Make it smaller first; nothing was stored.")  # fmt: skip
