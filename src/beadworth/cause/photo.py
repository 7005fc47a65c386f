"""A photo of a wall: decoded within bounds, its tone curve undone."""

from __future__ import annotations

import io
import threading
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from beadworth.core import InputError

if TYPE_CHECKING:
    from PIL.ImageFile import ImageFile

LIMIT_BYTES: Final = 25_000_000
"""What is taken of one file."""
LIMIT_PIXELS: Final = 60_000_000
"""What is decoded of one photo: a file of a few kB can claim more than any memory holds."""
FORMATS: Final = ("JPEG", "PNG", "WEBP")
TONE: Final = ((np.arange(256) / 255.0) ** 2.2).astype(np.float32)
"""Light of each byte: the usual tone curve undone (IEC 61966-2-1, as a power; a phone's own curve
differs). Left in, it would make harmonics of the layers, which the pixel grid folds back."""
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True)
class Photo:
    """Grey values as they stand in the file (rows, columns), and by how much they were reduced."""

    grey: np.ndarray
    reduced: int
    """The file holds this many times as many columns."""


def read_photo(data: bytes, source: str, widest_px: int | None = None) -> Photo:
    """Decode a photo to grey.

    Parameters
    ----------
    data : bytes
        A JPEG, PNG or WebP file of up to :data:`LIMIT_BYTES`.
    source : str
        Its name, for messages.
    widest_px : int, optional
        A JPEG that stays at least this wide is decoded at a half or a quarter: as good, sooner.

    Raises
    ------
    InputError
        Too large, no such picture, cut short, or claiming more pixels than are decoded.
    """
    if len(data) > LIMIT_BYTES:
        raise InputError(
            f"{len(data) / 1e6:.1f} MB is more than the {LIMIT_BYTES / 1e6:g} MB taken of a photo.",
            source, len(data), "Send it smaller, or cut it to the wall.",
        )  # fmt: skip
    if not data:
        raise InputError("this file is empty.", source, remedy="Choose another photo.")
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of odd notes in a file
        picture = _opened(data, source)
        width = picture.width
        try:
            return _grey(picture, width, widest_px)
        except Exception:  # a hostile file may break a decoder in any way
            raise InputError(
                "this picture cannot be decoded to its end: the file is cut short or damaged.",
                source, remedy="Send it again or take another.",
            ) from None  # fmt: skip


def _opened(data: bytes, source: str) -> ImageFile:
    from PIL import Image

    picture = None
    try:
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
        pixels = picture.width * picture.height
    except Image.DecompressionBombError:
        pixels = LIMIT_PIXELS + 1
    except Exception:
        raise InputError(
            "this is not a JPEG, PNG or WebP picture.", source,
            remedy="Save it as JPEG (phones: choose the most compatible format).",
        ) from None  # fmt: skip
    if picture is None or pixels > LIMIT_PIXELS:
        raise InputError(
            f"this picture claims more than the {LIMIT_PIXELS / 1e6:g} million pixels decoded.",
            source, remedy="Send it smaller, or cut it to the wall.",
        )  # fmt: skip
    return picture


def _grey(picture: ImageFile, width: int, widest_px: int | None) -> Photo:
    from PIL import ImageOps

    if picture.format == "JPEG":
        share = 1
        while widest_px is not None and share < 8 and width / (2 * share) >= widest_px:
            share *= 2
        picture.draft("L", (-(-picture.width // share), -(-picture.height // share)))
    picture.load()
    reduced = max(1, round(width / picture.width))
    upright = ImageOps.exif_transpose(picture)
    return Photo(np.asarray(upright.convert("L")), reduced)


def mirrored(photo: Photo, corners_px: np.ndarray) -> tuple[Photo, np.ndarray]:
    """A photo seen in a mirror, and the corners there, for a path that runs from right to left.

    Parameters
    ----------
    photo : Photo
    corners_px : array (4, 2)
        Columns and rows in the whole photo: bottom left, bottom right, top right, top left.

    Returns
    -------
    photo, corners
        The corners in the same order: bottom left is where the path begins.
    """
    corners = np.array(corners_px, float)[[1, 0, 3, 2]]
    corners[:, 0] = photo.grey.shape[1] * photo.reduced - corners[:, 0]
    return Photo(np.ascontiguousarray(photo.grey[:, ::-1]), photo.reduced), corners
