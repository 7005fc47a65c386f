"""Photos: nothing but pixels comes through, and whatever is given gets a photo or a message."""

import io
import struct
import zlib
from base64 import b64decode
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some
from PIL import Image, ImageCms
from PIL.PngImagePlugin import PngInfo

from beadworth.core.errors import InputError, NotFoundError
from beadworth.store import open_bench
from beadworth.store.photos import LONGEST_PX, PHOTO_LIMIT_BYTES, clean_photo, photo, store_photo

MAKER, OWNER, PLACE = "Invented Optics of Nowhere", "A. Nobody", "Saltmarsh shed, back door"
ORIENTATION, MAKE, ARTIST, DESCRIPTION, GPS, USER_COMMENT = (
    0x0112, 0x010F, 0x013B, 0x010E, 0x8825, 0x9286,
)  # fmt: skip
SECRETS = (MAKER.encode(), OWNER.encode(), PLACE.encode(), b"Exif", b"GPS", b"ICC_PROFILE",
           b"http://ns.adobe.com", b"xpacket", b"sRGB built-in", b"left as comment")  # fmt: skip


def scene(width=64, height=48):
    """Four colours in the corners, so that turning shows."""
    picture = Image.new("RGB", (width, height))
    for n, colour in enumerate(["red", "lime", "blue", "yellow"]):
        box = (n % 2 * width // 2, n // 2 * height // 2)
        picture.paste(colour, (*box, box[0] + width // 2, box[1] + height // 2))
    return picture


def noted(orientation=1):
    """EXIF with a maker, an owner, a place in words and as GPS, and a thumbnail's worth of text."""
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKE], exif[ARTIST], exif[DESCRIPTION] = MAKER, OWNER, PLACE
    gps = exif.get_ifd(GPS)
    gps[1], gps[2] = "N", (54.0, 6.0, 27.93)
    gps[3], gps[4] = "E", (11.0, 2.0, 13.37)
    exif.get_ifd(0x8769)[USER_COMMENT] = PLACE.encode()
    return exif


def saved(picture, kind, **more):
    out = io.BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def with_everything(kind, orientation=1):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    more = {"exif": noted(orientation), "icc_profile": profile}
    if kind == "JPEG":
        more |= {"comment": b"left as comment " + OWNER.encode(), "quality": 95}
    if kind == "PNG":
        text = PngInfo()
        text.add_text("Author", OWNER)
        text.add_itxt("XML:com.adobe.xmp", f"<x:xpacket>{PLACE}</x:xpacket>")
        more["pnginfo"] = text
    if kind == "WEBP":
        more |= {"xmp": f"<x:xpacket>{PLACE}</x:xpacket>".encode(), "lossless": True}
    return saved(scene(), kind, **more)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_no_byte_of_the_notes_comes_out(kind):
    given_bytes = with_everything(kind)
    assert MAKER.encode() in given_bytes  # the test would prove nothing otherwise
    degrees = struct.pack(">LL", 2793, 100), struct.pack("<LL", 2793, 100)
    assert any(part in given_bytes for part in degrees)
    kept = clean_photo(given_bytes, "shed.jpg").data
    for secret in (*SECRETS, *degrees):
        assert secret not in kept
    seen = Image.open(io.BytesIO(kept))
    assert seen.format == "JPEG"
    assert dict(seen.getexif()) == {}
    assert set(seen.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    # and no segment but those that draw: SOI, APP0, tables, frame, scan
    assert segments(kept) <= {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}


def segments(data):
    found, at = set(), 2
    while data[at] == 0xFF:
        found.add(data[at + 1])
        if data[at + 1] == 0xDA:
            break
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return found


# EXIF 2.3 (JEITA CP-3451), tag 0x0112: where row 0 and column 0 of the data are seen. The corner
# colours of the scene (top left, top right, bottom left, bottom right) as they then appear.
R, L, B, Y = "RLBY"
TURNED = {1: "RLBY", 2: "LRYB", 3: "YBLR", 4: "BYRL", 5: "RBLY", 6: "BRYL", 7: "YLBR", 8: "LYRB"}


@pytest.mark.parametrize("orientation", TURNED)
def test_it_stands_upright(orientation):
    made = clean_photo(with_everything("JPEG", orientation), "x")
    seen = Image.open(io.BytesIO(made.data))
    assert (made.width_px, made.height_px) == seen.size
    assert seen.size == ((64, 48) if orientation < 5 else (48, 64))
    names = {"R": (255, 0, 0), "L": (0, 255, 0), "B": (0, 0, 255), "Y": (255, 255, 0)}
    w, h = seen.size
    corners = [
        (w // 4, h // 4),
        (3 * w // 4, h // 4),
        (w // 4, 3 * h // 4),
        (3 * w // 4, 3 * h // 4),
    ]
    for corner, letter in zip(corners, TURNED[orientation], strict=True):
        assert np.abs(np.subtract(seen.getpixel(corner), names[letter])).max() < 40


@pytest.mark.parametrize(("width", "height"), [(4000, 3000), (3000, 4000), (1600, 1200), (20, 10)])
def test_it_is_made_small_and_never_larger(width, height):
    made = clean_photo(saved(scene(width, height), "JPEG"), "x")
    assert max(made.width_px, made.height_px) == min(LONGEST_PX, max(width, height))
    assert made.width_px / made.height_px == pytest.approx(width / height, rel=0.01)


@pytest.mark.parametrize("mode", ["RGBA", "LA", "L", "P", "1", "I;16", "CMYK"])
def test_every_usual_kind_of_pixel_is_taken(mode):
    kind = "JPEG" if mode == "CMYK" else "PNG"
    made = clean_photo(
        saved(scene().convert("L" if mode == "I;16" else mode).convert(mode), kind), "x"
    )
    assert Image.open(io.BytesIO(made.data)).mode == "RGB"


def test_what_is_transparent_becomes_white():
    made = clean_photo(saved(Image.new("RGBA", (8, 8), (0, 0, 0, 0)), "PNG"), "x")
    assert Image.open(io.BytesIO(made.data)).getpixel((4, 4)) == (255, 255, 255)


def test_a_wide_colour_profile_is_turned_into_what_a_page_shows():
    # A profile whose red and green are exchanged: only a converted picture shows the right one.
    swapped = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    at_r, at_g = swapped.index(b"rXYZ"), swapped.index(b"gXYZ")
    swapped[at_r : at_r + 4], swapped[at_g : at_g + 4] = b"gXYZ", b"rXYZ"
    data = saved(Image.new("RGB", (16, 16), "red"), "PNG", icc_profile=bytes(swapped))
    red, green, _ = Image.open(io.BytesIO(clean_photo(data, "x").data)).getpixel((8, 8))
    assert (red < 60, green > 200) == (True, True)


def test_a_profile_that_is_none_is_ignored():
    made = clean_photo(saved(scene(), "PNG", icc_profile=b"no profile at all"), "x")
    assert made.width_px == 64


def chunk(name, body):
    return struct.pack(">L", len(body)) + name + body + struct.pack(">L", zlib.crc32(name + body))


def claiming(width, height):
    """A tiny PNG that says it is huge."""
    head = chunk(b"IHDR", struct.pack(">LLBBBBB", width, height, 8, 2, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + head + body + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(7000, 7000), (30_000, 30_000), (2**31 - 1, 2**31 - 1)])
def test_a_picture_that_claims_too_many_pixels_is_refused(size):
    with pytest.raises(InputError, match="million pixels"):
        clean_photo(claiming(*size), "bomb.png")


def test_a_note_that_unpacks_to_too_much_is_refused():
    text = chunk(b"zTXt", b"Comment\0\0" + zlib.compress(b"\0" * 80_000_000))
    plain = saved(scene(), "PNG")
    with pytest.raises(InputError):
        clean_photo(plain[:33] + text + plain[33:], "x.png")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"hello", "not a JPEG, PNG or WebP"),
        (b"\xff\xd8\xff", "not a JPEG, PNG or WebP"),
        (b"GIF89a" + b"\0" * 50, "not a JPEG, PNG or WebP"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 50, "not a JPEG, PNG or WebP"),
        (bytes(PHOTO_LIMIT_BYTES + 1), "15 MB taken"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a JPEG"),
    ],
)
def test_what_is_no_photo_is_refused_with_a_remedy(data, says):
    with pytest.raises(InputError, match=says) as caught:
        clean_photo(data, "thing.jpg")
    assert caught.value.problems[0].where == "thing.jpg"
    assert caught.value.problems[0].remedy


def test_a_polyglot_comes_out_as_pixels_only():
    tail = b"PK\x03\x04<script>alert(1)</script>%PDF-1.7"
    made = clean_photo(saved(scene(), "JPEG") + tail, "x")
    assert b"script" not in made.data
    assert b"PK\x03\x04" not in made.data
    assert made.data.endswith(b"\xff\xd9")


WHOLE = {kind: with_everything(kind) for kind in ("JPEG", "PNG", "WEBP")}


def taken_or_told(data):
    try:
        made = clean_photo(data, "x")
    except InputError as error:
        assert error.problems[0].remedy  # noqa: PT017
        return
    assert made.data[:2] == b"\xff\xd8"
    assert not any(secret in made.data for secret in SECRETS)


@settings(max_examples=some(60, long=150), deadline=None)
@given(st.binary(max_size=400))
def test_random_bytes_never_crash(data):
    taken_or_told(data)


@settings(max_examples=some(60, long=150), deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_truncated_photos_never_crash(kind, data):
    whole = WHOLE[kind]
    taken_or_told(whole[: data.draw(st.integers(0, len(whole)))])


@settings(max_examples=some(100, long=250), deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_changed_bytes_never_crash(kind, data):
    whole = bytearray(WHOLE[kind])
    for _ in range(data.draw(st.integers(1, 12))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    taken_or_told(bytes(whole))


@settings(max_examples=some(60, long=150), deadline=None)
@given(st.data())
def test_changed_colour_profiles_never_crash(data):
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    for _ in range(data.draw(st.integers(1, 20))):
        profile[data.draw(st.integers(0, len(profile) - 1))] = data.draw(st.integers(0, 255))
    taken_or_told(saved(scene(), "PNG", icc_profile=bytes(profile)))


def test_several_uploads_at_once_are_each_taken():
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(lambda kind: clean_photo(WHOLE[kind], "x"), sorted(WHOLE) * 4))
    assert len({one.sha256 for one in made}) <= len(WHOLE)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.sampled_from(sorted(WHOLE)), st.binary(max_size=60))
def test_polyglots_never_crash(first, second, between):
    taken_or_told(WHOLE[first] + between + WHOLE[second])
    taken_or_told(between + WHOLE[first])


def test_a_photo_is_kept_once_and_a_backup_carries_it(where, tmp_path):
    made = clean_photo(with_everything("JPEG"), "x")
    with open_bench(where) as bench:
        assert store_photo(bench, made) == store_photo(bench, made) == made.sha256
        assert len(bench.notes("photo")) == 1
        assert photo(bench, made.sha256) == made
        with pytest.raises(NotFoundError):
            photo(bench, "0" * 64)
        assert bench.check().sound
        if not isinstance(where, Path):
            return  # a server is backed up by its own tool
        bench.backup(tmp_path / "copy.bench")
    whole = (tmp_path / "copy.bench").read_bytes()
    assert MAKER.encode() not in whole
    with open_bench(tmp_path / "copy.bench") as copy:
        assert photo(copy, made.sha256).data == made.data
        assert b64decode(copy.notes("photo")[0].data["base64"]) == made.data
