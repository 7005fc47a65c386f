"""How often a wear log that never changed shows a change or a signal, and one that did.

Run: python benchmarks/control_false_alarms.py [--logs 600]

Logs of four checks with 24 monthly readings each, as the wear log judges them; a log counts where
any of its checks shows anything; the three standard deviations of the handbook's charts over all
readings stand beside it, which is what stood here before. 'Changed' logs have one check that
changes and three that do not, and count where that one shows it. Beside them stand limits that no
test passes at the same chance of a false alarm, see :func:`limits_of_four`. Then steps by how many
readings follow, and before and after: steady trends and steps compared at the day in the middle.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
from machine import machine

from beadworth.wear.alternatives import SIDE
from beadworth.wear.before_after import unpaired_change
from beadworth.wear.control import ewma_chart, individuals_chart
from beadworth.wear.log import Series
from beadworth.wear.summary import ChartSettings, series_report

MONTHS, CHECKS = 24, 4
DAYS = [date(2026, 1, 5) + timedelta(days=round(30.4375 * n)) for n in range(MONTHS)]
NUMBERS = np.arange(MONTHS)
Draw = Callable[[np.random.Generator], np.ndarray]


def plain(rng: np.random.Generator) -> np.ndarray:
    return np.round(rng.standard_normal(MONTHS), 3)


def season(rng: np.random.Generator, swing: float = 1.0) -> np.ndarray:
    return np.asarray(plain(rng) + swing * np.sin(2 * np.pi * (NUMBERS / 12 + rng.random())))


def coarse(rng: np.random.Generator) -> np.ndarray:
    return np.round(rng.standard_normal(MONTHS))


def coarse_season(rng: np.random.Generator) -> np.ndarray:
    return np.round(season(rng))


def alike(rng: np.random.Generator, correlation: float = 0.5) -> np.ndarray:
    made = rng.standard_normal(MONTHS)
    for n in range(1, MONTHS):
        made[n] = correlation * made[n - 1] + np.sqrt(1 - correlation**2) * made[n]
    return np.round(made, 3)


def step(at: int, size: float) -> Draw:
    return lambda rng: np.asarray(plain(rng) + size * (at <= NUMBERS))


def slope(a_month: float) -> Draw:
    return lambda rng: np.asarray(plain(rng) + a_month * NUMBERS)


def skewed(rng: np.random.Generator) -> np.ndarray:
    return np.round(rng.gamma(4.0, 0.5, MONTHS), 3)


UNCHANGED: dict[str, Draw] = {
    "independent": plain,
    "a yearly season of ± 1 sd": season,
    "display steps of 1 sd": coarse,
    "both": coarse_season,
    "skewed (gamma, shape 4)": skewed,
    "a yearly season of ± 0.5 sd": lambda rng: season(rng, 0.5),
    "a yearly season of ± 3 sd": lambda rng: season(rng, 3.0),
    "neighbours correlated by 0.3": lambda rng: alike(rng, 0.3),
    "neighbours correlated by 0.5": alike,
}
CHANGED: dict[str, Draw] = {
    "a step of 2 sd at the 9th reading": step(8, 2.0),
    "a step of 2 sd at the 13th": step(12, 2.0),
    "a step of 2 sd at the 17th": step(16, 2.0),
    "a step of 3 sd at the 17th": step(16, 3.0),
    "a slope of 0.1 sd a month": slope(0.1),
    "a slope of 0.2 sd a month": slope(0.2),
}


def shows(values: np.ndarray, checks: int) -> bool:
    """Whether the wear log shows a change or a signal in a check."""
    numbers = tuple(map(float, values))
    series = Series("check", "", "u", tuple(DAYS), numbers, (0.0,) * MONTHS)
    report = series_report(series, ChartSettings(), checks)
    moved = report.course is not None and report.course.changed
    return moved or bool(report.signals)


def handbook_shows(values: np.ndarray) -> bool:
    """Whether the handbook's charts, three standard deviations from ten readings, signal."""
    if float(np.ptp(values[:10])) == 0:
        return False
    single = individuals_chart(list(values), baseline=10)
    base = single.baseline
    average = ewma_chart(list(values), center=base.center, sigma=base.sigma)
    return bool(single.signals or average.signals)


def unchanged_logs(draw: Draw, logs: int, checks: int, seed: int = 0) -> tuple[float, float]:
    """Shares of logs that show something: as judged now, and by the handbook's charts."""
    rng = np.random.default_rng([191, seed])
    now = then = 0
    for _ in range(logs):
        series = [draw(rng) for _ in range(checks)]
        now += any(shows(values, checks) for values in series)
        then += any(handbook_shows(values) for values in series)
    return now / logs, then / logs


def seen(draw: Draw, logs: int, checks: int, seed: int = 0) -> float:
    """Share of changed checks that show it, in a log of so many."""
    rng = np.random.default_rng([192, seed])
    return sum(shows(draw(rng), checks) for _ in range(logs)) / logs


def halves(draw: Draw, logs: int, seed: int = 0) -> tuple[float, float]:
    """Shares resolved before and after the middle, and resolved with no trend left possible."""
    rng = np.random.default_rng([193, seed])
    days = [float(day.toordinal()) for day in DAYS]
    resolved = clear = 0
    for _ in range(logs):
        values = draw(rng)
        found = unpaired_change(values[: MONTHS // 2], values[MONTHS // 2 :], days=days)
        resolved += found.resolved
        clear += found.resolved and not found.trend_open
    return resolved / logs, clear / logs


def limits_of_four(height: float, at: int, logs: int) -> tuple[float, float, float]:
    """Power that tests of one check of four have, at 5 % for the log, no season being possible.

    Who knows place, height, way and scatter: the most powerful test (Neyman and Pearson), exact.
    Who knows height and scatter, not place and way: the likelihood averaged over both, which has
    the greatest power averaged over places (Andrews and Ploberger 1994). Who knows the height in
    standard deviations, and nothing else: the same of readings free of level and scale.
    """
    from scipy.stats import norm

    level = 1 - 0.95 ** (1 / CHECKS)
    step = (at <= NUMBERS).astype(float)
    told = float(norm.cdf(height * np.linalg.norm(step - step.mean()) - norm.isf(level)))
    rng = np.random.default_rng(194)
    starts = range(SIDE, MONTHS - SIDE + 1)
    columns = np.stack([(k <= NUMBERS) - np.mean(k <= NUMBERS) for k in starts])
    nothing = rng.standard_normal((10 * logs, MONTHS))
    changed = rng.standard_normal((2 * logs, MONTHS)) + height * step
    powers = [told]
    for scale_known in (True, False):
        null, found = (_averaged(rows, columns, height, scale_known) for rows in (nothing, changed))
        powers.append(float((found > np.quantile(null, 1 - level)).mean()))
    return powers[0], powers[1], powers[2]


def _averaged(rows: np.ndarray, columns: np.ndarray, height: float, known: bool) -> np.ndarray:
    """Log likelihood ratio of rows, averaged over places, both ways and, unless known, the scale.

    Of unknown scale the integral over ln σ is a sum over a grid (p ∝ 1/σ).
    """
    z = rows - rows.mean(axis=1, keepdims=True)
    along, square = z @ columns.T, (z**2).sum(axis=1)
    own = (columns**2).sum(axis=1)
    grid = np.array([0.0]) if known else np.linspace(np.log(0.3), np.log(4.0), 60)
    with_step, without = [], []
    for log_sd in grid:
        s = np.exp(log_sd)
        base = -(z.shape[1] - 1) * log_sd - 0.5 * square / s**2
        without.append(base)
        with_step += [
            base + np.logaddexp.reduce(way * height * along / s - 0.5 * height**2 * own, axis=1)
            for way in (1, -1)
        ]
    return np.logaddexp.reduce(with_step, axis=0) - np.logaddexp.reduce(without, axis=0)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=600)
    logs = parser.parse_args().logs
    error = 100 * np.sqrt(0.05 * 0.95 / logs)
    print(
        f"{logs} logs a row: 5 % is known to ± {error:.1f} % (one standard error)\n\n"
        "| unchanged | one check | four checks | three sd: one | four |"
    )
    print("|---|---|---|---|---|")
    for name, draw in UNCHANGED.items():
        one, four = unchanged_logs(draw, logs, 1), unchanged_logs(draw, logs, CHECKS)
        cells = (one[0], four[0], one[1], four[1])
        print(f"| {name} | {' | '.join(f'{100 * v:.1f} %' for v in cells)} |", flush=True)
    print("\n| changed | seen, one check | seen, four checks |\n|---|---|---|")
    for name, draw in CHANGED.items():
        cells = (seen(draw, logs, 1), seen(draw, logs, CHECKS))
        print(f"| {name} | {' | '.join(f'{100 * v:.1f} %' for v in cells)} |")
    print(
        "\n| readings after a step of 2 sd, of 24 | seen, one check | seen, four checks | "
        "limits of four: place, height, scatter known | height, scatter | height |"
    )
    print("|---|---|---|---|---|---|")
    for after in (3, 4, 6, 8, 12, 16):
        at = MONTHS - after
        draw = step(at, 2.0)
        cells = (
            seen(draw, logs, 1, 1),
            seen(draw, logs, CHECKS, 1),
            *limits_of_four(2.0, at, logs),
        )
        print(f"| {after} | {' | '.join(f'{100 * v:.1f} %' for v in cells)} |", flush=True)
    print("\n| before and after | resolved | with no steady trend left possible |\n|---|---|---|")
    for name, draw in {
        "no change": plain,
        "a slope of 0.1 sd a month": slope(0.1),
        "a slope of 0.2 sd a month": slope(0.2),
        "a step of 2 sd there": step(12, 2.0),
    }.items():
        print(f"| {name} | {' | '.join(f'{100 * v:.1f} %' for v in halves(draw, logs))} |")
    print("\n" + machine("numpy", "scipy"))


if __name__ == "__main__":
    main()
