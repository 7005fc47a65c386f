"""Five tasks of a practitioner, and two forms, in a browser: clicks, boxes, the machine's seconds.

python benchmarks/five_tasks.py [PRINT]     PRINT: file of the third task; left out: its own

A bench with the demo and one without are served; masses are invented. Seconds are those until the
answer stands on the page, without anybody's thinking or typing.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from browser import chromium
from machine import machine
from playwright.sync_api import Page, sync_playwright

from beadworth.core import filament_mass_g
from beadworth.demo import LONG_ZONE, demo_prints, seed
from beadworth.store import open_bench


@dataclass
class Hands:
    """What a person does to a page, counted."""

    page: Page
    clicks: int = 0
    boxes: int = 0
    notes: list[str] = field(default_factory=list)

    def click(self, role: str, name: str) -> None:
        self.page.get_by_role(role, name=name).first.click()
        self.clicks += 1

    def fill(self, label: str, text: str, *, exact: bool = False) -> None:
        self.page.get_by_label(label, exact=exact).fill(text)
        self.boxes += 1

    def choose(self, label: str, value: str) -> None:
        self.page.get_by_label(label).select_option(value)
        self.boxes += 1

    def wait(self, selector: str, **more: str) -> None:
        self.page.locator(selector, **more).first.wait_for(timeout=60_000)


def own_printer(hands: Hands, name: str, limit_c: int) -> None:
    """What a new printer is asked, on whatever page it is."""
    hands.fill("Name", name)
    hands.fill("What the nozzle reaches", "220 220 250")
    hands.fill("Hot end's temperature limit", f"{limit_c}")
    hands.choose("PTFE liner", "no")
    hands.fill("Melt zone length", "12.5")


def own_ceiling(hands: Hands, base: str) -> None:
    """The ceiling of one hot end, from nothing: seven answers, then the masses."""
    hands.page.goto(base)
    hands.click("link", "Start: seven answers")
    own_printer(hands, "Own printer", 285)
    hands.click("button", "Plan it")
    with hands.page.expect_download():
        hands.click("link", "Download the")
    hands.click("link", "Coupons made? Weigh the first")
    trial = hands.page.url.split("/trials/")[1].split("?")[0]
    sheet = hands.page.request.get(f"{base}/api/trials/{trial}/sheet").json()
    fed_mm, masses = float(sheet["coupons"][0]["filament_mm"]), 0
    while hands.page.locator("#mass").count():
        flow = float(hands.page.locator(".now-setting").inner_text().split("·")[1].split()[0])
        lost = max(0.0, 1 - (12.0 / flow) ** 0.8) if flow > 12 else 0.0
        mass = filament_mass_g(fed_mm, 1.75, 1.24) * (1 - lost) * (1 + 0.002 * (-1) ** masses)
        hands.page.locator("#mass").fill(f"{mass:.2f}")
        hands.page.keyboard.press("Enter")
        hands.page.locator(".answer-head, .all-weighed, .beside").first.wait_for()
        hands.page.wait_for_timeout(30)
        masses += 1
        if hands.page.locator("[data-number]", has_text=".").count():
            break
    hands.wait("[data-number]", has_text=".")
    hands.notes.append(f"{masses} masses to the first ceiling")


def two_hot_ends(hands: Hands, base: str) -> None:
    """What the new hot end gains over the old one."""
    hands.page.goto(base)
    hands.click("link", "Does the long melt zone")
    hands.wait(".live-finding", has_text="more than the baseline")


def print_safe(hands: Hands, base: str, print_file: Path) -> None:
    """Whether a print stays under the ceiling."""
    hands.page.goto(base)
    hands.click("link", "Prints")
    hands.page.locator("input[type=file]").first.set_input_files(print_file)
    hands.boxes += 1
    hands.page.locator("main form button").first.click()
    hands.clicks += 1
    hands.wait("h1, .finding", has_text="ceiling")


def which_speed(hands: Hands, base: str) -> None:
    """Which speed to type in."""
    hands.page.goto(base)
    hands.click("link", "Does the long melt zone")
    hands.wait("#speed .of", has_text="interval")


def worth_it(hands: Hands, base: str) -> None:
    """Whether it is worth it."""
    hands.page.goto(base)
    hands.click("link", "Worth it?")
    hands.wait("h1, .finding", has_text="worth it")


def rig_with_part(hands: Hands, base: str) -> None:
    """A rig, the card of a new hot end, and the rig with it, from nothing."""
    hands.page.goto(base)
    hands.click("link", "Rigs")
    hands.click("link", "Describe a rig")
    own_printer(hands, "Before", 260)
    hands.choose("How it is built", "moving bed")
    hands.click("button", "Put it on the bench")
    hands.wait("h1", has_text="Before")
    hands.click("link", "Parts")
    hands.click("link", "New hot end")
    hands.fill("Name", "Long zone")
    hands.fill("Price", "54")
    hands.fill("Currency", "EUR")
    hands.fill("Mass", "71", exact=True)
    hands.fill("Melt zone length", "20")
    hands.click("button", "Put it on the bench")
    hands.choose("Rig as it is", "Before")
    hands.click("button", "This rig with it")
    hands.click("button", "Make the upgraded rig")
    hands.wait("h1", has_text="Long zone")


def own_worth(hands: Hands, base: str) -> None:
    """A worth case of one's own: three questions, then its answer."""
    hands.page.goto(base)
    hands.page.get_by_role("navigation", name="Bench").get_by_role("link", name="Worth").click()
    hands.clicks += 1
    hands.choose("Which upgrade?", LONG_ZONE.name)
    hands.fill("How many prints a year", "250")
    hands.fill("What is an hour", "1.5")
    hands.click("button", "Calculate")
    hands.wait("#answer", has_text="It saves")


@contextmanager
def served(bench: Path, port: int) -> Generator[str]:
    """A bench served by a process of its own."""
    command = [sys.executable, "-m", "beadworth", "bench", "serve", "--bench", str(bench)]
    server = subprocess.Popen([*command, "--port", str(port)], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    line = server.stdout.readline()
    try:
        yield line.split()[4].rstrip("/")
    finally:
        server.terminate()
        server.wait()


def main() -> None:
    """Play each task on a page of its own and print what it took."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        root = Path(folder)
        with open_bench(root / "demo.bench") as bench:
            seed(bench)
        with open_bench(root / "own.bench"):
            pass
        own_print = root / "part.gcode"
        own_print.write_text(next(iter(demo_prints().values())))
        given = Path(sys.argv[1]) if len(sys.argv) > 1 else own_print
        browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        print(f"{machine()}\n")
        print("| task | clicks | boxes | seconds | |\n| --- | --: | --: | --: | --- |")
        with served(root / "own.bench", 8871) as own, served(root / "demo.bench", 8872) as demo:
            tasks: dict[str, Callable[[Hands], None]] = {
                "ceiling of one hot end": lambda hands: own_ceiling(hands, own),
                "two hot ends": lambda hands: two_hot_ends(hands, demo),
                "is this print safe": lambda hands: print_safe(hands, demo, given),
                "which speed to type": lambda hands: which_speed(hands, demo),
                "is it worth it": lambda hands: worth_it(hands, demo),
                "a rig, and the same with a new hot end": lambda hands: rig_with_part(hands, own),
                "a worth case of one's own": lambda hands: own_worth(hands, demo),
            }
            for name, task in tasks.items():
                hands = Hands(browser.new_page(viewport={"width": 1440, "height": 900}))
                begin = time.perf_counter()
                task(hands)
                took = time.perf_counter() - begin
                notes = "; ".join(hands.notes)
                print(f"| {name} | {hands.clicks} | {hands.boxes} | {took:.1f} | {notes} |")
                hands.page.close()
        browser.close()


if __name__ == "__main__":
    main()
