"""Price and mass of the upgrade against the parent rig: no limit, just the figures."""

from __future__ import annotations

from beadworth.fit.check import Case, Found, Missing, Rule, UnknownError
from beadworth.fit.load import added_mass_g, moving_mass_g


def _price(case: Case) -> Found:
    rig, parent = case.rig, case.parent
    price = case.get("price")
    if price is None:
        parts = [
            (after.price, name)
            for name in ("hot_end", "extruder")
            if (after := getattr(rig, name)) != getattr(parent, name)
        ]
        if rig.fans != parent.fans:
            parts += [
                (None if f.price is None else f.price * f.count, "fans")
                for f in rig.fans
                if f not in parent.fans
            ]
        missing = [name for amount, name in parts if amount is None]
        if missing or not parts:
            raise UnknownError(
                Missing("price", "price (of the parts that differ from the parent rig)")
            )
        price = sum(amount for amount, _ in parts if amount is not None)
    money = rig.currency or ""
    before = (
        f" The parent rig's own upgrade was {parent.price:g} {parent.currency or ''}".rstrip() + "."
        if parent.price is not None
        else ""
    )
    return Found(price, f"Parts of this upgrade: {price:g} {money}".rstrip() + f".{before}")


def _mass(case: Case) -> Found:
    added = added_mass_g(case)
    try:
        after, before = moving_mass_g(case, "x")
        total = f" x moves {after:.0f} g"
        total += f", before {before:.0f} g." if before is not None else "."
    except UnknownError:
        total = ""
    return Found(added.grams, f"{added.how}{total}")


def rules_for(case: Case) -> tuple[Rule, ...]:
    """Price in the rig's currency, and mass."""
    return (
        Rule("price", case.rig.currency or "", "Price and mass", _price),
        Rule("added mass", "g", "Price and mass", _mass),
    )
