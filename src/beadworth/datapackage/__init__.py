"""The open data package of a trial: written, and read back with every claim checked.

Pure: plain data and bytes in, bytes and plain data out; who reads folders and keeps what was
imported is the bench.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
