"""Servers forked from one process that has loaded the application, and, if asked, fitted the demo.

Start-up is imports, and a fit of the demo takes seconds that every server on it would take anew:
what is worked out is kept by content, so that those forked later have it. What draws charts takes
half a second to start: one process does it for all.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SCRIPT = r"""
import contextlib, functools, importlib, json, os, pkgutil, select, signal, socket, sys, tempfile
import traceback
from pathlib import Path
if os.fork():
    os._exit(0)  # whoever starts it may end before the others
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
drawing, nursery = sys.argv[1] + ".draws", os.getpid()
for late in ("anyio._backends._asyncio", "uvicorn.lifespan.on", "uvicorn.loops.auto",
             "uvicorn.protocols.http.auto", "uvicorn.protocols.websockets.auto"):
    importlib.import_module(late)  # what a server would load as it begins to serve
import numba.core.registry  # each that works out something new would load it
for context in ("typing_context", "target_context"):
    getattr(numba.core.registry.cpu_target, context).refresh()

from beadworth.report.charts import chart
draw_here = chart.svg_of_json

def draw_there(spec):
    layout = sys.modules.get("beadworth.report.render.figure_layout")
    if layout is None or not layout._fonts.cache_info().currsize:  # it has the usual fonts
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as line:
            line.connect(drawing)
            line.sendall(spec.encode())
            line.shutdown(socket.SHUT_WR)
            if drawn := line.makefile("rb").read():
                return drawn.decode()
    return draw_here(spec)

def draw_for_all():
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(drawing)
        door.listen(64)
        while os.getppid() == nursery:
            if select.select([door], [], [], 1.0)[0]:
                with door.accept()[0] as line, contextlib.suppress(Exception):
                    line.sendall(draw_here(line.makefile("rb").read().decode()).encode())
    os._exit(0)

functools.update_wrapper(draw_there, draw_here)
chart.svg_of_json = draw_there
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

def answer(what, said, rest):
    if what == "work_out":
        if said not in worked_out:
            work_out(*rest)
            worked_out.add(said)
        return "done"
    child = os.fork()
    if child:
        return child
    os.setsid()
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)  # it is told how its own children ended
    for one in (door, *callers.values(), *callers):
        one.close()
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for number in (1, 2):
        os.dup2(os.open(said, os.O_WRONLY | os.O_APPEND), number)
    try:
        {"serve": serve_bench, "run": run}[what](*rest)
    except BaseException:
        traceback.print_exc()
        os._exit(1)
    os._exit(0)

signal.signal(signal.SIGCHLD, signal.SIG_IGN)
if not os.fork():
    draw_for_all()
worked_out, callers, door = set(), {}, socket.socket(socket.AF_UNIX)
door.bind(sys.argv[1] + ".begun")
door.listen()
os.rename(sys.argv[1] + ".begun", sys.argv[1])  # who can call is answered
while True:
    heard = select.select([door, *callers], [], [], {wait_s})[0]
    if not heard and not callers:
        break
    for caller in heard:
        if caller is door:
            made = door.accept()[0]
            callers[made] = made.makefile("rb")
        elif line := callers[caller].readline():
            what, said, *rest = json.loads(line)
            caller.sendall(str(answer(what, said, rest)).encode() + b"\n")
        else:
            callers.pop(caller).close()
            caller.close()
os.unlink(sys.argv[1])
Path(drawing).unlink(missing_ok=True)
"""
WAIT_S = 5.0
"""How long it stays when nobody is there."""


class Nursery:
    """The process that forks. All processes of a run share one, which ends after the last of them.

    ``folder``: the run's own; it names the process.
    """

    def __init__(self, folder: Path):
        name = hashlib.sha256(str(folder).encode()).hexdigest()[:16]
        path = Path(tempfile.gettempdir()) / f"bw-nursery-{name}"
        with (folder / "nursery.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not self._call(path):
                self._start(path, folder / "nursery.log")
        self.lines = self.line.makefile("rb")

    def _start(self, path, said):
        """Start the process, as nobody's child."""
        path.unlink(missing_ok=True)
        Path(f"{path}.draws").unlink(missing_ok=True)
        words = {"{support!r}": repr(str(Path(__file__).parent)), "{wait_s}": str(WAIT_S)}
        script = SCRIPT
        for word, value in words.items():
            script = script.replace(word, value)
        with said.open("w") as out:
            command = [sys.executable, "-c", script, str(path)]
            subprocess.run(command, stdin=subprocess.DEVNULL, stdout=out, stderr=out, check=True)
        deadline = time.monotonic() + 120
        while not self._call(path):
            assert time.monotonic() < deadline, said.read_text()
            time.sleep(0.02)

    def _call(self, path):
        self.line = socket.socket(socket.AF_UNIX)
        try:
            self.line.connect(str(path))
        except OSError:
            self.line.close()
            return False
        return True

    def _ask(self, *words):
        self.line.sendall(json.dumps(words).encode() + b"\n")
        return self.lines.readline().decode().strip()

    def work_out(self, name, path):
        """Work out what pages and documents of a bench say, once for each name; whoever is forked
        later has it.
        """
        assert self._ask("work_out", name, str(path)) == "done"

    def serve(self, path, port, said, people=False):
        """Fork a server over a bench; gives its process number."""
        return int(self._ask("serve", str(said), str(path), port, people))

    def begin(self, code, arguments, env, folder, said):
        """Fork a process that runs this code; gives its number. What it says goes into a file."""
        said.touch()
        return int(self._ask("run", str(said), code, arguments, env, str(folder)))

    def run(self, code, arguments, env, folder):
        """Fork a process that runs this code to its end; gives what it said."""
        with tempfile.TemporaryDirectory() as place:
            said = Path(place) / "said"
            number = self.begin(code, arguments, env, folder, said)
            while alive(number):
                time.sleep(0.02)
            return said.read_text()

    def close(self):
        """Leave it; it ends when all have, and what it forked lives on."""
        self.lines.close()
        self.line.close()


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
