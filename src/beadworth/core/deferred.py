"""Functions that numba compiles, which is loaded when the first of them must be.

:class:`Deferred` is a function that numba's dispatcher calls. An :class:`Entry` is one that takes
arrays and numbers and returns numbers: where it was compiled before, its machine code is put to
work without numba (:mod:`beadworth.core.machine_code`).
"""

from __future__ import annotations

import ctypes
import functools
import hashlib
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.core import machine_code
from beadworth.core.machine_code import Code, NoMachineCodeError

_C, _F, _ALIGNED, _WRITEABLE = 0x1, 0x2, 0x100, 0x400  # numpy's flags of an array
_OF_ROWS, _OF_COLUMNS = _ALIGNED | _WRITEABLE | _C, _ALIGNED | _WRITEABLE | _F
_DIMENSIONS: Final = 0x1000  # what one dimension adds to them
_MOST: Final = 2**63
_NUMBAS: Final = ("targetoptions", "overloads", "signatures", "stats")
_NUMBERS: Final = (int, float, bool, type(None))
_PLACE: Final = object.__basicsize__  # where in an array object the address of its data stands


class Deferred:
    """A function that is compiled when it is first called, or when a compiled one calls it.

    Parameters
    ----------
    function : callable
        What is compiled.
    make : callable
        Makes numba's dispatcher of it; called once.
    """

    def __init__(self, function: Callable[..., Any], make: Callable[[], Any]) -> None:
        self.py_func = function
        self._make: Callable[[], Any] | None = make
        self._made: Any = None
        functools.update_wrapper(self, function)

    @property
    def dispatcher(self) -> Any:
        """Numba's side of the function."""
        if self._make is not None:
            import numba  # noqa: F401 - loaded outside the lock: importing has locks of its own

            with _MAKING:
                if self._make is not None:
                    self._made, self._make = self._make(), None
        return self._made

    @property
    def _numba_type_(self) -> Any:
        """What numba takes this for where a compiled function calls it."""
        return self.dispatcher._numba_type_

    def __getattr__(self, name: str) -> Any:
        if name not in _NUMBAS:
            raise AttributeError(name)
        return getattr(self.dispatcher, name)

    def __call__(self, *values: Any) -> Any:
        """Call it, compiled."""
        return self.dispatcher(*values)


class Entry(Deferred):
    """A compiled function whose machine code is kept in files of our own.

    Parameters
    ----------
    function : callable
        What is compiled: it takes arrays, numbers, None, and tuples of arrays, by place, and
        returns a number, a tuple of them, or nothing.
    make : callable
        Makes numba's dispatcher of it, for its machine code alone; None where this is not a
        release of numba whose inside is known.
    usual : callable
        Makes a dispatcher that Python can call, for when the code cannot be kept or loaded.
    folder : callable
        Says where code is kept.
    """

    def __init__(
        self,
        function: Callable[..., Any],
        make: Callable[[], Any],
        usual: Callable[[], Any],
        folder: Callable[[], Path],
    ) -> None:
        super().__init__(function, make)
        self._usual, self._folder = Deferred(function, usual), folder
        self._ready: dict[tuple[Any, ...], Callable[[list[Any]], Any] | None] = {}

    def __call__(self, *values: Any) -> Any:
        """Call it, compiled or from its file."""
        words: list[Any] = []
        kinds: list[Any] = []
        _unpack(values, words, kinds)
        key = tuple(kinds)
        if key not in self._ready:
            with _FINDING:
                if key not in self._ready:
                    self._ready[key] = self._find(kinds, values)
        run = self._ready[key]
        return self._usual(*values) if run is None else run(words)

    def _find(self, kinds: list[Any], values: tuple[Any, ...]) -> Callable[[list[Any]], Any] | None:
        """The function for such arguments, from its file or compiled; None where neither can be."""
        try:
            file = self._file(kinds)
            code = machine_code.read(file)
            if code is not None:
                return machine_code.callable_of(code, self.py_func.__qualname__)
            if self.dispatcher is None:
                return None
            code = self._compile(values)
            run = machine_code.callable_of(code, self.py_func.__qualname__)
        except NoMachineCodeError:
            return None
        machine_code.write(code, file)
        return run

    def _compile(self, values: tuple[Any, ...]) -> Code:
        import numba

        type_of: Any = numba.typeof
        signature = tuple(type_of(_plain(value)) for value in values)
        self.dispatcher.compile(signature)
        return machine_code.from_numba(self.dispatcher.overloads[signature])

    def _file(self, kinds: list[Any]) -> Path:
        """Named by the function, what it is called with, and the machine."""
        text = repr([kind.str if isinstance(kind, np.dtype) else kind for kind in kinds])
        digest = hashlib.sha256(f"{machine_code.machine()}{text}".encode()).hexdigest()[:16]
        return self._folder() / f"{self.py_func.__module__}.{self.py_func.__name__}-{digest}.code"


class Inlined:
    """What numba calls an intrinsic: a function written in the compiler's own instructions."""

    made: Any = None

    def __init__(self, function: Callable[..., Any]) -> None:
        self.py_func = function
        self.__doc__, self.__name__ = function.__doc__, function.__name__
        _WAITING.append(self)

    @property
    def _numba_type_(self) -> Any:
        from numba.core.registry import cpu_target

        typing: Any = cpu_target.typing_context
        return typing.resolve_value_type(self.made)


def tell_numba() -> None:
    """Make numba know of every intrinsic there is by now; before anything is compiled."""
    from numba.extending import intrinsic

    while _WAITING:
        one = _WAITING.pop()
        one.made = intrinsic(one.py_func)


_MAKING, _FINDING = threading.RLock(), threading.RLock()
_WAITING: list[Inlined] = []


def _unpack(values: Iterable[Any], words: list[Any], kinds: list[Any]) -> None:
    """Values as the words that compiled functions take them in, and what kind each is."""
    for value in values:
        if isinstance(value, np.ndarray):  # up to fifty of them a call: no function for each
            flags, shape = value.flags.num, value.shape
            flags &= _OF_ROWS if flags & _C else _OF_COLUMNS
            kinds += (value.dtype, flags + _DIMENSIONS * len(shape))
            where = _address(value)
            words += (0, 0, value.size, value.itemsize, where, *shape, *value.strides)
        elif isinstance(value, tuple):
            kinds.append(len(value))
            _unpack(value, words, kinds)
        else:
            number = _plain(value)
            kind = type(number)
            if kind not in _NUMBERS or (kind is int and not -_MOST <= number < _MOST):
                raise TypeError(f"a compiled function takes no {kind.__name__}: {number!r}")
            kinds.append(kind.__name__)
            words.append(0 if number is None else number)


def _plain(value: Any) -> Any:
    """A number of numpy as Python's."""
    return value.item() if isinstance(value, np.generic) else value


def _address_by_object(array: NDArray[Any], word: Any = ctypes.c_void_p.from_address) -> Any:
    """Where the data of an array are: the first thing in its object, and read in 0.1 µs there."""
    return word(id(array) + _PLACE).value


def _address_by_ctypes(array: NDArray[Any]) -> int:
    """The same as numpy gives it, in 3 µs."""
    return array.ctypes.data


_PROBE = np.zeros(3)[1:]
_address = (
    _address_by_object
    if _address_by_object(_PROBE) == _address_by_ctypes(_PROBE)
    else _address_by_ctypes
)
