"""Worth: what an upgrade buys against what it costs, against what else, and over months.

A :class:`WorthCase` says whose prints, which rigs, which costs and rates. :func:`ask` replays the
prints on both rigs; :func:`work_out` works out hours, money and break-even with intervals, for whom
it pays, and how it stands among other options. Wear over months is in the modules ``wear*``.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
