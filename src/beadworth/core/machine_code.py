"""Compiled functions in files of our own, put to work without loading the compiler.

numba takes half a second to load, most of what a short replay takes, and a replay whose kernels
were compiled before needs none of it: machine code has only to be put into memory, which llvmlite
does, and to be called. A function takes all its arguments as one row of 64-bit words: a kernel of
fifty arrays is called in microseconds.

This reaches into numba (:func:`from_numba` and :func:`_runtime`), so it is done with the releases
it was tried with, as in :mod:`beadworth.core.compiled_parts`.
"""

from __future__ import annotations

import contextlib
import ctypes
import functools
import hashlib
import importlib
import importlib.machinery
import importlib.util
import json
import struct
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from beadworth.core.errors import InputError
from beadworth.core.leaving import make_folder, write_file

ENTRY: Final = "beadworth_entry"
_RUNTIME: Final = "numba.core.runtime._nrt_python"
_TYPES: Final = {
    "int64": "q", "int32": "i", "uint8": "B", "uint64": "Q", "float64": "d", "bool": "?",
}  # fmt: skip
_C_LIBRARY: Final = (
    "acos asin atan atan2 ceil cos cosh exp exp2 exp10 floor fma fmod ldexp log log10 log2 memcpy "
    "memmove memset nearbyint pow rint round roundeven sin sinh tan tanh trunc"
)
_CALL: Final = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_char_p, ctypes.c_char_p)  # without the GIL


@dataclass(frozen=True)
class Code:
    """Machine code and how to call it.

    Parameters
    ----------
    takes, gives : str
        Arguments and results as :mod:`struct` spells them.
    several : bool
        Whether the result is a tuple.
    needs : sequence of str
        Functions of others that the code calls.
    objects : sequence of bytes
        Object files: the function, and the entry that unpacks its arguments.
    """

    takes: str
    gives: str
    several: bool
    needs: Sequence[str]
    objects: Sequence[bytes]


class NoMachineCodeError(Exception):
    """A function cannot be kept or called this way; the compiler calls it."""


@functools.cache
def machine() -> str:
    """What compiled code depends on besides its source: processor, and releases of the compiler."""
    import llvmlite.binding as llvm

    digest = hashlib.sha256()
    for text in (
        llvm.get_process_triple(),
        llvm.get_host_cpu_name(),
        llvm.get_host_cpu_features().flatten(),
        llvm.llvm_version_info,
        _numba_folder().joinpath("_version.py").read_bytes(),
    ):
        digest.update(repr(text).encode())
    return digest.hexdigest()


def write(code: Code, file: Path) -> None:
    """Keep code in a file, whole or not at all; nothing is said where it cannot be written."""
    body = b"".join(code.objects)
    head = {
        "takes": code.takes, "gives": code.gives, "several": code.several,
        "needs": list(code.needs), "sizes": list(map(len, code.objects)), "machine": machine(),
    }  # fmt: skip
    first = json.dumps(head).encode() + b"\n"
    seal = hashlib.sha256(first + body).hexdigest().encode() + b"\n"
    with contextlib.suppress(InputError):
        make_folder(file.parent)
        write_file(file, seal + first + body)


def read(file: Path) -> Code | None:
    """Code from a file; None where there is none, or it is cut, changed or of another machine."""
    try:
        content = file.read_bytes()
    except OSError:
        return None
    seal, _, rest = content.partition(b"\n")
    if hashlib.sha256(rest).hexdigest().encode() != seal:
        return None
    first, _, body = rest.partition(b"\n")
    head = json.loads(first)
    if head["machine"] != machine():
        return None
    objects, at = [], 0
    for size in head["sizes"]:
        objects.append(body[at : at + size])
        at += size
    return Code(head["takes"], head["gives"], head["several"], head["needs"], objects)


def callable_of(code: Code, name: str) -> Callable[[list[Any]], Any]:
    """Put code into memory.

    Returns
    -------
    callable
        Takes the words; returns what the function returns, and raises MemoryError where the
        function could not get memory, the only thing that fails in a kernel.

    Raises
    ------
    NoMachineCodeError
        Something it calls is not there.
    """
    import llvmlite.binding as llvm

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _target())
    _provide(code.needs)
    for each in code.objects:
        engine.add_object_file(llvm.ObjectFileRef.from_data(each))
    engine.finalize_object()
    run = _CALL(engine.get_function_address(ENTRY))
    pack, results, several = struct.Struct(code.takes).pack, struct.Struct(code.gives), code.several

    def call(words: list[Any], engine: Any = engine) -> Any:  # the code lives as long as its engine
        into = ctypes.create_string_buffer(max(results.size, 8))
        if run(into, pack(*words)):
            raise MemoryError(f"{name} could not get the memory it needs")
        found = results.unpack_from(into)
        return found if several else found[0] if found else None

    return call


def from_numba(result: Any) -> Code:
    """What numba compiled, as code of ours.

    Parameters
    ----------
    result : numba.core.compiler.CompileResult

    Raises
    ------
    NoMachineCodeError
        It returns something other than numbers.
    """
    import llvmlite.binding as llvm
    from llvmlite import ir
    from numba.core import types

    about, library = result.fndesc, result.library
    given, several = about.restype, isinstance(about.restype, types.BaseTuple)
    kinds = [] if given == types.none else list(given) if several else [given]
    if any(str(kind) not in _TYPES for kind in kinds):
        raise NoMachineCodeError(f"{about.qualname} returns {given}")
    gives = "@" + "".join(_TYPES[str(kind)] for kind in kinds)
    function = result.target_context.call_conv.get_function_type(given, about.argtypes)
    word, pointer = ir.IntType(64), ir.IntType(8).as_pointer()
    module = ir.Module(ENTRY)
    module.triple, module.data_layout = llvm.get_process_triple(), str(_target().target_data)
    callee = ir.Function(module, function, about.llvm_func_name)
    entry = ir.Function(
        module, ir.FunctionType(ir.IntType(32), [pointer, word.as_pointer()]), ENTRY
    )
    builder = ir.IRBuilder(entry.append_basic_block())
    into = builder.bitcast(entry.args[0], function.args[0])
    failure = builder.alloca(function.args[1].pointee)
    arguments, takes = [], "@"
    for k, wanted in enumerate(function.args[2:]):
        value = builder.load(builder.gep(entry.args[1], [ir.Constant(word, k)]))
        takes += "d" if isinstance(wanted, ir.DoubleType) else "q"
        if isinstance(wanted, ir.PointerType):
            value = builder.inttoptr(value, wanted)
        elif isinstance(wanted, ir.DoubleType):
            value = builder.bitcast(value, wanted)
        elif wanted.width < word.width:
            value = builder.trunc(value, wanted)
        arguments.append(value)
    builder.ret(builder.call(callee, [into, failure, *arguments]))
    made = llvm.parse_assembly(str(module))
    made.verify()
    needs = [each.name for each in library._final_module.functions if each.is_declaration]
    objects = library._get_compiled_object(), _target().emit_object(made)
    return Code(takes, gives, several, needs, objects)


def _target() -> Any:
    """The machine here, as numba compiles for it."""
    import llvmlite.binding as llvm

    target = llvm.Target.from_default_triple()
    return target.create_target_machine(
        cpu=llvm.get_host_cpu_name(),
        features=llvm.get_host_cpu_features().flatten(),
        reloc="static" if target.name.startswith("x86") else "default",
        codemodel="jitdefault",
        jit=True,
    )


def _provide(needs: Sequence[str]) -> None:
    """See that everything code calls is there: a loader that misses something ends the process."""
    import llvmlite.binding as llvm

    for name in needs:
        if name.startswith("llvm."):  # an instruction; of some, the compiler may make a call
            called = name.split(".")[1]
            if called in _C_LIBRARY.split() and not llvm.address_of_symbol(called):
                raise NoMachineCodeError(called)
            continue
        if name.startswith("NRT_"):
            address = _runtime().c_helpers.get(name.removeprefix("NRT_"))
            if address is not None:
                llvm.add_symbol(name, address)
        if not llvm.address_of_symbol(name):
            raise NoMachineCodeError(name)


@functools.cache
def _runtime() -> Any:
    """Numba's own memory for arrays made in a kernel: one small library, without the rest."""
    if "numba" in sys.modules:
        return importlib.import_module(_RUNTIME)
    folder = _numba_folder() / "core" / "runtime"
    found = importlib.machinery.PathFinder.find_spec(_RUNTIME.rpartition(".")[2], [str(folder)])
    if found is None or found.origin is None:
        raise NoMachineCodeError(_RUNTIME)
    spec = importlib.util.spec_from_file_location(_RUNTIME, found.origin)
    if spec is None or spec.loader is None:
        raise NoMachineCodeError(_RUNTIME)
    module = sys.modules[_RUNTIME] = importlib.util.module_from_spec(spec)  # numba finds it there
    spec.loader.exec_module(module)
    module.memsys_use_cpython_allocator()
    return module


def _numba_folder() -> Path:
    """Where numba is installed, found without loading it."""
    spec = importlib.util.find_spec("numba")
    if spec is None or spec.origin is None:
        raise NoMachineCodeError("numba")
    return Path(spec.origin).parent
