"""Fifty people weigh in at once on one bench on PostgreSQL: time to the answer, beside a floor.

A real PostgreSQL server of its own (every commit goes to its disk), the bench served with
``--people`` by one process, and fifty scripts with a token each. The floor is one bare INSERT with
its commit into a table of one column on the same server, by fifty connections in the same rhythm,
measured in turns with the entries. Two rhythms: each client enters one reading every two seconds,
at a moment of its own; and all fifty send in the same instant. Answers carry no judgement
(``Prefer: return=minimal``), which costs a fit. Usage: python benchmarks/weigh_in_together.py
[--rounds 6] [--folder FOLDER].
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import pwd
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
from machine import machine

CLIENTS = 50
EVERY_S = 2.0
ADMIT = """
import sys
from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.workflow import admit, make_plan
with open_bench(sys.argv[1]) as bench:
    bench.save_rig(STOCK)
    bench.save_material(PLA)
    spec = TrialSpec(
        question="How far does the stock hot end go, weighed by fifty?", baseline=STOCK.name,
        material=PLA.name, temperatures_c=(200.0, 210.0, 220.0),
        flows_mm3_s=tuple(4 + i / 4 for i in range(20)), replicates=int(sys.argv[2]),
        references_per_block=2, filament_mm=600.0, collect="catch",
    )
    trial = bench.create_trial(spec, make_plan(bench, spec)).id
    print(trial)
    print(*(coupon.coupon for coupon in bench.coupons(trial)))
    for n in range(50):
        print(admit(bench, f"client {n}", "measurer", script=True).secret)
"""
SERVE = """
import sys
from beadworth.store import open_bench
from beadworth.web import serve
with open_bench(sys.argv[1]) as bench:
    serve(bench, port=0, people=True, as_json=True)
"""


@contextmanager
def database(folder: Path) -> Generator[str]:
    """A server of its own that syncs every commit; its address."""
    programs = max(Path("/usr/lib/postgresql").glob("*/bin"))
    who: dict[str, Any] = {}
    if os.geteuid() == 0:  # it refuses to run as root
        nobody = pwd.getpwnam("nobody")
        who = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
        os.chown(folder, nobody.pw_uid, nobody.pw_gid)

    def run(name: str, *arguments: str) -> None:
        subprocess.run([str(programs / name), "-D", str(folder / "data"), *arguments], check=True,
                       capture_output=True, cwd=folder, **who)  # fmt: skip

    run("initdb", "-U", "bench", "-A", "trust", "-E", "UTF8")
    options = f"-k {folder} -c listen_addresses='' -c max_connections=200"
    run("pg_ctl", "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"postgresql://bench@/postgres?host={folder}"
    finally:
        run("pg_ctl", "-w", "-m", "fast", "stop")


@contextmanager
def served(address: str) -> Generator[int]:
    """The bench served by one process; its port."""
    process = subprocess.Popen(
        [sys.executable, "-c", SERVE, address], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        said = json.loads(process.stdout.readline())
        yield int(said["address"].rstrip("/").rpartition(":")[2])
    finally:
        process.terminate()
        process.wait()
        process.stdout.close()


class Client:
    """One script with its token; every entry comes over a connection of its own."""

    def __init__(self, port: int, token: str, trial: str) -> None:
        self.port, self.token, self.trial = port, token, trial

    async def enter(self, coupon: str) -> None:
        """Send one reading; returns with its whole answer."""
        body = json.dumps({"coupon": coupon, "mass_g": 1.7}).encode()
        head = (
            f"POST /api/trials/{self.trial}/readings HTTP/1.1\r\nHost: 127.0.0.1\r\n"
            f"Authorization: Bearer {self.token}\r\nContent-Type: application/json\r\n"
            f"Prefer: return=minimal\r\nContent-Length: {len(body)}\r\n\r\n"
        )
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
        writer.write(head.encode() + body)
        answer = (await reader.readuntil(b"\r\n\r\n")).decode().lower()
        length = int(answer.split("content-length:")[1].split("\r\n")[0])
        text = await reader.readexactly(length)
        writer.close()
        assert " 201 " in answer.splitlines()[0], text


async def steady(each: list[Callable[[], Awaitable[None]]], rounds: int) -> list[float]:
    """Every client at a moment of its own in each period; times in ms."""
    times: list[float] = []

    async def one(number: int, act: Callable[[], Awaitable[None]]) -> None:
        rng = random.Random(number)
        for k in range(rounds):
            await asyncio.sleep(
                max(0.0, start + (k + rng.random()) * EVERY_S - time.perf_counter())
            )
            begun = time.perf_counter()
            await act()
            times.append(1000 * (time.perf_counter() - begun))

    start = time.perf_counter()
    await asyncio.gather(*(one(number, act) for number, act in enumerate(each)))
    return times


async def burst(each: list[Callable[[], Awaitable[None]]], rounds: int) -> list[float]:
    """All clients in the same instant; times in ms."""
    times: list[float] = []

    async def one(act: Callable[[], Awaitable[None]]) -> None:
        begun = time.perf_counter()
        await act()
        times.append(1000 * (time.perf_counter() - begun))

    for _ in range(rounds):
        await asyncio.gather(*(one(act) for act in each))
        await asyncio.sleep(0.3)
    return times


async def measure(address: str, port: int, made: list[str], rounds: int) -> None:
    trial, coupons, *tokens = made
    waiting = iter(coupons.split())
    clients = [Client(port, token, trial) for token in tokens]
    for client in clients:
        await client.enter(next(waiting))  # what is done once is done
    connections = [await psycopg.AsyncConnection.connect(address) for _ in tokens]
    async with await psycopg.AsyncConnection.connect(address, autocommit=True) as first:
        await first.execute("CREATE TABLE bare (mass float)")

    def bare(connection: Any) -> Callable[[], Awaitable[None]]:
        async def insert() -> None:
            await connection.execute("INSERT INTO bare VALUES (1.7)")
            await connection.commit()

        return insert

    def entry(client: Client) -> Callable[[], Awaitable[None]]:
        return lambda: client.enter(next(waiting))

    print(f"{machine('psycopg')}; {CLIENTS} clients, {rounds} rounds.\n")
    print("| rhythm | what | entries | median ms | 95 % below | slowest |")
    print("| --- | --- | --: | --: | --: | --: |")
    for words, rhythm in (("one each 2 s, spread", steady), ("all in one instant", burst)):
        floor = await rhythm([bare(one) for one in connections], rounds)
        times = await rhythm([entry(one) for one in clients], rounds)
        floor += await rhythm([bare(one) for one in connections], rounds)
        for what, values in (("weigh-in, whole answer", times), ("bare INSERT, the floor", floor)):
            half, cut = statistics.median(values), statistics.quantiles(values, n=20)[-1]
            figures = f"{len(values)} | {half:.0f} | {cut:.0f} | {max(values):.0f}"
            print(f"| {words} | {what} | {figures} |", flush=True)
    for connection in connections:
        await connection.close()


def main() -> None:
    """Start both servers, measure, print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=6)
    parser.add_argument("--folder", type=Path, help="where the database lies; a disk")
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="bw-pg-", dir=given.folder))
    try:
        with database(folder) as plain:
            bench = plain.replace("postgresql:", "postgresql+psycopg:")
            replicates = 1 + (2 * given.rounds + 2) * CLIENTS // 60
            command = [sys.executable, "-c", ADMIT, bench, str(replicates)]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
            with served(bench) as port:
                asyncio.run(measure(plain, port, done.stdout.splitlines(), given.rounds))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
