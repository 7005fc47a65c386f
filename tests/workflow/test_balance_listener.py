"""A balance listened to while its lines are learnt."""

from __future__ import annotations

import itertools
import threading

from simulated_balances import LEARNT
from virtual_balance import VirtualBalance

from beadworth.trial import Cable, Samples, learn_format
from beadworth.workflow import BalanceListener, collect_lines


def test_somebody_may_take_his_time_before_the_piece_is_on(tmp_path):
    with (
        VirtualBalance(tmp_path, every_s=0.001) as balance,
        BalanceListener(Cable(port=str(balance.port))) as listener,
    ):
        collect_lines(listener, "empty")
        listener.begin("moving")
        begun = listener.state().lines
        listener.wait(lambda now: now.lines > begun + 400, 10.0)  # 20 s at 20 lines a second
        balance.put(1234)
        listener.wait(lambda now: now.raw[-1].startswith("S    12.34"), 10.0)
        collect_lines(listener, "loaded")
        samples = listener.samples()
    assert len(samples.moving) > 400
    assert learn_format(samples).marked  # the mark of a pan in motion came after all those lines


def test_a_balance_that_sends_at_its_key_gives_each_line_as_a_reading(tmp_path):
    with VirtualBalance(tmp_path) as balance:
        balance.silent = True
        cable = Cable(port=str(balance.port), by_key=True)
        with BalanceListener(cable) as listener:
            for phase, count in (("empty", 0), ("loaded", 1234)):
                balance.put(count)
                pressed = threading.Timer(0.2, lambda: [balance.press() for _ in range(3)])
                pressed.start()
                collect_lines(listener, phase)
                listener.begin("moving")
            form = learn_format(listener.samples(), shown="12.34")
        with BalanceListener(cable, form) as listener:
            assert listener.state().trouble is None
            balance.put(178)
            balance.press()
            now = listener.wait(lambda state: state.reading != "", 5.0)
            assert (now.reading, now.rest, now.trouble) == ("1.78", 1, None)
            balance.press()
            assert listener.wait(lambda state: state.rest == 2, 5.0).reading == "1.78"


def test_lines_are_heard_with_the_time_they_came(tmp_path):
    ticks = itertools.count(100.0, 0.5)
    with VirtualBalance(tmp_path, every_s=0.005) as balance:
        form = learn_format(Samples(*[[LEARNT[0].write(n, True, 1)] * 4 for n in (0, 5, 1234)]))
        with BalanceListener(Cable(port=str(balance.port)), form, stamp=lambda: next(ticks)) as one:
            assert one.heard() == []
            one.wait(lambda state: state.lines > 20, 5.0)
            heard = one.heard()
    assert len(heard) > 15
    assert {round(b.at_s - a.at_s, 6) for a, b in itertools.pairwise(heard)} == {0.5}
    assert {line.mass_g for line in heard} == {0.0}
