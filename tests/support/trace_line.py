"""A balance at a virtual port that sends a trace, line after line, as fast as it is read."""

import contextlib
import itertools
import os
import threading
import time

from simulated_balances import LEARNT
from virtual_balance import open_port

from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import Cable, CabledBalance, Samples, learn_format
from beadworth.workflow import store_balance

KIND = LEARNT[1]
"""Three decimals, the unit only when stable."""
PORT = "balance-port"


def cabled(port, name="Bench balance"):
    """The balance as it stands on a bench, its lines learnt."""
    lines = [
        [KIND.write(shown, still, n + 1) for n in range(6)]
        for shown, still in ((0, True), (7001, False), (12340, True))
    ]
    form = learn_format(Samples(*lines), unit="g")
    return CabledBalance(name=name, cable=Cable(port=str(port)), lines=form)


@contextlib.contextmanager
def cabled_bench(folder):
    """A bench with a rig, a material and that balance at the port of a :class:`TraceLine`."""
    with open_bench(folder / "a.bench") as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        store_balance(bench, cabled(folder / PORT))
        yield bench


def stamps(each_s):
    """A clock that ticks once for each line."""
    return itertools.count(0.0, each_s).__next__


class TraceLine:
    """Sends masses in order once it is let go.

    Parameters
    ----------
    folder : Path
    mass_g : sequence of float
    """

    def __init__(self, folder, mass_g):
        self.port = folder / PORT
        self._mass = [round(1000 * m) for m in mass_g]
        self.sent = 0
        self.until = 0
        """How many it may send by now."""
        self._ends = open_port(self.port)
        self._ended = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._ended = True
        self._thread.join()
        for end in self._ends:
            os.close(end)

    def let(self, until=None):
        """Send on until so many lines are sent; all of them where none is said."""
        self.until = len(self._mass) if until is None else until

    def _run(self):
        waiting = b""
        while not self._ended:
            if not waiting and self.sent < min(self.until, len(self._mass)):
                still = self.sent % 5 == 0
                waiting = f"{KIND.write(self._mass[self.sent], still, self.sent)}\r\n".encode()
                self.sent += 1
            elif not waiting:
                time.sleep(0.01)
                continue
            with contextlib.suppress(BlockingIOError):
                waiting = waiting[os.write(self._ends[0], waiting) :]
                continue
            time.sleep(0.002)
