"""A balance at a virtual port: a pair of the standard library, one of the invented formats."""

from __future__ import annotations

import contextlib
import os
import pty
import termios
import threading
import time
import tty

from simulated_balances import LEARNT, Balance


def open_port(link):
    """Both ends of a raw virtual port, the balance's first; ``link`` leads to the other."""
    master, slave = pty.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    link.unlink(missing_ok=True)
    link.symlink_to(os.ttyname(slave))
    return master, slave


class VirtualBalance:
    """Sends lines at a port that is a link in a folder, so that it can be plugged in again.

    Parameters
    ----------
    folder : Path
    kind : Balance
    speed : str
        The only speed at which it is text, as ``termios`` names it.
    request : bytes
        It answers this; empty: it sends by itself.
    """

    def __init__(self, folder, kind: Balance = LEARNT[0], speed="B9600", request=b"", every_s=0.03):
        self.kind, self.request, self.every_s = kind, request, every_s
        self.speed = getattr(termios, speed)
        self.port = folder / "balance-port"
        self.silent = self.damaged = False
        self.load = self.shown = 0
        self._still = 9
        self._sent = 0
        self._ended = False
        self._lock = threading.Lock()
        self.plug()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._ended = True
        self._thread.join()
        self.unplug()

    def plug(self):
        """Plug the cable in."""
        with self._lock:
            self._ends = open_port(self.port)

    def unplug(self):
        """Pull the cable."""
        with self._lock:
            if self._ends:
                for end in self._ends:
                    os.close(end)
                self._ends = None
                self.port.unlink()

    def press(self):
        """Press its key: one line, at rest."""
        with self._lock:
            self.shown, self._still, self._sent = self.load, 9, self._sent + 1
            text = self.kind.write(self.shown, True, self._sent)
            os.write(self._ends[0], f"{text}\r\n".encode("latin-1"))

    def put(self, count):
        """Put so many last digits on the pan; 0 empties it."""
        self.load = count

    def _run(self):
        while not self._ended:
            time.sleep(self.every_s)
            with self._lock, contextlib.suppress(BlockingIOError):
                if self._ends and not self.silent:
                    self._send(self._ends[0])

    def _send(self, master):
        if self.request and self.request not in self._asked(master):
            return
        away = self.load - self.shown
        if abs(away) < 3:
            self.shown, self._still = self.load, self._still + 1
        else:
            self.shown, self._still = self.shown + int(0.7 * away), 0
        self._sent += 1
        text = self.kind.write(self.shown, self._still > 2, self._sent)
        if self.damaged and self._sent % 2:
            text = text[1:]
        data = "".join(line + "\r\n" for line in text.split("\n")).encode("latin-1")
        if termios.tcgetattr(master)[4] != self.speed:
            data = bytes(128 + (one * 7 + k) % 127 for k, one in enumerate(data))
        os.write(master, data)

    @staticmethod
    def _asked(master):
        try:
            return os.read(master, 100)
        except BlockingIOError:
            return b""


@contextlib.contextmanager
def keys_pressed(balance, every_s=0.15):
    """Press its key again and again, as somebody who was told to press it three times."""
    left = threading.Event()

    def press():
        while not left.wait(every_s):
            balance.press()

    thread = threading.Thread(target=press)
    thread.start()
    try:
        yield
    finally:
        left.set()
        thread.join()
