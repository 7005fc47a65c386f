"""What looks private in a text somebody typed: paths, e-mail addresses, phone numbers, hosts.

Marks of such things only, never names of people: nothing here is sure, so whoever publishes
is told what was seen and where, and decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

LEFT_OUT = "[left out]"
Kind = Literal["path", "e-mail", "phone", "host"]
_WORDS: dict[Kind, str] = {
    "path": "a path of a computer",
    "e-mail": "an e-mail address",
    "phone": "a phone number",
    "host": "an address in a network",
}
_LEFT_OUT_KINDS: frozenset[Kind] = frozenset({"path", "e-mail"})

_FILE = r"(?:gcode|gco|nc|toml|json|csv|tsv|txt|md|pdf|html|zip|gz|stl|step|png|jpe?g|svg|bench|db)"
_PATTERNS: tuple[tuple[Kind, re.Pattern[str]], ...] = (
    ("e-mail", re.compile(r"[\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){0,4}\.[^\W\d_]{2,24}")),
    (
        "host",
        re.compile(
            r"""
              (?:ssh|s?ftps?|smb|nfs|rtsp|mqtt|tcp|udp|wss?)://\S+
            | https?://(?:\[|localhost\b|(?:\d{1,3}\.){3}\d|[\w-]+(?=[:/\s]|$))\S*
            | (?<![\w.@/-])(?:[\w-]{1,63}\.){1,4}(?:local|lan|localdomain|home\.arpa
              |internal|intranet)
              (?![\w-]|\.\w)(?::\d+)?
            | (?<![\w.-])localhost(?::\d+)?(?![\w-])
            | (?<![\w.:-])(?:[0-9a-fA-F]{2}[:-]){5}[0-9a-fA-F]{2}(?![\w:-])
            | (?<![\w.:])(?=[0-9a-fA-F:]{4,36}?(?:::|(?::[0-9a-fA-F]{1,4}){6}))
              (?:fe80|f[cd][0-9a-fA-F]{2}|2[0-9a-fA-F]{3}):[0-9a-fA-F:]{2,36}(?!\w|\.\w)
            """,
            re.VERBOSE,
        ),
    ),
    (
        "path",
        re.compile(
            rf"""
              file://\S*
            | (?<![\w/])~(?:[A-Za-z][\w.-]{{0,31}})?/\S*                 # a home folder
            | (?<![\w/:.])\.{{1,2}}/[\w.@+-]+\S*                         # from where one stands
            | (?<![\w/:])/(?:[\w.@+-]{{1,255}}/)+[\w.@+-]*               # of two parts or more
            | (?<!\w)[A-Za-z]:\\(?:[^\s\\]+(?:[ ][^\s\\]+){{0,3}}\\){{0,40}}\S*
            | (?<!\w)[A-Za-z]:/(?=[\w.]{{2}})\S*                           # a drive letter
            | \\\\[\w.-]+\\\S*                                           # a shared folder
            | (?<![\w\\])[\w.-]{{2,255}}\\(?:[\w.-]{{1,255}}\\)*[\w-]{{1,255}}\.{_FILE}\b
            | (?<![\w/:.-])[\w.-]{{2,255}}/(?:[\w.-]{{1,255}}/)*[\w-]{{1,255}}\.{_FILE}\b
            """,
            re.VERBOSE,
        ),
    ),
    (
        "phone",
        re.compile(
            r"""
              (?<![\w.,+-])(?:\+|00(?=[1-9]))\d{1,3}(?:[ ()/-]{0,2}\d){8,12}(?![\w]|[.,]\d)
            | (?<![\w.,:/+-])\(0?\d{2,4}\)[ ]?\d{3,4}[ -]?\d{3,5}(?![\w-]|[.,]\d)
            | (?<![\w.,:/+-])0\d{2,4}[ /-]\d{3,4}[ -]?\d{3,5}(?![\w-]|[.,]\d)
            | (?<!load[ ])\b(?:tel|phone|mobile|cell)\b[.:]?[ ]{0,3}(?:no\b\.?[ ]?)?
              [+(]?\d(?:[ ()/.-]?\d){5,13}
            """,
            re.VERBOSE | re.IGNORECASE,
        ),
    ),
)
_DOTTED = re.compile(r"(?<![\w.-])(\d{1,3})\.(\d{1,3})\.(\d{1,3})\.(\d{1,3})(?!\w|\.\d)([:/]\d+)?")
_WEB = re.compile(r"(?:https?://|doi:\s?|\bwww\.)\S+|\b10\.\d{4,9}/\S+", re.IGNORECASE)
_ROOTS = frozenset(
    (
        "home", "Users", "mnt", "media", "tmp", "var", "etc", "opt", "srv", "usr", "root", "run",
        "dev", "Volumes", "storage", "sdcard",
    )
)  # fmt: skip


@dataclass(frozen=True)
class PrivatePart:
    """One thing in a text that looks private."""

    kind: Kind
    seen: str
    start: int
    """Where it begins in the text, from 0."""

    @property
    def words(self) -> str:
        """What it looks like: 'a phone number'."""
        return _WORDS[self.kind]

    @property
    def is_left_out(self) -> bool:
        """Whether :func:`without_private` replaces it."""
        return self.kind in _LEFT_OUT_KINDS


def private_parts(text: str) -> tuple[PrivatePart, ...]:
    """What in a text looks like a path, an e-mail address, a phone number or a network address.

    Public web addresses, DOIs, units, dates, ratios and G-code are none of them. In order of
    their place; of two that overlap the first found counts.
    """
    taken: list[tuple[int, int]] = []
    found: list[PrivatePart] = []
    web = [match.span() for match in _WEB.finditer(text)]
    for kind, start, end in _matches(text):
        seen = text[start:end].rstrip(".,;:)'\"!?")
        if kind in ("path", "phone") and any(a <= start < b for a, b in web):
            continue
        if seen and not any(a < start + len(seen) and start < b for a, b in taken):
            taken.append((start, start + len(seen)))
            found.append(PrivatePart(kind, seen, start))
    return tuple(sorted(found, key=lambda part: part.start))


def _matches(text: str) -> Iterator[tuple[Kind, int, int]]:
    for kind, pattern in _PATTERNS:
        for match in pattern.finditer(text):
            if kind == "path" and not _is_path(match[0]):
                continue
            yield kind, match.start(), match.end()
    for match in _DOTTED.finditer(text):
        parts = [int(match[n]) for n in (1, 2, 3, 4)]
        # 8.4.5.1 is a section of a handbook, 2.1.0.3 a version
        numbered = max(parts) < 64 and not (parts[0] == 10 and 0 in parts[1:]) and not match[5]
        if max(parts) < 256 and not numbered:
            yield "host", match.start(), match.end()


def _is_path(seen: str) -> bool:
    """Whether what begins with one slash is more than units: ``/mm/s`` is none."""
    if not seen.startswith("/"):
        return True
    parts = [part for part in seen.split("/") if part]
    return parts[0] in _ROOTS or any(re.search(r"[^\W\d_]{3}|\.\w", part) for part in parts)


def without_private(text: str) -> str:
    """The text with paths and e-mail addresses replaced by ``[left out]``."""
    made, done = [], 0
    for part in private_parts(text):
        if part.is_left_out:
            made += [text[done : part.start], LEFT_OUT]
            done = part.start + len(part.seen)
    return "".join([*made, text[done:]])
