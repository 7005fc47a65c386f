"""Pages of rigs."""

from __future__ import annotations

from beadworth.bench import Bench
from beadworth.rig import Rig
from beadworth.web.fields_records import RIG
from beadworth.web.further import whole_form
from beadworth.web.rig_sheet import rig_sheet
from beadworth.web.routes.record_pages import Noun, fresh_values, record_pages

NOUN = Noun(
    noun="rig",
    plural="rigs",
    sentence="A rig is a printer in one state. Change a part and it is another rig, "
    "with the old one as its parent; a trial asks what the change did.",
    kind=Rig,
    groups=whole_form(Rig, RIG),
    save=Bench.save_rig,
    one=Bench.rig,
    all=Bench.rigs,
    history=Bench.rig_history,
    fresh=fresh_values(Rig, name=""),
    about=rig_sheet,
)
router = record_pages(NOUN)
