"""Pages of materials."""

from __future__ import annotations

from beadworth.material import GENERIC, Material
from beadworth.web.fields_records import MATERIAL
from beadworth.web.record_fields import whole_form
from beadworth.web.routes.record_pages import Noun, record_pages
from beadworth.workflow import Bench

NOUN = Noun(
    noun="material",
    plural="materials",
    sentence="A material is one filament with its density and working range, and where "
    "those values come from.",
    kind=Material,
    groups=whole_form(Material, MATERIAL),
    save=Bench.save_material,
    one=Bench.material,
    all=Bench.materials,
    history=Bench.material_history,
    fresh={},
    generics=GENERIC,
)
router = record_pages(NOUN)
