"""``beadworth witness``: test objects that part causes, graded blind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.command import Answer, Call, Next, command, notes, written
from beadworth.cli.load import is_record_file, load_material, load_rig
from beadworth.cli.options import RigArgument, read_bytes
from beadworth.cli.table import Table
from beadworth.core import InputError, write_file
from beadworth.text import parse_number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from beadworth.workflow import StoredWitness, Witness

app = typer.Typer(
    help="Print an object built to part causes, have it graded blind, read what it says."
)
NumberArgument = Annotated[int, typer.Argument(help="Its number, as `witness list` shows it.")]
KindArgument = Annotated[
    Literal["weighed-pair", "melt-or-motion", "overhang", "layer-time", "grip", "cause-wall"],
    typer.Argument(help="What to make; `witness kinds` says what each is for."),
]


@command(app, "kinds", "witness kinds", uses_bench=False)
def kinds(call: Call) -> Answer:
    """List the witness prints and the question that each answers."""
    from beadworth.workflow import WITNESS_QUESTIONS

    rows = [(kind.replace(" ", "-"), asks) for kind, asks in WITNESS_QUESTIONS.items()]
    return Answer(
        {"kinds": [{"kind": kind, "question": asks} for kind, asks in rows]},
        [Table("Witness prints", ("kind", "question"), rows)],
    )


@command(
    app,
    "program",
    "witness program my-rig.toml weighed-pair --ceiling 12 --out pair.gcode",
    'witness program "My rig" melt-or-motion --ceiling 12 --out loop.gcode --map loop.svg --keep',
)
def program(
    call: Call,
    rig: RigArgument,
    kind: KindArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.gcode", help="Program to write.")],
    ceiling: Annotated[
        float | None,
        typer.Option(metavar="MM³/S", help="Flow at which the hot end is thought to fall short."),
    ] = None,
    material: Annotated[
        str, typer.Option(help="Generic polymer, a TOML file, or a bench material.")
    ] = "PLA",
    temperature: Annotated[float, typer.Option(metavar="°C", help="Nozzle temperature.")] = 210.0,
    layer: Annotated[
        float | None, typer.Option(metavar="MM", help="Layer height; left out: half the nozzle.")
    ] = None,
    fan: Annotated[float, typer.Option(metavar="SHARE", help="Part fan, 0 to 1.")] = 1.0,
    seed: Annotated[int, typer.Option(help="Draws order and codes of the bands.")] = 1,
    map_file: Annotated[
        Path | None, typer.Option("--map", metavar="FILE.svg", help="Map to hold beside the print.")
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Record it with the rig, which must be on the bench.")
    ] = False,
    graders: Annotated[int, typer.Option(help="How many will grade it.")] = 1,
    looks: Annotated[int, typer.Option(help="How often each will look.")] = 2,
) -> Answer:
    """Write the program of a witness print; every band is replayed first, or it is refused."""
    from beadworth.workflow import plan_witness, store_witness, witness_map

    record, polymer = load_rig(rig, call), load_material(material, call)
    data = {
        "kind": kind.replace("-", " "), "temperature_c": temperature, "ceiling_mm3_s": ceiling,
        "layer_mm": layer, "fan": fan, "seed": seed,
    }  # fmt: skip
    if keep and is_record_file(rig):
        raise InputError(
            "a witness is recorded with a rig of the bench, not with a file.", "--keep", rig,
            "Give the rig's name, or leave out --keep.",
        )  # fmt: skip
    made = plan_witness(record, polymer, data)
    stored = store_witness(call.bench, made, record, polymer, graders, looks) if keep else None
    write_file(out, made.text)
    drawn, alt = witness_map(made)
    if map_file is not None:
        write_file(map_file, drawn)
    answer = {
        "number": stored.number if stored else None, "file": str(out), "kind": made.kind,
        "minutes": made.minutes, "mass_g": round(made.mass_g, 2),
        "codes": [band.code for band in made.bands],
        "drafts": made.drafts, "map_alt": alt, "notes": made.notes,
    }  # fmt: skip
    return Answer(answer, _made(made, out, map_file, stored))


def _made(
    made: Witness, out: Path, map_file: Path | None, stored: StoredWitness | None
) -> Iterator[str | Table]:
    yield from written(out, *([map_file] if map_file else []))
    yield (
        f"{len(made.bands)} bands, {made.mass_g:.1f} g, about {made.minutes:.0f} min. Replayed: "
        "every band reaches what it claims."
    )
    if stored:
        yield (
            f"Recorded as witness {stored.number} of {stored.rig}: once it is printed, enter its "
            "grades."
        )
    yield from notes(made.notes)
    yield "Hot and moving: stay with it, ventilate, keep hands away."


@command(app, "list", "witness list")
def list_(
    call: Call,
    rig: Annotated[str | None, typer.Argument(help="A rig's name; left out: all.")] = None,
) -> Answer:
    """List the witness prints of the bench, and how far their grading is."""
    from beadworth.workflow import stored_witnesses, witness_view

    found = [witness_view(one) for one in stored_witnesses(call.bench, rig)]
    table = Table.of(
        "Witness prints",
        found,
        {"number": "number", "kind": "kind", "rig": "rig", "looks": "sheets",
         "codes": lambda one: "open" if one.opened else "closed"},
    )  # fmt: skip
    return Answer({"witnesses": found}, [table])


@command(app, "map", "witness map 12 --out map.svg")
def map_(
    call: Call,
    number: NumberArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.svg", help="Map to write.")],
    program: Annotated[
        Path | None, typer.Option(metavar="FILE.gcode", help="Write its program too.")
    ] = None,
) -> Answer:
    """Write the map of a recorded witness, with settings once its codes are open."""
    from beadworth.workflow import stored_witness

    found = stored_witness(call.bench, number)
    write_file(out, found.map_svg)
    if program is not None:
        write_file(program, found.program)
    return Answer(
        {"file": str(out), "opened": found.opened, "alt": found.alt},
        written(out, *([program] if program else [])),
    )


@command(
    app,
    "grade",
    "witness grade 12 --grader AB --look 1 K.front=2 K.folded=1",
    "witness grade 13 --grader AB --mass K=2.01 --mass M=1.95",
)
def grade(
    call: Call,
    number: NumberArgument,
    grader: Annotated[str, typer.Option(help="Initials or a made-up name.")],
    grades: Annotated[
        list[str] | None,
        typer.Argument(metavar="CODE.SIDE=GRADE...", help="0 to 4, or ? where none can be given."),
    ] = None,
    look: Annotated[int, typer.Option(help="1 the first look, 2 a repeat.")] = 1,
    mass: Annotated[
        list[str] | None, typer.Option(metavar="CODE=GRAMS", help="Of a weighed pair; repeat.")
    ] = None,
    photo: Annotated[
        list[str] | None, typer.Option(metavar="CODE=FILE", help="Photo of a band; repeat.")
    ] = None,
) -> Answer:
    """Enter one whole look of one grader, while the codes are closed."""
    from beadworth.workflow import add_look, stored_witness

    data: dict[str, Any] = {"grader": grader, "look": look}
    given = dict(_pair(word, "grade") for word in grades or [])
    data["grades"] = {
        key.replace(".", " ", 1).replace("-", " "): None if value == "?" else _whole(key, value)
        for key, value in given.items()
    }
    data["masses_g"] = {
        code: _decimal(code, value)
        for code, value in (_pair(word, "--mass") for word in mass or [])
    }
    photos = [
        (code, read_bytes(Path(name)), f"band {code}")
        for code, name in (_pair(word, "--photo") for word in photo or [])
    ]
    stored = add_look(call.bench, number, data, photos)
    left = stored_witness(call.bench, number).missing
    step = Next(("witness", "open", str(number))) if not left else None
    said = f"Look {look} of {grader} at witness {number} is in."
    return Answer(stored, [said, *(f"Missing: {one}" for one in left)], step)


def _pair(word: str, where: str) -> tuple[str, str]:
    key, sign, value = word.partition("=")
    if not sign or not key or not value:
        raise InputError(
            f"{word!r} is no pair.", where, word, "Write it like K.front=2, with one =."
        )
    return key, value


def _whole(key: str, value: str) -> int:
    if not value.isdecimal():
        raise InputError(f"{value!r} is no grade.", key, value, "Give 0 to 4, or ?.")
    return int(value)


def _decimal(key: str, value: str) -> float:
    mass_g = parse_number(value)
    if mass_g is None:
        raise InputError(f"{value!r} is no mass.", key, value, "Give grams, as 2.013.")
    return mass_g


@command(app, "open", "witness open 12")
def open_(call: Call, number: NumberArgument) -> Answer:
    """Open the codes, once every planned look is in."""
    from beadworth.workflow import open_codes, witness_view

    found = witness_view(open_codes(call.bench, number))
    return Answer(
        found,
        [f"The codes of witness {number} are open. No look can be added any more."],
        Next(("witness", "read", str(number))),
    )


@command(app, "read", "witness read 12", "witness read 12 --journal")
def read(
    call: Call,
    number: NumberArgument,
    journal: Annotated[
        bool, typer.Option("--journal", help="Put it into the rig's journal too.")
    ] = False,
) -> Answer:
    """Say what the grades say: the cause, thresholds with their intervals, how graders agree."""
    from beadworth.workflow import journal_of_witness, stored_witness, witness_view

    stored = stored_witness(call.bench, number)
    if journal:
        journal_of_witness(call.bench, stored)
    found = witness_view(stored)
    answer = found.answer
    if answer is None:
        left = "; ".join(found.missing) or "a cause wall is read from its photos"
        return Answer(found, [f"Nothing to read yet: {left}."])

    def describe() -> Iterator[str | Table]:
        yield from answer.sentences
        if answer.agreement:
            yield Table(
                "Agreement, weighted kappa",
                ("who", "kappa", "low", "high"),
                [(row.who, row.agreement.kappa, row.agreement.low, row.agreement.high)
                 for row in answer.agreement],
            )  # fmt: skip

    return Answer(found, describe())


@command(app, "compare", "witness compare 12 15")
def compare(
    call: Call,
    first: Annotated[int, typer.Argument(help="Number of the first.")],
    second: Annotated[int, typer.Argument(help="Number of the second.")],
) -> Answer:
    """Hold the thresholds of two witness prints against each other: two fans, frames, filaments."""
    from beadworth.workflow import compare_witnesses, stored_witness

    found = compare_witnesses(stored_witness(call.bench, first), stored_witness(call.bench, second))
    return Answer({"differences": found}, [one.sentence for one in found])
