"""Many prints against a ceiling: the worst of them, by the time they are over it."""

from __future__ import annotations

from beadworth.replay import SurveySummary
from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, names, narrow, quantity, series, six_figures
from beadworth.report.charts.layout import plot
from beadworth.report.charts.marks import bar, text
from beadworth.text import duration, join_words, percent

SHOWS = {"will": "will show", "may": "may show", "cannot": "cannot show", None: "not known"}
LONGEST = 42
"""Letters of a file's name."""


def survey_chart(found: SurveySummary) -> Chart:
    """The prints that are over their ceiling worst, and for how long."""
    labels = _labels(found)

    def draw(width_px: float) -> Spec:
        per, unit = (60.0, "min") if _longest(found) >= 180 else (1.0, "s")
        rows: list[Row] = [
            {"print": label, "over": six_figures(one.over_ceiling_s / per),
             "shows": SHOWS[one.shows], "text": duration(one.over_ceiling_s)}
            for label, one in zip(labels, found.worst, strict=True)
        ]  # fmt: skip
        left = min(0.45 * width_px, 20.0 + 6.4 * max(map(len, labels), default=1))
        used = [word for word in SHOWS.values() if any(row["shows"] == word for row in rows)]
        legend = {"columns": 1 if narrow(width_px) else 4}
        top = 1.25 * max((row["over"] for row in rows), default=1.0) or 1.0
        x = quantity("over", f"over the ceiling, {unit}", (0.0, top), grid=False, tickCount=5)
        return plot(
            rows,
            bar(x=x, color=series("shows", used or ["not known"], **legend)),
            text(style="value", align="left", dx=5, x=x, text=TEXT),
            width=width_px - left - 20.0,
            height={"step": 24},
            y=names("print", labels, labelLimit=left),
        )

    return Chart(
        name="print-survey",
        title=_title(found),
        caption="Time for which the flow out of the nozzle is over the ceiling, worst print first"
        + (f"; the worst {len(found.worst)} of {found.over}." if found.over > len(found.worst)
           else "."),
        alt=found.sentence
        + " "
        + join_words([
            f"{label}: {duration(one.over_ceiling_s)} of {duration(one.time_s)}, {SHOWS[one.shows]}"
            for label, one in zip(labels, found.worst, strict=True)
        ]),
        spec=draw,
    )  # fmt: skip


def _title(found: SurveySummary) -> str:
    if not found.over:
        return "No print is over the ceiling"
    share = found.over / found.prints
    return f"{found.over} of {found.prints} prints ({percent(share, 0)}) are over the ceiling"


def _longest(found: SurveySummary) -> float:
    return max((one.over_ceiling_s for one in found.worst), default=0.0)


def _labels(found: SurveySummary) -> list[str]:
    """A name for each bar, no two alike."""
    labels: list[str] = []
    for n, one in enumerate(found.worst, 1):
        name = one.name
        short = name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}…"
        labels.append(short if short not in labels else f"{short} ({n})")
    return labels
