"""Witness prints on the bench: made, stored with what they claim, graded blind, opened, read.

A stored witness is a note about its rig that holds all that was printed: question, records, bands,
program and maps. Sheets of grades are dated entries about it, as pages of a journal are; opening
the codes is one more note. All are sealed as everything on the bench is.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import (
    ConflictError,
    InputError,
    Place,
    RecordError,
    from_mapping,
    to_mapping,
)
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.store import (
    Note,
    StoredEntry,
    clean_photo,
    ledger,
    packed,
    store_photo,
    unpacked,
)
from beadworth.witness import (
    Band,
    GradedPhoto,
    LookSheet,
    Wall,
    Witness,
    WitnessSpec,
    check_sheet,
    grader_key,
    make_witness,
    missing_looks,
    walls_of,
    witness_picture,
)

if TYPE_CHECKING:
    from beadworth.store import Bench

WITNESS_KIND: Final = "witness"
LOOK_KIND: Final = "witness-look"
OPEN_KIND: Final = "witness-open"
MOST_GRADERS, MOST_LOOKS = 8, 3


@dataclass(frozen=True)
class StoredWitness:
    """A witness as it was stored, with the grades so far."""

    number: int
    at: datetime
    rig: str
    material: str
    spec: WitnessSpec
    bands: tuple[Band, ...]
    """With their settings: not for the eyes of a grader before the codes are open."""
    walls: Mapping[str, Wall]
    graders: int
    looks: int
    minutes: float
    mass_g: float
    notes: tuple[str, ...]
    program_sha256: str
    opened: datetime | None
    sheets: tuple[StoredEntry[LookSheet], ...]
    packed: Mapping[str, str]
    """Program and maps, compressed: unpacked when they are asked for."""
    alt: str
    simulated: bool

    @property
    def counted(self) -> list[LookSheet]:
        """The sheets that count."""
        return [sheet.record for sheet in self.sheets if sheet.state == "current"]

    @property
    def invented(self) -> bool:
        """Whether the print or any of its grades is simulated."""
        return self.simulated or any(sheet.simulated for sheet in self.counted)

    @property
    def photos(self) -> list[GradedPhoto]:
        """Photos of the sheets that count."""
        return [photo for sheet in self.counted for photo in sheet.photos]

    @property
    def missing(self) -> list[str]:
        """What must still be entered before the codes can be opened."""
        looks = 1 if self.spec.kind == "weighed pair" else self.looks
        return missing_looks(self.counted, self.graders, looks)

    @property
    def program(self) -> str:
        """The program that was stored."""
        return unpacked(self.packed["program"])

    @property
    def map_svg(self) -> str:
        """The map as it may be shown now."""
        return unpacked(self.packed["opened" if self.opened else "blind"])


def plan_witness(rig: Rig, material: Material, data: Mapping[str, Any]) -> Witness:
    """Make a witness from what was asked, replayed, not stored.

    Raises
    ------
    RecordError
        A question that is none.
    LimitError
        What stands in its way, all at once.
    """
    return make_witness(from_mapping(WitnessSpec, dict(data), "witness"), rig, material)


def store_witness(
    bench: Bench, witness: Witness, rig: Rig, material: Material, graders: int = 1, looks: int = 2
) -> StoredWitness:
    """Store a witness that is to be printed, with how many are to grade it how often.

    Raises
    ------
    InputError
        No graders, or more than a page can hold.
    """
    if not (1 <= graders <= MOST_GRADERS and 1 <= looks <= MOST_LOOKS):
        raise InputError(
            f"{graders} graders with {looks} looks each cannot be planned.",
            Place.of_field("witness", "graders"), graders,
            f"Plan 1 to {MOST_GRADERS} graders and 1 to {MOST_LOOKS} looks.",
        )  # fmt: skip
    blind, alt = witness_picture(witness)
    opened, _ = witness_picture(witness, opened=True)
    walls = walls_of(witness) if witness.kind == "weighed pair" else {}
    data = {
        "spec": to_mapping(witness.spec),
        "material": material.name,
        "records": {"rig": to_mapping(rig), "material": to_mapping(material)},
        "bands": [asdict(band) for band in witness.bands],
        "walls": {code: asdict(wall) for code, wall in walls.items()},
        "graders": graders,
        "looks": looks,
        "minutes": witness.minutes,
        "mass_g": round(witness.mass_g, 3),
        "notes": list(witness.notes),
        "sha256": hashlib.sha256(witness.text.encode()).hexdigest(),
        "program": packed(witness.text),
        "maps": {"blind": packed(blind), "opened": packed(opened), "alt": alt},
        "simulated": rig.simulated or material.simulated,
    }
    note = bench.add_note(WITNESS_KIND, rig.name, data)
    return stored_witness(bench, note.id)


def witness_map(witness: Witness, opened: bool = False) -> tuple[str, str]:
    """The map of a witness as an SVG, and the words that stand for it."""
    return witness_picture(witness, opened=opened)


def stored_witnesses(bench: Bench, rig: str | None = None) -> list[StoredWitness]:
    """Every witness on the bench, or of a rig, oldest first."""
    notes = bench.notes((WITNESS_KIND, LOOK_KIND, OPEN_KIND))
    return witnesses_of(notes, None if rig is None else [rig])


def witnesses_of(notes: Sequence[Note], rigs: Sequence[str] | None) -> list[StoredWitness]:
    """The witness prints that notes hold, of some rigs."""
    looks: dict[str, list[Note]] = {}
    opened: dict[str, datetime] = {}
    for note in notes:
        if note.kind == LOOK_KIND:
            looks.setdefault(note.subject, []).append(note)
        elif note.kind == OPEN_KIND:
            opened.setdefault(note.subject, note.at)
    return [
        _read(note, looks.get(str(note.id), []), opened.get(str(note.id)))
        for note in notes
        if note.kind == WITNESS_KIND and (rigs is None or note.subject in rigs)
    ]


def stored_witness(bench: Bench, number: int) -> StoredWitness:
    """One witness by its number.

    Raises
    ------
    NotFoundError
        None of that number.
    """
    found = {one.number: one for one in stored_witnesses(bench)}
    return ledger.by_number(found, number, "witness", "Make one first.")


def _band(data: dict[str, Any]) -> Band:
    return Band(**data | {"sides": tuple(data["sides"])})


def _read(note: Note, looks: Sequence[Note], opened: datetime | None) -> StoredWitness:
    data = note.data
    bands = tuple(_band(band) for band in data["bands"])
    maps = data["maps"]
    return StoredWitness(
        note.id,
        note.at,
        note.subject,
        data["material"],
        from_mapping(WitnessSpec, data["spec"], f"witness {note.id}"),
        bands,
        {code: Wall(**wall) for code, wall in data["walls"].items()},
        data["graders"],
        data["looks"],
        data["minutes"],
        data["mass_g"],
        tuple(data["notes"]),
        data["sha256"],
        opened,
        tuple(ledger.entries(looks, LookSheet)),
        {"program": data["program"], "blind": maps["blind"], "opened": maps["opened"]},
        maps["alt"],
        data.get("simulated", False),
    )


def add_look(
    bench: Bench,
    number: int,
    data: Mapping[str, Any],
    photos: Sequence[tuple[str, bytes, str]] = (),
) -> StoredEntry[LookSheet]:
    """Enter one look of one grader; a second sheet of the same look takes the first's place.

    Parameters
    ----------
    photos : sequence of (code, bytes, words)
        Stripped of everything but their pixels before they are stored.

    Raises
    ------
    ConflictError
        The codes are open: no grade is blind any more.
    InputError, RecordError
        A sheet that is not whole, or grades that are none.
    """
    witness = stored_witness(bench, number)
    if witness.opened:
        raise ConflictError(
            f"the codes of witness {number} were opened; a grade entered now would not be blind.",
            "witness", number, "Print it again with another seed to grade anew.",
        )  # fmt: skip
    ready = [(code, clean_photo(content, f"photo of {code}"), alt) for code, content, alt in photos]
    named = [
        {"code": code, "sha256": made.sha256, "alt": alt.strip() or f"band {code}"}
        for code, made, alt in ready
    ]
    sheet = from_mapping(LookSheet, {**data, "photos": named}, "look")
    if not sheet.grader.strip():
        raise RecordError("a look needs the grader's initials.", Place.of_field("look", "grader"))
    check_sheet(sheet, witness.bands, witness.spec.kind == "weighed pair")
    for _, made, _ in ready:
        store_photo(bench, made)
    same = [
        one
        for one in witness.sheets
        if one.state == "current" and one.record.look == sheet.look
        and grader_key(one.record.grader) == grader_key(sheet.grader)
    ]  # fmt: skip
    before = same[0].id if same else None
    why = "entered again before the codes were opened" if same else ""
    made_id = ledger.add(bench, LOOK_KIND, str(number), sheet, before, why)
    return ledger.one(bench, LOOK_KIND, str(number), LookSheet, made_id)


def open_codes(bench: Bench, number: int) -> StoredWitness:
    """Open the codes of a witness, once all that was planned is entered.

    Raises
    ------
    ConflictError
        Looks are still missing.
    """
    witness = stored_witness(bench, number)
    if witness.opened:
        return witness
    if witness.missing:
        raise ConflictError(
            f"the codes of witness {number} stay closed: {'; '.join(witness.missing)}.",
            "witness", number, "Enter what is missing first.",
        )  # fmt: skip
    bench.add_note(OPEN_KIND, str(number), {"sheets": len(witness.counted)})
    return stored_witness(bench, number)
