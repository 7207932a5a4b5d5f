"""Compiles the inner loops of the search to machine code, once for an installation. Pure.

Numba (BSD licence) translates plain functions over arrays. What it makes is kept beside the source, or in the user's
cache directory where that is not writable, under the digest of all sources of this folder: a function that calls one
of another file must not outlive a change there.
"""

from __future__ import annotations

import hashlib
import threading
import weakref
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

# The library types less than we use: its inner parts are reached on purpose, for the pinned version.
_numba: Any = import_module("numba")
_caching: Any = import_module("numba.core.caching")
_codegen: Any = import_module("numba.core.codegen")
_registry: Any = import_module("numba.core.registry")
_KNOWN_INSIDE = "0.68."

Function = TypeVar("Function", bound=Callable[..., Any])


@cache
def _digest_of_sources() -> str:
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


class _BySources:
    """Instead of the one file's stamp: that of all files here."""

    def get_source_stamp(self) -> str:
        return _digest_of_sources()


class _Given(_BySources, _caching.UserProvidedCacheLocator): ...


class _BesideSource(_BySources, _caching.InTreeCacheLocator): ...


class _OfUser(_BySources, _caching.UserWideCacheLocator): ...


class _Cache(_caching.FunctionCache):
    class _impl_class(_caching.CompileResultCacheImpl):
        _locator_classes = [_Given, _BesideSource, _OfUser]


def _cached(made: Any) -> Any:
    with suppress(RuntimeError):  # nowhere to keep it: compiled anew in each process
        made._cache = _Cache(made.py_func)
    return made


def _plain(kind: Any) -> Any:
    """One machine version for every width of whole number, and none for each literal."""
    return (
        _numba.types.int64
        if isinstance(_numba.types.unliteral(kind), _numba.types.Integer)
        else _numba.types.unliteral(kind)
    )


class _Inner(threading.local):
    """Whether a function is being compiled for the sake of another one that calls it."""

    depth = 0


_inner = _Inner()
_optimize, _emit = _codegen.JITCodeLibrary._optimize_final_module, _codegen.JITCodeLibrary._finalize_final_module
_set_env = _codegen.JITCPUCodegen.set_env


def _optimize_outermost(library: Any) -> None:
    """The library optimizes a function with all that it calls, again for every caller; once at the end is enough."""
    if not _inner.depth:
        _optimize(library)


def _emit_outermost(library: Any) -> None:
    """Nor does a function need machine code of its own when it only becomes a part of its callers."""
    if not _inner.depth:
        _emit(library)
        return
    library._finalize_dynamic_globals()
    library._final_module.__library = weakref.proxy(library)
    library._finalized = True


def _set_env_of_outermost(codegen: Any, name: str, env: Any) -> None:
    """A function without machine code of its own has no place for its constants either."""
    if not _inner.depth:
        _set_env(codegen, name, env)


if _numba.__version__.startswith(_KNOWN_INSIDE):  # another version compiles as well, in three times as long
    _codegen.JITCPUCodegen.set_env = _set_env_of_outermost
    _codegen.JITCodeLibrary._optimize_final_module = _optimize_outermost
    _codegen.JITCodeLibrary._finalize_final_module = _emit_outermost


def compiled(function: Function) -> Function:
    """The function in machine code, to be called by compiled functions only."""
    made: Any = _numba.njit(nogil=True, _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True)(function)
    template = made.get_call_template

    def plain_template(args: tuple[Any, ...], named: dict[str, Any]) -> Any:
        _inner.depth += 1
        try:
            return template(tuple(map(_plain, args)), {name: _plain(kind) for name, kind in named.items()})
        finally:
            _inner.depth -= 1

    made.get_call_template = plain_template
    return made


def compiled_entry(function: Function) -> Function:
    """The function in machine code, kept for later processes, to be called from Python. It holds no lock of the
    interpreter, so that searches run side by side."""
    return _cached(_numba.njit(nogil=True, _nrt=False, no_cfunc_wrapper=True)(function))


def may_be_on_disk(entry: object) -> bool:
    """Whether there is a place where what is made of an entry can be kept."""
    return isinstance(getattr(entry, "_cache", None), _Cache)


def is_on_disk(entry: Any) -> bool:
    """Whether machine code of an entry, made from these sources for this machine, is kept."""
    if not may_be_on_disk(entry):
        return False
    machine = _registry.cpu_target.target_context.codegen().magic_tuple()
    with suppress(OSError, ValueError, EOFError):  # written at this moment, or damaged: compiled anew
        return any(key[1] == machine for key in entry._cache._cache_file._load_index())
    return False
