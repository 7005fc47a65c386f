"""Small pieces of sentences: a list with 'and', a count with its noun, a capital letter."""

from __future__ import annotations

from collections.abc import Iterable

from beadworth.text.numbers import number


def join_words(items: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    *rest, end = list(items) or [""]
    return f"{', '.join(rest)} {last} {end}" if rest else end


def count(of: int, one: str, many: str | None = None) -> str:
    """``1 coupon``, ``3 coupons``; ``many`` where the plural takes more than an s."""
    return f"{of} {one if of == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """The text with a capital first letter; the rest stays."""
    return text[:1].upper() + text[1:]


def quoted(text: str, most: int = 40) -> str:
    """Typed text in quotes for a message: cut short where long, what cannot be printed as �."""
    plain = "".join(c if c.isprintable() else "�" for c in text.strip()[: most + 1])
    return f"'{plain[:most]}…'" if len(plain) > most else f"'{plain}'"


def value_text(value: object, digits: int = 6) -> str:
    """One value of a record as it is read: ``not recorded``, ``yes``, ``12.5``, ``belt``."""
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(value, digits) if isinstance(value, int | float) else str(value)
