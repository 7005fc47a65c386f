"""Names as parts of addresses and files: lower-case letters a to z, digits and hyphens."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from hashlib import blake2s


def slug(name: str, empty: str = "name", most: int = 60) -> str:
    """A name as a part of an address or a file that every system takes.

    Accents are dropped (``Café`` → ``cafe``). A name with letters or digits of another script
    gets a digest of itself at the end, so that two of them differ: ``rig-5d1c0e``. ``empty``
    stands for what holds no letter of a to z; ``most`` is the length at most.
    """
    parted = unicodedata.normalize("NFKD", unicodedata.normalize("NFC", name).casefold())
    plain = "".join(letter for letter in parted if not unicodedata.combining(letter))
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    if any(letter.isalnum() and not letter.isascii() for letter in plain):
        mark = blake2s(plain.encode("utf-8", "surrogatepass"), digest_size=3).hexdigest()
        return f"{stem[: most - 7].strip('-') or empty}-{mark}"
    return stem[:most].strip("-") or empty


def distinct_slug(name: str, most: int = 60) -> str:
    """A slug of its own for every name: one that is not written as a slug gets a digest.

    For identifiers in a page, where ``A rig`` and ``a-rig`` stand side by side.
    """
    plain = slug(name, most=most)
    if plain == name:
        return plain
    mark = blake2s(name.encode("utf-8", "surrogatepass"), digest_size=6).hexdigest()
    return f"{slug(name, most=most - 13)}-{mark}"


def next_free(stem: str, taken: Iterable[str]) -> str:
    """The stem, or the stem with the first number from 2 on that is not taken."""
    there = set(taken)
    number, free = 1, stem
    while free in there:
        number += 1
        free = f"{stem}-{number}"
    return free
