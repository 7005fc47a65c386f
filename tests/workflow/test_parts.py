"""Rigs from part cards; what somebody uses stays on the bench."""

from __future__ import annotations

import pytest

from beadworth.core import ConflictError, NotFoundError, RecordError
from beadworth.rig import BuildVolume, HotEnd, PartCard, Rig
from beadworth.store import open_bench
from beadworth.workflow import (
    make_upgrade,
    questions_about,
    remove_part,
    remove_rig,
    store_card_of,
    uses_of_rig,
)

STOCK = Rig(name="Stock", hot_end=HotEnd(melt_zone_mm=12.0, temperature_limit_c=260.0),
            build_volume=BuildVolume(x_mm=220.0, y_mm=220.0, z_mm=240.0))  # fmt: skip
LONG = PartCard(name="Long", kind="hot end", price=40.0, currency="EUR", supplied_by="the maker",
                hot_end=HotEnd(melt_zone_mm=20.0))  # fmt: skip


@pytest.fixture
def bench(tmp_path, empty_bench):
    with open_bench(empty_bench(tmp_path / "parts.bench")) as made:
        made.save_rig(STOCK)
        made.save_part(LONG)
        yield made


def test_an_upgrade_takes_price_and_supplier_from_the_card_unless_typed(bench):
    first = make_upgrade(bench, "Stock", {}, ["Long"])
    assert (first.name, first.price, first.supplied_by) == ("Stock, Long", 40.0, "the maker")
    typed = {"name": "B", "price": 55.0, "hot_end": {"heater_w": 70.0}}
    second = make_upgrade(bench, "Stock", typed, ["Long"])
    assert (second.price, second.currency) == (55.0, "EUR")
    assert (second.hot_end.melt_zone_mm, second.hot_end.heater_w) == (20.0, 70.0)
    assert second.parent == "Stock"
    assert second.parts.hot_end is None  # another heater than the card's
    with pytest.raises(RecordError, match="is on the bench already"):
        make_upgrade(bench, "Stock", {"name": "B"}, ["Long"])
    with pytest.raises(NotFoundError, match=r"there is no part 'Lon' .*On the bench: Long"):
        make_upgrade(bench, "Stock", {}, ["Lon"])


def test_a_card_stays_while_a_rig_was_made_from_it(bench):
    make_upgrade(bench, "Stock", {"name": "B"}, ["Long"])
    with pytest.raises(ConflictError, match="Long is a part of B"):
        remove_part(bench, "Long")
    remove_rig(bench, "B")
    remove_part(bench, "Long")
    assert bench.parts() == []
    assert bench.rig("Stock") == STOCK


def test_a_rig_stays_while_anything_is_about_it(bench):
    make_upgrade(bench, "Stock", {"name": "B"}, ["Long"])
    assert uses_of_rig(bench, "B") == []
    bench.add_note("worth", "Worth it", {"rigs": ["Stock", "B"]})
    bench.add_note("wear", "B", {"entry": {}})
    bench.add_note("print-replay", "0" * 64, {"rig": "B"})
    assert uses_of_rig(bench, "B") == ["worth case Worth it", "its wear log",
                                       "a print replayed on it"]  # fmt: skip
    assert uses_of_rig(bench, "Stock") == ["its upgrade B", "worth case Worth it"]
    with pytest.raises(ConflictError, match="B is used: worth case Worth it, its wear log and a"):
        remove_rig(bench, "B")


def test_a_card_is_copied_from_a_rig_once(bench):
    card = store_card_of(bench, "Stock", "hot end", "Old one")
    assert card.hot_end.melt_zone_mm == 12.0
    with pytest.raises(ConflictError, match="is on the bench already"):
        store_card_of(bench, "Stock", "hot end", "Old one")


def odd(bench, rig, before=None):
    return [(one.path.dotted, one.remedy) for one in questions_about(bench, rig, before)]


def test_what_is_odd_is_asked_once(bench):
    wide = STOCK.model_copy(update={"hot_end": HotEnd(nozzle_mm=4.0, temperature_limit_c=2600.0)})
    assert odd(bench, wide) == [
        ("hot_end.nozzle_mm", "Perhaps 0.4? Correct it, or say that it is so."),
        ("hot_end.temperature_limit_c", "Perhaps 260? Correct it, or say that it is so."),
    ]
    assert odd(bench, wide, wide) == []
    lost = STOCK.model_copy(update={"name": "C", "parent": "Stok"})
    ((path, remedy),) = odd(bench, lost)
    assert path == "parent"
    assert remedy.startswith("On the bench: Stock. Correct the name")
    assert odd(bench, lost.model_copy(update={"parent": "Stock"})) == []
