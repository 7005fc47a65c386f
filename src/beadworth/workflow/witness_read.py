"""What stored witness prints say once their codes are open; two of them compared."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from beadworth.capacity import Span
from beadworth.core import ConflictError, InputError
from beadworth.report import PublishedWitness
from beadworth.text import capital, signed, with_unit
from beadworth.witness import (
    QUANTITIES,
    Band,
    GradedLadder,
    Witness,
    WitnessAnswer,
    difference,
    expected_width,
    grade_rows,
    grades_by_grader,
    read_sheets,
)
from beadworth.workflow.journal import add_journal_page
from beadworth.workflow.witness import (
    LOOK_KIND,
    OPEN_KIND,
    WITNESS_KIND,
    StoredWitness,
    stored_witnesses,
    witnesses_of,
)

if TYPE_CHECKING:
    from beadworth.store import Bench, StoredEntry
    from beadworth.wear import JournalEntry
    from beadworth.workflow.sections import SectionInputs


@dataclass(frozen=True)
class WitnessList:
    """The witness prints of a bench."""

    witnesses: tuple[WitnessView, ...]


@dataclass(frozen=True)
class LadderDifference:
    """One ladder of two witness prints: second less first."""

    name: str
    first: GradedLadder
    second: GradedLadder
    difference: Span

    @property
    def sentence(self) -> str:
        """The difference in words."""
        word, unit, decimals = QUANTITIES[self.first.quantity]
        low, high = self.difference.low, self.difference.high
        least, most = signed(low, decimals), signed(high, decimals)
        if low is not None and high is not None:
            span = f"{least} to {most}"
        elif low is not None:
            span = f"at least {least}"
        elif high is not None:
            span = f"at most {most}"
        else:
            return capital(f"{self.name}: {word} cannot tell.")
        apart = (low is not None and low > 0) or (high is not None and high < 0)
        verdict = "they differ" if apart else "no difference shown"
        return capital(f"{self.name}: {word} {with_unit(span, unit)}; {verdict}.")


@dataclass(frozen=True)
class WitnessView:
    """A stored witness as an answer: settings and program only once its codes are open."""

    number: int
    rig: str
    material: str
    kind: str
    stored: datetime
    codes: tuple[str, ...]
    graders: int
    looks: int
    sheets: int
    missing: tuple[str, ...]
    opened: datetime | None
    bands: tuple[Band, ...]
    answer: WitnessAnswer | None


def witness_answer(witness: StoredWitness) -> WitnessAnswer | None:
    """What the grades say; None while the codes are closed or for a print that is not graded."""
    if witness.opened is None or witness.spec.kind == "cause wall":
        return None
    return read_sheets(witness.spec.kind, witness.bands, witness.walls, witness.counted)


def compare_witnesses(one: StoredWitness, other: StoredWitness) -> list[LadderDifference]:
    """Thresholds of two witness prints held against each other, ladder by ladder.

    Raises
    ------
    InputError
        Codes still closed, or no ladder that both have.
    """
    answers = [witness_answer(witness) for witness in (one, other)]
    if None in answers:
        raise InputError(
            "two witness prints are compared once the codes of both are open.", "witness",
            [one.number, other.number], "Open the codes first.",
        )  # fmt: skip
    first, second = (
        {ladder.name: ladder for ladder in answer.ladders} for answer in answers if answer
    )
    made = [
        LadderDifference(name, ladder, second[name],
                         difference(ladder.threshold, second[name].threshold))
        for name, ladder in first.items()
        if name in second and ladder.quantity == second[name].quantity
    ]  # fmt: skip
    if not made:
        raise InputError(
            f"witness {one.number} ({one.spec.kind}) and {other.number} ({other.spec.kind}) share "
            "no ladder.", "witness", None, "Compare two of one kind.",
        )  # fmt: skip
    return made


def comparable_witnesses(bench: Bench, witness: StoredWitness) -> list[StoredWitness]:
    """Other witness prints that its ladders can be held against: open, of its kind, graded too."""
    answer = witness_answer(witness)
    if answer is None or not answer.ladders:
        return []
    return [
        one
        for one in stored_witnesses(bench)
        if one.spec.kind == witness.spec.kind and one.opened and one.number != witness.number
    ]


@lru_cache(maxsize=32)
def _width_bands(bands: int, graders: int) -> float:
    return expected_width(bands, graders, runs=12)


def grading_forecast(witness: Witness) -> str:
    """How narrow a threshold the grades of one and of three will give; empty where none is read."""
    if witness.kind not in ("layer time", "grip", "melt or motion"):
        return ""
    ladders = Counter(band.chain for band in witness.bands)
    bands = max(ladders.values())
    one, three = (_width_bands(bands, graders) for graders in (1, 3))
    return (
        f"One grader, one look: a threshold within about {one:.1f} bands of {bands}; three "
        f"graders: {three:.1f}. More graders narrow it, more bands hardly."
    )


def witness_view(witness: StoredWitness) -> WitnessView:
    """A stored witness as an answer."""
    opened = witness.opened is not None
    return WitnessView(
        witness.number, witness.rig, witness.material, witness.spec.kind, witness.at,
        tuple(band.code for band in witness.bands), witness.graders, witness.looks,
        len(witness.counted), tuple(witness.missing), witness.opened,
        witness.bands if opened else (), witness_answer(witness),
    )  # fmt: skip


def gather_witness(inputs: SectionInputs) -> tuple[PublishedWitness, ...] | None:
    """Witness prints of a trial's rigs whose codes are open, for its dossier."""
    if not inputs.notes(WITNESS_KIND, inputs.rig_names):
        return None
    notes = inputs.bench.notes((WITNESS_KIND, LOOK_KIND, OPEN_KIND))
    made = []
    for one in witnesses_of(notes, inputs.rig_names):
        answer = witness_answer(one)
        if answer is not None and one.opened is not None:
            made.append(PublishedWitness(
                one.number, one.rig, one.spec.kind, one.opened.date().isoformat(),
                len(grades_by_grader(one.counted)), len(one.counted), answer, one.invented,
                tuple(grade_rows(one.number, one.spec.kind, one.rig, one.material,
                                 one.spec.temperature_c, one.bands, one.counted)),
            ))  # fmt: skip
    return tuple(made) or None


def journal_of_witness(
    bench: Bench, witness: StoredWitness, on: date | None = None
) -> StoredEntry[JournalEntry]:
    """Put what a witness said into its rig's journal, with its photos; not shown in dossiers.

    Raises
    ------
    ConflictError
        Its codes are still closed.
    """
    answer = witness_answer(witness)
    if answer is None:
        raise ConflictError(
            f"witness {witness.number} has said nothing yet: its codes are closed.", "witness",
            witness.number, "Enter what is missing, and open the codes.",
        )  # fmt: skip
    photos = witness.photos[:12]
    data = {
        "on": on or date.today(),
        "stage": "print check",
        "title": f"Witness {witness.number}, {witness.spec.kind}: {_in_short(answer)}"[:120],
        "text": "\n".join(answer.sentences),
        "photos": [{"sha256": one.sha256, "alt": f"Band {one.code}: {one.alt}"} for one in photos],
        "simulated": witness.invented,
    }
    return add_journal_page(bench, witness.rig, data)


def _in_short(answer: WitnessAnswer) -> str:
    """The answer in a few words."""
    if answer.pair is not None:
        return answer.pair.cause or "cannot tell"
    if answer.separation is not None:
        return answer.separation.cause or "cannot tell"
    return f"{len(answer.ladders)} graded"
