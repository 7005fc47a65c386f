"""A balance listened to while its lines are learnt."""

from __future__ import annotations

from virtual_balance import VirtualBalance

from beadworth.trial import Cable, learn_format
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
