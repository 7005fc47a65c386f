"""A balance at a virtual port that sends a trace, line after line, as fast as it is read."""

import contextlib
import itertools
import os
import pty
import threading
import time
import tty

from simulated_balances import LEARNT

from beadworth.trial import Cable, CabledBalance, Samples, learn_format

KIND = LEARNT[1]
"""Three decimals, the unit only when stable."""


def cabled(port, name="Bench balance"):
    """The balance as it stands on a bench, its lines learnt."""
    lines = [
        [KIND.write(shown, still, n + 1) for n in range(6)]
        for shown, still in ((0, True), (7001, False), (12340, True))
    ]
    form = learn_format(Samples(*lines), unit="g")
    return CabledBalance(name=name, cable=Cable(port=str(port)), lines=form)


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
        self.port = folder / "balance-port"
        self._mass = [round(1000 * m) for m in mass_g]
        self.sent = 0
        self.until = 0
        """How many it may send by now."""
        self._ends = pty.openpty()
        tty.setraw(self._ends[1])
        os.set_blocking(self._ends[0], False)
        self.port.symlink_to(os.ttyname(self._ends[1]))
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
