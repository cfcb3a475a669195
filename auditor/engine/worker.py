"""What runs inside a worker process. Light to import: every new worker pays for it."""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import signal
from collections.abc import Iterator
from functools import cache
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from auditor.engine.failures import Limits, internal, out_of_memory
from auditor.engine.replies import send_reply
from auditor.files.packing import pack
from auditor.model.errors import FrameFailure, UnreadableFile
from auditor.model.faults import trace_of

ONE_THREAD = (
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "NUMEXPR_NUM_THREADS",
)
"""There is a worker for each core already: threads inside them only get in each other's way."""

_MIB = 1 << 20
_GIB = 1 << 30
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3  # glibc's numbers, malloc.h


def prepare() -> None:
    """Make a new worker fit for work: called once, before anything heavy is imported."""
    for name in ONE_THREAD:
        os.environ[name] = "1"
    # The parent decides when work stops. A worker deep in a decoder must still end at once.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    with contextlib.suppress(ImportError, OSError, ValueError):  # a crash leaves no core file
        import resource  # noqa: PLC0415 - absent on Windows

        _, hard = resource.getrlimit(resource.RLIMIT_CORE)
        resource.setrlimit(resource.RLIMIT_CORE, (0, hard))
    # The memory of one frame is used again for the next. Given back to the system, it would have
    # to be asked for and zeroed page by page each time: a sixteenth of the work on a large frame.
    _Kept.memory = _set_malloc(_MMAP_THRESHOLD, _GIB) and _set_malloc(_TRIM_THRESHOLD, _GIB)


def serve(tasks: Connection, replies: Connection, limits: Limits) -> None:
    """Do tasks as they come, until nobody is left to send them; first say that this has begun."""
    prepare()
    with contextlib.suppress(EOFError, OSError):
        send_reply(replies, b"")
        while True:
            send_reply(replies, call(tasks.recv_bytes(), limits))


def call(packed: bytes, limits: Limits) -> bytes:
    """Run one task and pack its reply, whatever happens.

    Parameters
    ----------
    packed : bytes
        Pickle of (function, task). Unpacked here, so that a function that cannot be imported
        costs its task and not the worker.
    limits : Limits

    Returns
    -------
    bytes
        Pickle of (value, None, "") or (None, FrameFailure, traceback of a fault of ours). Packed
        here, so that a value too large to send counts against the memory ceiling.
    """
    try:
        with _alarm(limits.alarm_s):
            function, task = pickle.loads(packed)
            _set_ceiling(limits.memory_limit_mb)
            return pack((function(task), None, ""))
    except BaseException as error:
        failure = failure_of(error, limits)
        trace = trace_of(error) if failure.code == "internal" else ""
        return pack((None, failure, trace))


def failure_of(error: BaseException, limits: Limits) -> FrameFailure:
    """Turn what a task raised into what is told of it."""
    if isinstance(error, UnreadableFile):
        return FrameFailure(error.code, error.message)
    if isinstance(error, MemoryError):
        return out_of_memory(limits)
    return internal(error)


class _Ceiling:
    """The ceiling counts from the idle size, known once the work's modules are imported."""

    is_set = False


def _set_ceiling(memory_limit_mb: int) -> None:
    if _Ceiling.is_set:
        return
    _Ceiling.is_set = True
    # Neither Windows nor macOS has both parts; there the time limit alone must do.
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415 - absent on Windows

        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        wanted = pages * resource.getpagesize() + memory_limit_mb * _MIB
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


class _Kept:
    memory = False


@contextlib.contextmanager
def apart() -> Iterator[bool]:
    """Take large memory meanwhile from the system, and let it have that back as soon as it is free.

    Yields whether this process keeps its memory for the next frame at all.

    For the bytes of a file, whose place is kept and grows: among other memory it could not grow
    where it is, and what it left would be too small for the next file, or would take the room of
    its pixels: a quarter of a worker's peak.
    """
    if not _Kept.memory:
        yield False
        return
    _set_malloc(_MMAP_THRESHOLD, _MIB)
    try:
        yield True
    finally:
        _set_malloc(_MMAP_THRESHOLD, _GIB)


def give_back() -> None:
    """Let the system have all memory that is free by now, where the library can (glibc)."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        _libc().malloc_trim(0)


def _set_malloc(name: int, value: int) -> bool:
    """Set what only glibc has; elsewhere the system's own way must do."""
    try:
        return bool(_libc().mallopt(name, value))
    except (OSError, AttributeError, TypeError):
        return False


@cache
def _libc() -> ctypes.CDLL:
    """Return the library, made once: each is a circle of objects, and lies where others could."""
    return ctypes.CDLL(None)


@contextlib.contextmanager
def _alarm(after_s: float) -> Any:
    """End this process by the kernel's own clock, should its parent be gone or stuck."""
    if not hasattr(signal, "setitimer"):
        yield
        return
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_REAL, after_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
