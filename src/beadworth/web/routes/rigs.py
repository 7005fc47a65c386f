"""Pages of rigs."""

from __future__ import annotations

from typing import Any

from beadworth.core import NotFoundError, to_mapping
from beadworth.rig import OWN, Rig, without_stale, without_typical_marks
from beadworth.web.fields_records import RIG
from beadworth.web.forms import laid_over
from beadworth.web.record_fields import whole_form
from beadworth.web.rig_sheet import rig_sheet
from beadworth.web.routes.record_pages import Noun, fresh_values, record_pages
from beadworth.workflow import Bench, questions_about, uses_of_rig

GROUPS = whole_form(Rig, RIG)


def over_parent(bench: Bench, data: dict[str, Any]) -> dict[str, Any]:
    """A new rig's data laid over its parent, where that is on the bench.

    So it keeps what its form does not show (fans, holes, how well values are known) and, like any
    upgrade, loses what belonged to the old parts only. What was emptied in the form is unknown.
    """
    try:
        parent = bench.rig(str(data.get("parent", "")))
    except NotFoundError:
        return data
    under = {name: value for name, value in to_mapping(parent).items() if name not in OWN}
    return without_stale(parent, laid_over(under, GROUPS, data))


NOUN = Noun(
    noun="rig",
    plural="rigs",
    sentence="A rig is a printer in one state. Change a part and it is another rig, "
    "with the old one as its parent; a trial asks what the change did.",
    kind=Rig,
    groups=GROUPS,
    save=Bench.save_rig,
    one=Bench.rig,
    all=Bench.rigs,
    history=Bench.rig_history,
    fresh=fresh_values(Rig, name=""),
    derived=over_parent,
    about=rig_sheet,
    whole="whole",
    odd=questions_about,
    settled=without_typical_marks,
    uses=uses_of_rig,
)
router = record_pages(NOUN)
