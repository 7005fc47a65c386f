"""From Enter to the updated curve on the trial page, as the page's own clock sees it.

A served demo, a real browser, the trial that is being weighed. The clock starts when the key goes
down and stops at the frame after chart and numbers are the new ones. Beside it how long the server
took for the two answers, and the time of a small file as the yardstick.

    python benchmarks/enter_to_curve.py
"""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

import numpy as np
from browser import chromium
from five_tasks import served
from machine import machine
from playwright.sync_api import Page, sync_playwright

from beadworth.demo import PLA, seed, simulated_reading
from beadworth.store import open_bench

COUNT = 20
WATCH = """
window.times = [];
const numbers = () => document.querySelector('[data-live] .live-numbers');
document.addEventListener('keydown', (event) => {
  if (event.key !== 'Enter') return;
  const start = performance.now();
  const before = numbers();
  const look = () => {
    if (numbers() === before) return requestAnimationFrame(look);
    requestAnimationFrame(() => window.times.push(performance.now() - start));
  };
  requestAnimationFrame(look);
}, true);
"""
ANSWERS = """
performance.getEntriesByType('resource')
  .filter((e) => /readings$|live\\?/.test(e.name) && e.initiatorType !== 'link')
  .map((e) => [/readings$/.test(e.name) ? 'store and judge' : 'draft', e.duration])
"""


def enter(page: Page, masses_g: dict[str, float]) -> list[float]:
    """Weigh coupons one after the other; each time, ms."""
    for i in range(COUNT):
        coupon = str(page.locator("input[name=coupon]").get_attribute("value"))
        page.locator("#mass").fill(f"{masses_g[coupon]:.2f}")
        page.keyboard.press("Enter")
        for _ in range(400):
            if page.evaluate("window.times.length") > i:
                break
            page.wait_for_timeout(25)
        page.wait_for_timeout(400)  # a hand needs longer; the full fit waits for 1.2 s of rest
    return [float(value) for value in page.evaluate("window.times")]


def row(name: str, values: list[float]) -> str:
    """A line of the table."""
    ends = statistics.quantiles(values, n=20)
    middle = statistics.median(values)
    return f"| {name} | {middle:.0f} | {ends[-1]:.0f} | {max(values):.0f} | {len(values)} |"


def main() -> None:
    """Serve, weigh, print."""
    rng = np.random.default_rng(20261130)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        path = Path(folder) / "demo.bench"
        with open_bench(path) as bench:
            seed(bench)
            trial = next(t.id for t in bench.trials() if "How far" in t.question)
            masses_g = {
                c.coupon: simulated_reading(c, PLA.name, rng).mass_g for c in bench.coupons(trial)
            }
        browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        with served(path, 8873) as base:
            page.goto(f"{base}/trials/{trial}")
            page.locator("[data-live]:not([data-draft]) .chart-live svg").first.wait_for()
            page.locator("#mass").wait_for()
            page.wait_for_timeout(3000)
            page.evaluate(f"() => {{ {WATCH} }}")
            page.evaluate("performance.clearResourceTimings()")
            whole = enter(page, masses_g)
            parts = page.evaluate(ANSWERS)
            small = [
                page.evaluate(
                    "async () => { const t = performance.now();"
                    "await (await fetch('/static/mark.svg', {cache: 'no-store'})).text();"
                    "return performance.now() - t; }"
                )
                for _ in range(COUNT)
            ]
        browser.close()
    print(f"{machine()}\n")
    print("| what | median ms | 95 % below | slowest | times |")
    print("| --- | --: | --: | --: | --: |")
    print(row("from Enter to the updated curve", whole))
    for name in ("store and judge", "draft"):
        print(row(f"of that, the answer: {name}", [ms for kind, ms in parts if kind == name]))
    print(row("reference: a small answer", small))


if __name__ == "__main__":
    main()
