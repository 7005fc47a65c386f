"""The layer map at 200,000 segments a layer: time per redraw while scrubbing, in headless Chromium.

Writes a print of five such layers, opens it on the page, moves the layer control forth and back,
and prints a Markdown table: reading the print for the map, fetching a layer for the first time,
redraws. The named reference in the same run is the browser's own way: the same segments stroked
as canvas paths, one per colour.

Usage: python benchmarks/layer_map.py [SEGMENTS_PER_LAYER]
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from browser import chromium
from machine import machine
from playwright.sync_api import sync_playwright

from beadworth.demo import seed
from beadworth.store import open_bench

LAYERS = 5
SERVE = """
import sys
from beadworth.store import open_bench
from beadworth.web import serve
with open_bench(sys.argv[1]) as bench:
    serve(bench, port=0)
"""
SHEET = "!!document.querySelector('[data-layer-map]').layerMap.sheet"
SCRUB = """async ([layers, rounds]) => {
  const map = document.querySelector('[data-layer-map]').layerMap;
  const settled = async () => {
    while (!map.sheet || map.asked) await new Promise((done) => setTimeout(done, 2));
  };
  const first = [];
  for (let n = 0; n < layers; n++) {
    const start = performance.now();
    map.show(n);
    await settled();
    first.push(performance.now() - start);
  }
  while (map.fetching) await new Promise((done) => setTimeout(done, 20));
  performance.clearMeasures('layer map redraw');
  const shown = [];
  for (let n = 0; n < rounds; n++) {
    const start = performance.now();
    map.show(n % layers);
    await settled();
    map.plan.getContext('2d').getImageData(0, 0, 1, 1);
    shown.push(performance.now() - start);
  }
  const drawn = performance.getEntriesByName('layer map redraw').map((entry) => entry.duration);
  const grid = performance.now();
  map.grid();
  const sheet = map.sheet, paths = [];
  const indexed = performance.now() - grid;
  const canvas = document.createElement('canvas');
  canvas.width = map.plan.width;
  canvas.height = map.plan.height;
  const pen = canvas.getContext('2d');
  const ends = new Float32Array(4 * sheet.n);
  for (let i = 0; i < sheet.n; i++) {
    ends.set(map.at(sheet.x0[i], sheet.y0[i]), 4 * i);
    ends.set(map.at(sheet.x1[i], sheet.y1[i]), 4 * i + 2);
  }
  for (let n = 0; n < 8; n++) {
    const start = performance.now();
    pen.clearRect(0, 0, canvas.width, canvas.height);
    for (let bin = 0; bin < 8; bin++) {
      pen.beginPath();
      for (let k = sheet.starts[bin]; k < sheet.starts[bin + 1]; k++) {
        const i = 4 * sheet.order[k];
        pen.moveTo(ends[i], ends[i + 1]);
        pen.lineTo(ends[i + 2], ends[i + 3]);
      }
      pen.strokeStyle = map.steps[bin];
      pen.lineWidth = 1.25;
      pen.stroke();
    }
    pen.getImageData(0, 0, 1, 1);
    paths.push(performance.now() - start);
  }
  return { first, shown, drawn, paths, indexed, segments: sheet.n,
           pixels: [map.plan.width, map.plan.height] };
}"""


def write(place: Path, per_layer: int) -> None:
    """Rings within rings, with a little scatter, at flows that go over the ceiling in places."""
    rng = np.random.default_rng(1)
    turn = np.arange(per_layer) * 0.02
    radius = 95.0 - 90.0 * np.arange(per_layer) / per_layer
    with place.open("w") as file:
        file.write("G21\nG90\nM83\nM104 S220\nG0 X205 Y110 Z0.2 F6000\n")
        for layer in range(LAYERS):
            z = 0.2 * (layer + 1)
            x = 110 + radius * np.cos(turn) + rng.normal(0, 0.05, per_layer)
            y = 110 + radius * np.sin(turn) + rng.normal(0, 0.05, per_layer)
            e = rng.uniform(0.02, 0.09, per_layer)
            f = rng.integers(2400, 12000, per_layer)
            file.write(f"G0 X{x[0]:.3f} Y{y[0]:.3f} Z{z:.2f}\n")
            file.write("".join(f"G1 X{a:.3f} Y{b:.3f} E{d:.4f} F{s}\n"
                               for a, b, d, s in zip(x, y, e, f, strict=True)))  # fmt: skip


def row(name: str, values: list[float]) -> str:
    """One line of the table, ms."""
    ordered = sorted(values)
    worst = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    return f"| {name} | {statistics.median(values):.0f} | {worst:.0f} | {len(values)} |"


def main() -> None:
    """Write, open, scrub, print."""
    per_layer = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder / "rings.gcode", per_layer)
        size = (folder / "rings.gcode").stat().st_size / 1e6
        with open_bench(folder / "map.bench") as bench:
            seed(bench)
        server = subprocess.Popen([sys.executable, "-c", SERVE, str(folder / "map.bench")],
                                  stdout=subprocess.PIPE, text=True)  # fmt: skip
        try:
            assert server.stdout is not None
            address = server.stdout.readline().split()[4].rstrip("/")
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(
                    executable_path=chromium(),
                    args=["--no-sandbox", "--disable-background-networking"],
                )
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                page.goto(f"{address}/prints")
                page.set_input_files("#file", str(folder / "rings.gcode"))
                begin = time.perf_counter()
                page.get_by_role("button", name="Replay it").click()
                page.wait_for_selector("#verdict", timeout=120_000)
                while not page.evaluate(SHEET):
                    page.wait_for_timeout(5)
                ready = 1000 * (time.perf_counter() - begin)
                found = page.evaluate(SCRUB, [LAYERS, 40])
                version = browser.version
                browser.close()
        finally:
            server.terminate()
            server.wait()
    print(
        f"Chromium {version}, headless, no GPU; {machine()}; {found['segments']} segments in the "
        f"layer drawn, plan of {found['pixels'][0]} × {found['pixels'][1]} pixels.\n"
    )
    print("| step | median ms | 95 % below, ms | times |")
    print("| --- | --: | --: | --: |")
    print(row(f"{size:.0f} MB given, replayed on the page, first layer drawn", [ready]))
    print(row("layer shown for the first time (fetched, sorted, drawn)", found["first"]))
    print(row("layer shown again while scrubbing, until its pixels are there", found["shown"]))
    print(row("of that, drawing", found["drawn"]))
    print(row("index for pointing, once a layer", [found["indexed"]]))
    print(row("reference: the same segments as canvas paths, one per colour", found["paths"]))
    ratio = statistics.median(found["drawn"]) / statistics.median(found["paths"])
    print(f"\nDrawing ÷ canvas paths: {ratio:.2f}")


if __name__ == "__main__":
    main()
