"""The store of everything one workshop has measured: tables, migrations, history, backup.

Rows in, rows out. Importing this is cheap; the database library comes with the first
:func:`open_bench`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
