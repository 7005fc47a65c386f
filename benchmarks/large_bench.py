"""Every page and the main commands on a bench of a million readings and ten thousand prints.

Builds the bench through the store, as trials of 250 coupons of forty rigs, most of them planned,
some imported; then prints for each page and command its time by the wall and of the processor
(other work on the machine shows in the first alone), for the first answer of a process and for a
later one, and at last how much memory the process held. A bench in a file is also backed up while
another process stores a reading ten times a second. ``--readings 100000`` builds a smaller
one; ``--bench FILE`` keeps it, and takes it again where it is there. A PostgreSQL address works
too; ``--server`` starts a server of its own for it.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np
from machine import machine
from sqlalchemy import text
from weigh_in_together import database

from beadworth.demo import LONG_ZONE, PLA, STOCK
from beadworth.store import Bench, PrintShelf, open_bench, records
from beadworth.trial import Coupon, Plan, Reading, TrialSpec, plan, plan_digest

COUPONS = 250
RIGS = 40
MATERIALS = ("PLA", "PLA, grey", "PETG", "ABS", "PLA, chalk", "PETG, clear", "ASA", "PLA, matt")
REAL = {"simulated": False}
"""Else the first page would take every trial for one of the demo."""
MEASURED = 50_000
"""Readings stored through the store; what is more are copies of their trials, made by SQL."""
AT_ONCE = 1000
"""Notes stored by one transaction."""
WRITER = """
import json, sys, time
from beadworth.store import open_bench
from beadworth.trial import Reading
name, trial, rig, material = sys.argv[1:]
took = []
with open_bench(name) as bench:
    digest = bench.trial(trial).digest
    print("ready", flush=True)
    end = time.monotonic() + float(sys.stdin.readline())
    while time.monotonic() < end:
        begun = time.perf_counter()
        reading = Reading(rig, material, 200.0, 8.0, 600.0, 1.75)
        bench.add_readings(trial, [reading], "table.csv", digest)
        took.append(time.perf_counter() - begun)
        time.sleep(0.1)
print(json.dumps(took), flush=True)
"""


def rig_pairs(bench: Bench) -> list[tuple[str, str]]:
    """Put rigs and their upgrades on a bench, and the materials; their names."""
    made = []
    for number in range(RIGS // 2):
        before, after = f"Rig {number:02d}", f"Rig {number:02d}, long zone"
        bench.save_rig(STOCK.model_copy(update={"name": before} | REAL))
        bench.save_rig(LONG_ZONE.model_copy(update={"name": after, "parent": before} | REAL))
        made.append((before, after))
    for name in MATERIALS:
        bench.save_material(PLA.model_copy(update={"name": name} | REAL))
    return made


def a_plan(before: str, after: str, material: str) -> tuple[TrialSpec, Plan]:
    """A plan of two rigs, about as many coupons as a trial here has."""
    spec = TrialSpec(
        question="How far do both zones go?", baseline=before, candidate=after, material=material,
        temperatures_c=(200.0, 210.0, 220.0, 230.0),
        flows_mm3_s=tuple(6.0 + 0.75 * step for step in range(25)),
        replicates=1, references_per_block=3, filament_mm=600.0, collect="catch",
    )  # fmt: skip
    rigs = {
        name: one.model_copy(update={"name": name})
        for name, one in ((before, STOCK), (after, LONG_ZONE))
    }
    return spec, plan(spec, rigs, PLA.model_copy(update={"name": material}))


def weighed(coupons: tuple[Coupon, ...], material: str, rng: np.random.Generator) -> list[Reading]:
    """A mass for each coupon: 2 % short at a knee, with scatter; a few of them void."""
    flows = np.array([one.flow_mm3_s for one in coupons])
    knee = np.array([18.0 if "long" in one.rig else 12.0 for one in coupons])
    short = np.minimum(0.02 * (flows / knee) ** 4, 0.6)
    masses = 600.0 * 2.98e-3 * (1 - short) * rng.normal(1, 0.003, len(coupons))
    void = rng.random(len(coupons)) < 0.02
    return [
        Reading(
            one.rig, material, one.temperature_c, one.flow_mm3_s, 600.0, round(float(mass), 3),
            coupon=one.coupon, reference=one.reference, replicate=one.replicate, void=bool(gone),
            note="strand touched the fan" if gone else None,
        )
        for one, mass, gone in zip(coupons, masses, void, strict=True)
    ]  # fmt: skip


def build(bench: Bench, readings: int, prints: int, tell: Callable[[str], None] = print) -> None:
    """Fill an empty bench."""
    rng = np.random.default_rng(11)
    plans = [a_plan(*pair, MATERIALS[n % 8]) for n, pair in enumerate(rig_pairs(bench))]
    begun, stored, number = time.perf_counter(), 0, 0
    while stored < min(readings, MEASURED):
        spec, made = plans[number % len(plans)]
        asked = f"How far do both zones go, evening {number}?"
        rows = weighed(made.coupons, spec.material, rng)
        if number % 5:  # every fifth was imported without a plan
            spec = spec.model_copy(update={"question": asked})
            planned = replace(made, spec=spec, digest=plan_digest(spec, made.coupons))
            trial = bench.create_trial(spec, planned)
            bench.add_readings(trial.id, rows, "table.csv", trial.digest)
        else:
            bench.create_trial_from_readings(asked, rows, "table.csv")
        stored, number = stored + len(rows), number + 1
        if number % 400 == 0:
            tell(f"  {stored:,} readings, {time.perf_counter() - begun:.0f} s")
    while stored < readings:
        stored += copy_trials(bench, stored // MEASURED)
    tell(f"  {stored:,} readings with copies, {time.perf_counter() - begun:.0f} s")
    names = [record.name for record in bench.rigs()]
    for first in range(0, prints, AT_ONCE):
        with bench._write() as session:
            for one in range(first, min(first + AT_ONCE, prints)):
                sha = hashlib.sha256(f"print {one}".encode()).hexdigest()
                told = {"name": f"part-{one:05d}.gcode", "bytes": 4_000_000 + one, "packed": False}
                records.add_note(session, "print", sha, told)
                said = {"verdict": "Nothing over the ceiling.", "time_s": 3600.0 + one,
                        "rig": names[one % len(names)], "trial": "", "material": ""}  # fmt: skip
                records.add_note(session, "print-replay", sha, said)
    tell(f"  {prints:,} prints, {time.perf_counter() - begun:.0f} s in all")


COPIES = (
    "INSERT INTO trials (id, question, at, simulated) SELECT id || '{copy}', "
    "question || ' Copy{copy}', at, simulated FROM trials WHERE id NOT LIKE '%copy%'",
    "INSERT INTO plans (trial_id, version, at, digest, data) SELECT trial_id || '{copy}', version, "
    "at, digest, data FROM plans WHERE trial_id NOT LIKE '%copy%'",
    "INSERT INTO readings (id, trial_id, at, source, data) SELECT id + {shift}, "
    "trial_id || '{copy}', at, source, data FROM readings WHERE id <= {last}",
    "INSERT INTO reading_events (reading_id, at, state, reason) SELECT reading_id + {shift}, at, "
    "state, reason FROM reading_events WHERE reading_id <= {last}",
    "INSERT INTO slots (trial_id, coupon, reading_id) SELECT trial_id || '{copy}', coupon, "
    "reading_id + {shift} FROM slots WHERE reading_id <= {last}",
)


def copy_trials(bench: Bench, number: int) -> int:
    """Copy every trial that was stored, with its readings, under new numbers; how many readings."""
    with bench._write() as session:
        last = session.scalar(text("SELECT max(id) FROM readings WHERE trial_id NOT LIKE '%copy%'"))
        for line in COPIES:
            parts = {"copy": f"-copy-{number}", "shift": number * last, "last": last}
            session.execute(text(line.format(**parts).replace(":", r"\:")))
    return int(last)


def pages(bench: Bench) -> list[str]:
    """An address of every kind of page that a bench of this kind has."""
    newest = bench.outlines()[0].id
    imported = next(one.id for one in bench.outlines() if one.planned is None)
    rig = "Rig%2003,%20long%20zone"
    return [
        "/", "/?trials=20", "/prints", "/prints?page=50", "/worth", "/rigs", "/materials", "/parts",
        "/upgrades", f"/upgrade?rig={rig}", f"/rig/{rig}", f"/wear/{rig}", f"/journal/{rig}",
        "/packages", "/balances", "/witness", "/cause", "/start", "/trials/new", "/trials/import",
        f"/trials/{newest}", f"/trials/{newest}/weigh", f"/trials/{newest}?tab=readings",
        f"/trials/{newest}/programs", f"/trials/{newest}/readings.csv", f"/trials/{imported}",
        "/api/trials", "/api/prints", "/api/rigs",
    ]  # fmt: skip


def main() -> None:
    """Build, ask, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--prints", type=int, default=10_000)
    parser.add_argument("--bench", help="a file or address to keep it in")
    parser.add_argument("--server", action="store_true", help="a PostgreSQL server of its own")
    told = parser.parse_args()
    print(machine("sqlalchemy"))
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        place = told.bench or f"{folder}/large.bench"
        if told.server:
            home = stack.enter_context(tempfile.TemporaryDirectory())
            address = stack.enter_context(database(Path(home)))
            place = address.replace("postgresql:", "postgresql+psycopg:")
        with open_bench(place) as bench:
            if not bench.outlines():
                print("building")
                build(bench, told.readings, told.prints)
        with open_bench(place) as bench:
            measure(bench, Path(folder))


def measure(bench: Bench, folder: Path) -> None:
    """Time every page and command, with the memory held after it."""
    sys.path.append(str(Path(__file__).parents[1] / "tests" / "support"))
    from cli_support import call_main
    from fastapi.testclient import TestClient

    from beadworth.web import create_app

    shelf = PrintShelf(bench)
    for stored in shelf.all():  # the files lie beside the bench, though not as large as they say
        if not shelf.is_here(stored):
            shelf.place(stored.sha256).write_bytes(b"G1 X1\n")
    begun, cpu = time.perf_counter(), time.process_time()
    trials = bench.outlines()
    took, cpu = time.perf_counter() - begun, time.process_time() - cpu
    readings = sum(trial.readings for trial in trials)
    print(f"{len(trials):,} trials, {readings:,} readings that count")
    print(f"listed first in {took:.2f} s, {cpu:.2f} s of them of the processor")
    del trials
    print(
        f"{'page':44} {'first s':>8} {'cpu':>6} {'again s':>8} {'cpu':>6} {'kB':>6} {'MB held':>8}"
    )
    with TestClient(create_app(bench), base_url="http://127.0.0.1") as client:

        def page(address: str) -> int:
            answer = client.get(address)
            assert answer.status_code == 200, (address, answer.status_code, answer.text[:300])
            return len(answer.content)

        for address in pages(bench):
            row(address, lambda address=address: page(address))
    newest = bench.outlines()[0].id
    commands = [
        ["trial", "list"],
        ["trial", "sheet", newest],
        ["trial", "export", newest],
        ["rig", "list"],
    ]
    if Path(bench.name).is_file():  # a server has a dump tool of its own
        commands.append(["bench", "backup", str(folder / "copy.bench")])
    for words in commands:

        def command(words: list[str] = words) -> int:
            for old in folder.glob("copy.bench*"):
                old.unlink()
            done = call_main([*words, "--bench", bench.name])
            # rows copied by SQL have no seals, and a backup says so of what it copied
            assert done.code in (0, 7), done.err
            return len(done.out)

        row("beadworth " + " ".join(words[:2]), command, again=words[0] != "bench")
    if Path(bench.name).is_file():
        back_up_while_written(bench, folder)


def back_up_while_written(bench: Bench, folder: Path) -> None:
    """A backup, first alone, then while another process stores a reading ten times a second."""
    imported = next(one.id for one in bench.outlines() if one.planned is None)
    first = bench.readings(imported)[0].reading

    def timed(to: Path) -> tuple[float, float, int]:
        begun, cpu = time.perf_counter(), time.process_time()
        report = bench.backup(to)
        times = time.perf_counter() - begun, time.process_time() - cpu
        to.unlink()
        return *times, report.readings

    alone, alone_cpu, before = timed(folder / "alone.bench")
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, bench.name, imported, first.rig, first.material],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as writer:  # fmt: skip
        assert writer.stdout is not None
        assert writer.stdin is not None
        assert writer.stdout.readline() == "ready\n"
        writer.stdin.write(f"{1.2 * alone}\n")
        writer.stdin.flush()
        written, written_cpu, copied = timed(folder / "written.bench")
        took = sorted(json.loads(writer.stdout.readline()))
    with bench._read() as session:
        after = session.scalar(text("SELECT count(*) FROM readings"))
    print(f"backup alone {alone:.2f} s, {alone_cpu:.2f} s of them of the processor")
    print(f"backup while written {written:.2f} s, {written_cpu:.2f} s of them of the processor")
    print(
        f"{len(took)} readings stored meanwhile, in the middle {1e3 * took[len(took) // 2]:.0f} ms "
        f"each, the longest {1e3 * took[-1]:.0f} ms"
    )
    print(f"readings: {before:,} before, {copied:,} in the copy, {after:,} after")


def row(name: str, ask: Callable[[], int], *, again: bool = True) -> None:
    """One line: twice asked, wall and processor time of both, size, memory held at most so far."""
    times = []
    size = 0
    for _ in range(2 if again else 1):
        wall, cpu = time.perf_counter(), time.process_time()
        size = ask()
        times += [time.perf_counter() - wall, time.process_time() - cpu]
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    later = f"{times[2]:8.2f} {times[3]:6.2f}" if again else f"{'':8} {'':6}"
    print(f"{name[:44]:44} {times[0]:8.2f} {times[1]:6.2f} {later} {size / 1e3:6.0f} {held:8.0f}",
          flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
