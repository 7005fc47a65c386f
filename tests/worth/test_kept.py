"""A case kept by release 0.1.0 is read and answers as it did then (the demo's, invented)."""

import json
from pathlib import Path

import pytest

from beadworth.core import to_json
from beadworth.worth.answer import work_out
from beadworth.worth.case import case_from_mapping
from beadworth.worth.stored import from_plain, to_plain

pytestmark = pytest.mark.usefixtures("full_fits")  # answers are held to nine digits
KEPT = json.loads((Path(__file__).parent / "data" / "kept-case-0.1.0.json").read_text("utf-8"))


def test_a_kept_case_answers_as_it_did_when_it_was_kept():
    case = case_from_mapping(KEPT["case"], "kept")
    found = to_json(work_out(from_plain(case, KEPT["replayed"])).worth)
    said = KEPT["said"]
    # it could not be told apart then; now the draws that pay are named: most, but not nearly all
    assert (said["verdict"], found["verdict"]) == ("cannot tell", "probably worth it")
    for name in ("hours_saved_per_year", "cost", "break_even_prints"):
        assert found[name] == pytest.approx(said[name], rel=1e-9)


def test_what_is_kept_comes_back_whole():
    case = case_from_mapping(KEPT["case"], "kept")
    asked = from_plain(case, KEPT["replayed"])
    plain = json.loads(json.dumps(to_plain(asked)))
    # what a difference and a print have gained since is empty in a case of then
    pairs = [*zip(plain["differences"], KEPT["replayed"]["differences"], strict=True)]
    for new, old in zip(plain["prints"], KEPT["replayed"]["prints"], strict=True):
        sides = ("baseline", "candidate")
        pairs += [(new[side], old[side]) for side in sides]
        assert new | dict.fromkeys(sides) == old | dict.fromkeys(sides)
    for new, old in pairs:
        assert new.items() >= old.items()
        assert not any(new[name] for name in new.keys() - old.keys())
    lists = {"differences": [], "prints": []}
    assert plain | lists == KEPT["replayed"] | lists
    assert from_plain(case, plain) == asked
