"""A part put on a rig replaces the old one whole: nothing of the old one stays behind."""

from __future__ import annotations

import pytest

from beadworth.core import RecordError, from_mapping, from_toml, to_toml
from beadworth.demo import STOCK
from beadworth.rig import Fan, Guide, HotEnd, Known, PartCard, card_of, with_parts

ZONE = PartCard(
    name="Copper, long", kind="hot end", price=54.0, currency="EUR", mass_g=71.0,
    hot_end=HotEnd(melt_zone_mm=20.0, temperature_limit_c=290.0, heater_w=60.0),
)  # fmt: skip
DUCT = PartCard(name="Wide fan", kind="fan", price=9.0, currency="EUR", mass_g=30.0,
                fan=Fan(purpose="part", airflow_m3_h=12.0))  # fmt: skip


def test_a_new_hot_end_leaves_nothing_of_the_old_one():
    after = with_parts(STOCK, [ZONE], "Tern, copper")
    assert after.parent == STOCK.name
    assert after.parts.hot_end == "Copper, long"
    assert (after.hot_end.melt_zone_mm, after.hot_end.mass_g) == (20.0, 71.0)
    assert (after.price, after.currency) == (54.0, "EUR")
    for gone in ("bore_mm", "ptfe_in_melt_zone", "sensor", "standing_loss_w_k", "heat_break_mm"):
        assert getattr(STOCK.hot_end, gone) is not None, gone
        assert getattr(after.hot_end, gone) is None, gone
    assert STOCK.toolhead.nozzle_z_mm is not None
    assert after.toolhead.nozzle_z_mm is None  # the new one hangs where nobody measured
    assert after.toolhead.mass_g == STOCK.toolhead.mass_g
    assert not [path for path in after.known if path.startswith("hot_end.")]
    assert "extruder.grip_force_n" in after.known
    assert after.extruder == STOCK.extruder
    assert after.axes == STOCK.axes


def test_a_fan_takes_the_place_of_the_one_for_the_same_thing():
    after = with_parts(STOCK, [ZONE, DUCT], "Tern, both")
    assert [(fan.purpose, fan.mass_g) for fan in after.fans] == [("hot end", 11.0), ("part", 30.0)]
    assert after.price == 63.0
    assert after.parts.fan == "Wide fan"


def guides(name, mass_g, axes=("x",)):
    return PartCard(name=name, kind="guides", mass_g=mass_g, axes=axes,
                    guide=Guide(kind="rail", spacing_mm=12.0))  # fmt: skip


def test_the_moving_mass_follows_guides_only_where_both_were_weighed():
    old, new, light = guides("Old rail", 40.0), guides("New rail", 28.0), guides("Bare", None)
    first = with_parts(STOCK, [old], "With rail")
    assert first.axes.x.moving_mass_g is None  # what ran there before has no card
    weighed = first.model_copy(
        update={"axes": first.axes.model_copy(
            update={"x": first.axes.x.model_copy(update={"moving_mass_g": 405.0})})}
    )  # fmt: skip
    known = {"Old rail": old}
    assert with_parts(weighed, [new], "N", known_cards=known).axes.x.moving_mass_g == 393.0
    assert with_parts(weighed, [light], "L", known_cards=known).axes.x.moving_mass_g is None
    assert with_parts(weighed, [new], "N").axes.x.moving_mass_g is None
    assert with_parts(weighed, [new], "N").axes.x.beam == STOCK.axes.x.beam


def test_prices_add_up_only_in_one_currency_and_where_all_are_known():
    other = DUCT.model_copy(update={"currency": "SEK"})
    unknown = DUCT.model_copy(update={"price": None})
    for fan in (other, unknown):
        assert with_parts(STOCK, [ZONE, fan], "A").price is None
    pair = DUCT.model_copy(update={"fan": Fan(purpose="part", count=2)})
    assert with_parts(STOCK, [pair], "A").price == 18.0


def test_two_parts_for_one_place_and_none_at_all_are_refused():
    with pytest.raises(RecordError, match="are both for one place: hot end"):
        with_parts(STOCK, [ZONE, ZONE.model_copy(update={"name": "Other"})], "A")
    with pytest.raises(RecordError, match="are both for one place: guides x"):
        with_parts(STOCK, [guides("A", 1.0, ("x", "y")), guides("B", 1.0)], "A")
    with pytest.raises(RecordError, match="no part is named"):
        with_parts(STOCK, [], "A")


def test_a_later_change_of_the_part_takes_its_name_away():
    from beadworth.rig import upgrade

    after = with_parts(STOCK, [ZONE, DUCT], "Tern, both")
    assert upgrade(after, {"motion": {"print_acceleration_mm_s2": 1500.0}}).parts == after.parts
    bored = upgrade(after, {"hot_end": {"melt_zone_mm": 22.0}})
    assert (bored.parts.hot_end, bored.parts.fan) == (None, "Wide fan")


@pytest.mark.parametrize("kind", ["hot end", "extruder", "guides", "fan"])
def test_what_a_rig_knows_of_a_part_makes_a_card_that_makes_the_same_part(kind):
    card = from_mapping(PartCard, {"name": "Own", **card_of(STOCK, kind)}, "part")
    assert from_toml(PartCard, to_toml(card), "own.toml") == card
    again = with_parts(STOCK, [card], "Same")
    same = {
        "hot end": lambda rig: rig.hot_end,
        "extruder": lambda rig: rig.extruder,
        "guides": lambda rig: rig.axes.x.guide,
        "fan": lambda rig: next(fan for fan in rig.fans if fan.purpose == "part"),
    }[kind]
    assert same(again) == same(STOCK)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"hot_end": {}, "extruder": {"drive": "direct"}}, "has a table extruder"),
        ({"hot_end": {"mass_g": 20.0}}, "mass_g inside the table hot_end"),
        ({"axes": []}, "too few values"),
    ],
)
def test_one_card_is_one_part(data, says):
    with pytest.raises(RecordError, match=says):
        from_mapping(PartCard, {"name": "A", "kind": "hot end", **data}, "card")


def test_known_of_the_old_part_goes_even_where_the_value_is_the_same():
    measured = STOCK.model_copy(
        update={"known": {"hot_end.melt_zone_mm": Known(u=0.1, origin="measured")}}
    )
    same = ZONE.model_copy(update={"hot_end": HotEnd(melt_zone_mm=STOCK.hot_end.melt_zone_mm)})
    assert with_parts(measured, [same], "A").known == {}
