"""Functions that only kernels call: linked into their callers, never machine code of their own.

numba optimises every compiled function together with all it calls and makes machine code of that;
then it does the same for each function that calls it, and so on up to the kernel. Where calls are
six deep that is a third of the wait for a first replay, and none of it is ever run. Here a part is
handed to its caller as it is; one that calls no other is optimised first, as loops are best alone.

This reaches into numba. With a release other than those it was tried with, parts are compiled as
numba does it: later, and to the same result.
"""

from __future__ import annotations

import functools
import threading
from typing import Any, Final

KNOWN: Final = ((0, 68),)
"""Releases of numba whose inside is as this module expects."""


class _State(threading.local):
    linked = False
    """Whether what is being compiled in this thread will only be linked."""


_state = _State()


def mark(dispatcher: Any, *, linked: bool) -> None:
    """Say of a compiled function whether others only link it, or Python may call it.

    Parameters
    ----------
    dispatcher
        What ``numba.njit`` returned.
    linked : bool
        Python never calls it.
    """
    if not prepared():
        return
    compile_it = dispatcher.compile

    def compile_marked(signature: Any) -> Any:
        before, _state.linked = _state.linked, linked
        try:
            return compile_it(signature)
        finally:
            _state.linked = before

    dispatcher.compile = compile_marked


@functools.cache
def prepared() -> bool:
    """Teach numba's libraries what being only linked means; False where it is not known how."""
    import numba
    from numba.core import codegen

    if numba.version_info.short not in KNOWN:
        return False
    library: Any = codegen.JITCodeLibrary
    target: Any = codegen.JITCPUCodegen
    finish, set_environment = library.finalize, target.set_env

    def finalize(self: Any) -> None:
        if not _state.linked:
            finish(self)
            return
        self._raise_if_finalized()
        calls_none = True
        for other in dict.fromkeys(self._linking_libraries):
            self._reload_init.update(other._reload_init)
            self._final_module.link_in(other._get_module_for_linking(), preserve=True)
            calls_none &= not hasattr(other, "only_linked")
        self.only_linked = True
        if calls_none:
            self._optimize_final_module()
        self._finalize_dynamic_globals()
        self._finalized = True

    def set_env(self: Any, name: str, environment: Any) -> None:
        if not _state.linked:  # a part has no place in memory where its environment could go
            set_environment(self, name, environment)

    library.finalize, target.set_env = finalize, set_env
    return True
