"""Half a year of the demo's printer: a wear log and a journal, invented like the rest.

The truth behind it: coupons at one setting weigh 1.786 g with 4 mg of scatter; from the
eighteenth week they lose 2 mg a week, until the drive gear is cleaned; nozzles last by a
Weibull law of shape 4 and 170 h. Pictures are drawn here, shape by shape: no photo is shipped.
"""

from __future__ import annotations

import io
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from beadworth.store import Bench

BEGUN = date(2026, 3, 30)
WEEKS = 31
SETTING = "220 °C, 12 mm³/s, 600 mm"
COUPON_G, COUPON_SD_G, DRIFT_G_PER_WEEK = 1.786, 0.004, 0.002
DRIFT_FROM, CLEANED = 18, 26
LIFE_SHAPE, LIFE_SCALE_H = 4.0, 170.0
PLACES = ("front left", "front right", "back left", "back right")
WHEELS_SET_WEEK = 14
Draws = list[tuple[Any, ...]]


def seed_wear(bench: Bench, rig: str) -> None:
    """Put log and journal of a rig on a bench, once; one that was cut short is taken up again."""
    from beadworth.store import clean_photo, ledger, store_photo
    from beadworth.wear import journal_entry, wear_entry
    from beadworth.workflow import JOURNAL_KIND as JOURNAL
    from beadworth.workflow import WEAR_KIND as WEAR

    entries = demo_wear()
    for data in entries[len(bench.notes(WEAR, rig)) :]:
        ledger.add(bench, WEAR, rig, wear_entry(data, "demo"))
    pages = demo_pages()
    for data, pictures in pages[len(bench.notes(JOURNAL, rig)) :]:
        photos = [
            {"sha256": store_photo(bench, clean_photo(png, "demo")), "alt": alt}
            for png, alt in pictures
        ]
        page = journal_entry({**data, "photos": photos}, "demo", date(2026, 11, 1))
        ledger.add(bench, JOURNAL, rig, page)


def demo_wear() -> list[dict[str, Any]]:
    """Every entry of the log, in the order entered."""
    rng = np.random.default_rng(24)
    made: list[dict[str, Any]] = []

    def log(week: int, kind: str, **more: Any) -> None:
        on = str(BEGUN + timedelta(days=7 * week))
        made.append({"on": on, "kind": kind, "simulated": True, **more})

    log(0, "hours", hours_h=0.0, note="New hot end in; the log begins.")
    log(0, "reminder", what="belt tension", every_h=200.0, every_days=60)
    log(0, "reminder", what="play at the bed", every_days=90)
    log(0, "reminder", what="nozzle", every_h=150.0)
    total, fitted, life = 0.0, 0.0, LIFE_SCALE_H * float(rng.weibull(LIFE_SHAPE))
    for week in range(1, WEEKS + 1):
        hours = round(float(rng.uniform(22.0, 40.0)), 1)
        total += hours
        log(week, "hours", hours_h=hours)
        drifted = max(0, min(week, CLEANED) - DRIFT_FROM) if week <= CLEANED else 0
        mass = COUPON_G - DRIFT_G_PER_WEEK * drifted + COUPON_SD_G * rng.standard_normal()
        log(week, "check", what="repeat coupon", place=SETTING, value=round(float(mass), 3),
            unit="g")  # fmt: skip
        if week % 5 == 0:
            tension = 104.0 - 0.15 * week + 0.8 * float(rng.standard_normal())
            log(week, "check", what="belt tension", place="y belt", unit="Hz",
                value=round(tension, 1))  # fmt: skip
        if week in (1, WHEELS_SET_WEEK, WHEELS_SET_WEEK + 1):
            loose = week <= WHEELS_SET_WEEK
            for place in PLACES:
                play = (0.11 if loose else 0.05) + 0.01 * float(rng.standard_normal())
                log(week, "check", what="play at the bed", place=place, unit="mm",
                    value=round(play, 2))  # fmt: skip
        if week == WHEELS_SET_WEEK:
            log(week, "adjustment", what="bed wheels", note="Eccentric nuts turned in.")
        if total - fitted > life:
            log(week, "replacement", what="nozzle", because="failed",
                note="Bore worn oval; lines rough.")  # fmt: skip
            fitted, life = total, LIFE_SCALE_H * float(rng.weibull(LIFE_SHAPE))
        if week == 21:
            log(week, "failure", what="part fan", note="Blade broken; fan changed.")
        if week == CLEANED:
            log(week, "adjustment", what="drive gear", note="Cleaned of PLA dust.")
    return made


def demo_pages() -> list[tuple[dict[str, Any], list[tuple[bytes, str]]]]:
    """Every page of the journal with its pictures (PNG) and what they show."""

    def page(week: float, stage: str, title: str, text: str, **more: Any) -> dict[str, Any]:
        on = str(BEGUN + timedelta(days=round(7 * week)))
        return {"on": on, "stage": stage, "title": title, "text": text, "shown": True,
                "simulated": True, **more}  # fmt: skip

    return [
        (
            page(-2, "receipt", "What came in the box",
                 "Hot end, bracket, six screws, no nozzle. The bag says 11 g lighter than the old "
                 "one; on our balance, 11.0 g."),
            [(_picture(_parts()), "Drawing: a hot end, a bracket and six screws on a mat")],
        ),
        (
            page(-1.5, "fit", "The bracket touched the fan duct",
                 "The fit check had asked for 3 mm; the bracket left 1 mm.",
                 problem="Bracket 2 mm too deep for the fan duct.",
                 solved="Printed the bracket again with the face set back 2.5 mm.", lost_h=2.5),
            [(_picture(_gap()), "Drawing: bracket and fan duct side by side, 1 mm between them")],
        ),
        (
            page(-1, "bring-up", "Heater identified again, zero offset set",
                 "With the stronger heater the old gains overshot by 9 K. New gains from a step of "
                 "half duty; someone stayed with the printer throughout.",
                 problem="Overshoot of 9 K on the first heat-up.",
                 solved="Identified the heater from its log and took the calmer gains.",
                 lost_h=1.0),
            [],
        ),
        (page(0, "trial", "All coupons weighed",
              "Three days at the printer, an hour of weighing each evening."), []),
        (page(1, "print check", "The corners are the same, the walls are smoother",
              "Two graders, without knowing which was which."), []),
        (
            page(CLEANED, "months later", "The coupons had grown light",
                 "The average left its limits weeks before anybody saw it in a print.",
                 problem="Drive gear full of dust: it fed less.",
                 solved="Brushed out the gear; the next coupons were back at 1.786 g.", lost_h=0.5),
            [(_picture(_gear()), "Drawing: a drive gear with dust between its teeth")],
        ),
        (page(30, "months later", "Note to ourselves about the next order",
              "Not for others: this page is not shown in dossiers.", shown=False), []),
    ]  # fmt: skip


def _picture(shapes: Draws) -> bytes:
    """A drawing as PNG: rectangles and ellipses on a mat."""
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (720, 480), "#dfe3dc")
    draw = ImageDraw.Draw(image)
    for x in range(0, 720, 40):
        draw.line([(x, 0), (x, 480)], fill="#d0d6cd")
    for y in range(0, 480, 40):
        draw.line([(0, y), (720, y)], fill="#d0d6cd")
    for kind, box, colour in shapes:
        getattr(draw, kind)(box, fill=colour, outline="#2b333b", width=3)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def _parts() -> Draws:
    fins = [("rectangle", (90, 90 + 26 * n, 230, 104 + 26 * n), "#9aa6ad") for n in range(6)]
    screws = [("ellipse", (470 + 60 * (n % 3), 300 + 60 * (n // 3), 500 + 60 * (n % 3),
                           330 + 60 * (n // 3)), "#70777d") for n in range(6)]  # fmt: skip
    return [("rectangle", (145, 80, 175, 300), "#c9ced2"), *fins,
            ("rectangle", (105, 260, 215, 340), "#c7792f"), ("rectangle", (150, 340, 170, 380),
             "#d9b24c"), ("rectangle", (430, 90, 640, 220), "#3f5a75"),
            ("ellipse", (500, 125, 570, 195), "#dfe3dc"), *screws]  # fmt: skip


def _gap() -> Draws:
    return [("rectangle", (120, 90, 340, 390), "#3f5a75"), ("ellipse", (190, 190, 270, 270),
             "#dfe3dc"), ("rectangle", (352, 120, 600, 360), "#4c525a"),
            ("rectangle", (400, 160, 560, 320), "#6b737c"), ("rectangle", (340, 226, 352, 254),
             "#c9432a")]  # fmt: skip


def _gear() -> Draws:
    teeth: Draws = []
    for n in range(18):
        angle = 2.0 * np.pi * n / 18
        x, y = 360 + 150 * np.cos(angle), 240 + 150 * np.sin(angle)
        dust = "#d8cfa8" if n % 3 else "#b8c0c6"
        teeth.append(("ellipse", (x - 24, y - 24, x + 24, y + 24), dust))
    return [*teeth, ("ellipse", (220, 100, 500, 380), "#a9b2b8"),
            ("ellipse", (330, 210, 390, 270), "#4c525a")]  # fmt: skip
