"""Simulated graders: their shapes, spacings and lapses are not those of the model."""

from __future__ import annotations

import numpy as np

from beadworth.witness.separate import BandGrade
from beadworth.witness.threshold import Look, threshold

_KINDS = ("logistic", "normal", "skewed")


def drawn_habit(rng):
    """Shape, width, lapses and spacing of grades of one ladder."""
    return {
        "kind": str(rng.choice(_KINDS)),
        "width": float(np.exp(rng.uniform(np.log(0.03), np.log(0.4)))),
        "lapse": float(rng.choice([0, 0.02, 0.06])),
        "spacing": float(np.exp(rng.uniform(np.log(0.04), np.log(0.25)))),
    }


def grades(rng, beyond, *, kind, width, lapse, spacing, looks=1):
    """Grades of each band, looks × bands; ``beyond`` is how far it lies past the threshold."""
    size = (looks, len(beyond))
    noise = {
        "logistic": lambda: width / 4.394 * rng.logistic(size=size),
        "normal": lambda: width / 2.563 * rng.normal(size=size),
        # Gumbel, moved so that its median is zero
        "skewed": lambda: width / 3.084 * (rng.gumbel(size=size) + np.log(np.log(2))),
    }[kind]()
    cuts = np.cumsum([0, *(spacing * rng.uniform(0.5, 1.5, 2))])
    cuts = np.concatenate([[-spacing * rng.uniform(0.5, 1.5)], cuts])
    given = ((np.asarray(beyond) + noise)[..., None] >= cuts).sum(axis=-1)
    lapsed = rng.random(size) < lapse
    return np.where(lapsed, rng.integers(0, 5, size), given)


def ladder(rng, levels, mu, *, graders, looks, shift):
    """Looks of several graders at one ladder, and which of them were bad."""
    habit = drawn_habit(rng)
    found, bad = {}, []
    for grader in range(graders):
        own = mu + shift * rng.normal()
        given = grades(rng, levels - own, looks=looks, **habit)
        bad.append(given >= 2)
        found[str(grader)] = [
            Look(float(x), int(g)) for row in given for x, g in zip(levels, row, strict=True)
        ]
    return found, np.concatenate(bad)


def holds(rng):
    """One ladder drawn at random: whether its interval holds the truth; never crossed; apart."""
    bands = int(rng.integers(8, 21))
    x = (np.arange(bands) + 0.5) / bands
    mu = float(rng.uniform(-0.15, 1.15))
    looks, bad = ladder(
        rng, x, mu, graders=int(rng.integers(1, 5)), looks=int(rng.integers(1, 3)),
        shift=float(np.exp(rng.uniform(np.log(0.02), np.log(0.1)))),
    )  # fmt: skip
    found = threshold(looks, "level")
    inside = (found.low is None or found.low <= mu) and (found.high is None or mu <= found.high)
    uncrossed = bool(bad.all() or not bad.any())
    apart = not uncrossed and bool(np.isin(bad.mean(axis=0), [0, 1]).all())
    return inside, uncrossed, apart


def one_grader(rng, cause, flow, speed):
    """Grades of one grader, one look, at a loop whose fault has this cause."""
    of_flow, of_speed = (
        (v - v.min()) / (v.max() - v.min()) - rng.uniform(0.2, 0.8) for v in (flow, speed)
    )
    never, also = np.full(len(flow), -1.0), bool(rng.integers(2))
    front = {"melt": of_flow, "motion": of_speed - 0.15 if also else never, "both": of_flow,
             "neither": never}[cause]  # fmt: skip
    folded = {"melt": of_flow - 0.05 if also else never, "motion": of_speed, "both": of_speed,
              "neither": never}[cause]  # fmt: skip
    habit = drawn_habit(rng)
    habit["width"] = min(habit["width"], 0.3)
    shift = 0.05 * rng.normal()
    return [
        BandGrade(q, v, side, int(g))
        for side, beyond in (("front", front), ("folded", folded))
        for q, v, g in zip(flow, speed, grades(rng, beyond - shift, **habit)[0], strict=True)
    ]
