"""What people type and save: bytes, numbers, masses, and whether a mass can be what was fed."""

from __future__ import annotations

import math
import re

from beadworth.core import FILAMENT_MM, Place, Problem, ReadingsError, filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import parse_number as number_or_none
from beadworth.text import quoted
from beadworth.trial.record import Reading

HEAVIEST_G_CM3 = 5.0
"""Density reckoned with where none is known: polymers filled with bronze or copper reach about
4 g/cm³, so nothing on a spool should be above 5 (assumption, common practice, no source)."""
MORE_THAN_FED = 1.15
"""A coupon heavier than this many times what was fed cannot be: a spool ±0.05 mm off its diameter
gives 6 % more section, its density may be 3 % up, a drive that is not calibrated feeds 6 % more;
together 1.15 (assumption, common practice, no source). Less would refuse a drive that is worth
seeing."""
NOTHING_TAKEN = "nothing was imported."
_DIGITS = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]*)?(?:[eE][+-]?[0-9]+)?")
_WITH_UNIT = re.compile(r"[+-]?[0-9][0-9.,]*\s*([^\s0-9.,+\-].*)", re.DOTALL)
_GRAMS = re.compile(r"\s*g\s*$", re.IGNORECASE)


def _utf16(data: bytes) -> str | None:
    """The kind of UTF-16 that a table is in; None for another encoding.

    A table's first letters are ASCII, so that without a mark every other byte of it is 0; no
    other text has any.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    head = data[:64]
    first, second = head[::2].count(0), head[1::2].count(0)
    if len(head) < 8 or max(first, second) < len(head) // 3 or min(first, second):
        return None
    return "utf-16-be" if first else "utf-16-le"


def decode(data: bytes, source: str) -> str:
    """A table's bytes as text: UTF-8, or UTF-16 by its byte-order mark or its empty bytes.

    Raises
    ------
    ReadingsError
        Bytes that are neither, with the place of the first such byte.
    """
    utf16 = _utf16(data)
    try:
        return data.decode(utf16 or "utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        name = "UTF-16" if utf16 else "UTF-8"
        raise ReadingsError(
            f"byte {error.start + 1} is not {name} text.",
            where=Place(source, row=None if utf16 else row),
            remedy=f"Save the table as CSV in UTF-8, then import again; {NOTHING_TAKEN}",
        ) from None


def parse_number(text: str) -> float:
    """A number as people type it: decimal point or comma, blanks around it.

    Raises
    ------
    ValueError
        Anything else, with the reason.
    """
    typed = text.strip().replace("\u2212", "-")
    if (value := number_or_none(text)) is not None:
        return value
    if _DIGITS.fullmatch(typed):
        raise ValueError(f"{quoted(text)} is too large to be a number")
    if typed.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise ValueError(f"{quoted(text)} is not a finite number")
    if unit := _WITH_UNIT.fullmatch(typed):
        raise ValueError(f"{quoted(text)} is a number with {quoted(unit[1])} behind it")
    if re.fullmatch(r"[+-]?[0-9][0-9.,\s']*", typed):
        raise ValueError(
            f"{quoted(text)} has more than one separator: thousands are written without one"
        )
    raise ValueError(f"{quoted(text)} is not a number")


def parse_mass(text: str, what: str = "mass", *, zero: bool = False) -> float:
    """A mass in grams as typed at the balance: "1.79", "1,79", "1.79 g".

    Parameters
    ----------
    text : str
    what : str
        What messages call it: "mass", "tare".
    zero : bool
        Whether 0 will do (a tare may be 0).

    Raises
    ------
    ReadingsError
        Not a number, another unit than g, or not above zero.
    """
    try:
        value = parse_number(_GRAMS.sub("", text))
    except ValueError as error:
        raise ReadingsError(
            f"{error}.", what, text, f"Type the {what} in grams, for example 1.79."
        ) from None
    if value < 0 or (value == 0 and not zero):
        raise ReadingsError(
            f"{value:g} g is no {what}.", what, value, "Zero the balance and weigh it again."
        )
    return value


def check_mass(
    net_g: float,
    filament_mm: float,
    *,
    density_g_cm3: float | None = None,
    diameter_mm: float = FILAMENT_MM,
    where: str | Place = "mass",
) -> Problem | None:
    """The problem with a net mass that cannot be what was fed; None where it can.

    Parameters
    ----------
    net_g : float
        Mass of the coupon alone.
    filament_mm : float, > 0
        Filament fed for it.
    density_g_cm3 : float, optional
        Left out: :data:`HEAVIEST_G_CM3`, and the message says that it is assumed.
    diameter_mm : float, > 0
        Of the filament.
    where : str or Place
        The place named in the message.
    """
    if net_g <= 0:
        return Problem(
            f"{net_g:g} g is no mass of a coupon.",
            where,
            net_g,
            "Check the tare, zero the balance and weigh the coupon again.",
        )
    density = HEAVIEST_G_CM3 if density_g_cm3 is None else density_g_cm3
    fed = filament_mass_g(filament_mm, diameter_mm, density)
    if net_g <= fed * MORE_THAN_FED:
        return None
    assumed = "; density not known, so the heaviest is assumed" if density_g_cm3 is None else ""
    return Problem(
        f"{net_g:g} g is more than the {filament_mm:g} mm that were fed can weigh "
        f"({fed:.2f} g at {density:g} g/cm³{assumed}).",
        where,
        net_g,
        "Check the unit and the tare.",
    )


def check_reading(
    reading: Reading,
    rig: Rig | None,
    material: Material | None,
    source: str,
    row: int | None = None,
) -> Problem | None:
    """What is wrong with the masses of a reading, as far as it is known what was fed.

    Parameters
    ----------
    rig, material : optional
        Records that give filament diameter and density.
    source, row
        The table and its row, or the coupon, for the message.
    """

    def problem(what: str, column: str, value: float | None, remedy: str) -> Problem:
        return Problem(what, Place(source, row=row, column=column), value, remedy)

    mass, tare, measured = reading.mass_g, reading.tare_g, reading.diameter_mm
    if not all(map(math.isfinite, (mass, tare or 0.0, measured or 1.0))):
        return problem("a mass or diameter is not a finite number.", "mass_g", None,
                       "Type the mass in grams, the diameter in mm.")  # fmt: skip
    if mass <= 0:
        return problem(f"{mass:g} g is no mass.", "mass_g", mass,
                       "Check the sign and the balance's zero.")  # fmt: skip
    if tare is not None and tare < 0:
        return problem(f"a tare of {tare:g} g is not possible.", "tare_g", tare,
                       "Check the sign and the balance's zero.")  # fmt: skip
    if tare is not None and tare >= mass:
        return problem(
            f"the tare, {tare:g} g, is not below the gross mass, {mass:g} g.", "tare_g", tare,
            "The mass is gross where a tare is given: check which of the two is which.",
        )  # fmt: skip
    if measured is not None and not 0.5 < measured < 5:
        return problem(f"filament is not {measured:g} mm thick.", "diameter_mm", measured,
                       "Give the diameter in mm, 0.5 to 5.")  # fmt: skip
    diameter = measured or (rig.filament_diameter_mm if rig else None)
    return check_mass(
        reading.net_g,
        reading.filament_mm,
        density_g_cm3=material.density_g_cm3 if material and diameter else None,
        diameter_mm=diameter or Rig(name="unknown").filament_diameter_mm,
        where=Place(source, row=row, column="mass_g"),
    )
