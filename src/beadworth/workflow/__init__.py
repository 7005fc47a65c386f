"""Fetch, compute, store: what page and command both ask for, one module per noun.

No arithmetic stands here: each function fetches plain data from the store, calls the package that
knows, and stores what is new.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
