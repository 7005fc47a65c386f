"""Servers forked from one process that has loaded the application, and, if asked, fitted the demo.

Start-up is imports, and a fit of the demo takes seconds that every server on it would take anew:
what is worked out is kept by content, so that those forked later have it.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SCRIPT = """
import importlib, json, os, pkgutil, signal, sys, tempfile, traceback
from pathlib import Path
sys.path.append({support!r})
import beadworth, scipy.optimize, scipy.special, scipy.stats
for module in pkgutil.walk_packages(beadworth.__path__, "beadworth."):
    if "__main__" not in module.name and ".migrations." not in module.name:
        importlib.import_module(module.name)
import gc, shared_fits
from beadworth.store import open_bench
from beadworth.web import create_app, serve
from beadworth.web.responses import environment, look_css
from beadworth.workflow import report_data
from beadworth.workflow.trial import trial_programs
from beadworth.workflow.worth import stored_worths, worth_answer
look_css()
for template in environment().list_templates():
    environment().get_template(template)  # reads and compiles it
with tempfile.TemporaryDirectory() as folder, open_bench(Path(folder) / "a.bench") as bench:
    create_app(bench)  # loads what a server needs
tempfile.tempdir = None
shared_fits.install()
gc.freeze()  # what is there is shared with all that is forked, not looked through by each

def work_out(path):
    with open_bench(path) as bench:
        for snapshot in bench.snapshots():
            trial_programs(snapshot)
            if snapshot.current:
                report_data(bench, snapshot.record.id)
        for stored in stored_worths(bench):
            worth_answer(stored.asked)

def serve_bench(path, port, people):
    with open_bench(path) as bench:
        serve(bench, port=port, people=people)

def run(code, arguments, env, folder):
    os.environ.update(env)
    tempfile.tempdir = None
    os.chdir(folder)
    sys.argv = ["-c", *arguments]
    exec(compile(code, "<script>", "exec"), {"__name__": "__main__"})
    print("ended well", flush=True)

signal.signal(signal.SIGCHLD, signal.SIG_IGN)
print("ready", flush=True)
for line in sys.stdin:
    what, said, *rest = json.loads(line)
    if what == "work_out":
        work_out(*rest)
        print("done", flush=True)
        continue
    child = os.fork()
    if child:
        print(child, flush=True)
        continue
    os.setsid()
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for number in (1, 2):
        os.dup2(os.open(said, os.O_WRONLY | os.O_APPEND), number)
    try:
        {"serve": serve_bench, "run": run}[what](*rest)
    except BaseException:
        traceback.print_exc()
        os._exit(1)
    os._exit(0)
"""


class Nursery:
    """The process that forks, and whether it has worked out the demo."""

    def __init__(self):
        self.process = subprocess.Popen(
            [sys.executable, "-c", SCRIPT.replace("{support!r}", repr(str(Path(__file__).parent)))],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self.process.stdout.readline() == "ready\n"

    def _ask(self, *words):
        self.process.stdin.write(json.dumps(words) + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def work_out(self, path):
        """Work out what pages and documents of a bench say; whoever is forked later has it."""
        assert self._ask("work_out", None, str(path)) == "done"

    def serve(self, path, port, said, people=False):
        """Fork a server over a bench; gives its process number."""
        return int(self._ask("serve", str(said), str(path), port, people))

    def run(self, code, arguments, env, folder):
        """Fork a process that runs this code to its end; gives what it said."""
        with tempfile.TemporaryDirectory() as place:
            said = Path(place) / "said"
            said.touch()
            number = int(self._ask("run", str(said), code, arguments, env, str(folder)))
            while alive(number):
                time.sleep(0.02)
            return said.read_text()

    def close(self):
        """End it; what it forked lives on."""
        self.process.stdin.close()
        self.process.wait(timeout=10)
        self.process.stdout.close()


def alive(number):
    """Whether a process of this number is there."""
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    return True


class Server:
    """A real server in a process of its own, over one bench."""

    def __init__(self, nursery, path, port=0, people=False):
        self.nursery, self.path, self.port, self.people = nursery, path, port, people
        self.start()

    def start(self):
        with tempfile.TemporaryDirectory() as folder:
            said = Path(folder) / "said"
            said.touch()
            self.process = self.nursery.serve(self.path, self.port, said, self.people)
            line = self._first_line(said)
        self.address = line.split()[4].rstrip("/")
        self.port = int(self.address.rsplit(":", 1)[1])
        deadline = time.monotonic() + 20
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                assert time.monotonic() < deadline
                time.sleep(0.02)

    def _first_line(self, said):
        deadline = time.monotonic() + 60
        while "http://" not in said.read_text() or "\n" not in said.read_text():
            assert alive(self.process), said.read_text()
            assert time.monotonic() < deadline, said.read_text()
            time.sleep(0.02)
        return next(line for line in said.read_text().splitlines() if "http://" in line)

    def _end(self, how, patience_s):
        """Send a signal; gives whether the process ended in that time."""
        deadline = time.monotonic() + patience_s
        try:
            os.kill(self.process, how)
        except ProcessLookupError:
            return True
        while alive(self.process):
            if time.monotonic() > deadline:
                return False
            time.sleep(0.005)
        return True

    def kill(self):
        """As a power cut would."""
        assert self._end(signal.SIGKILL, 10)

    def stop(self):
        if not self._end(signal.SIGTERM, 10):
            self.kill()
