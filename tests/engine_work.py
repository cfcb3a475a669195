"""Work for engines to do: some of it as bad as a raw file can be."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NoReturn

from auditor.model.errors import UnreadableFile

MIB = 1 << 20


@dataclass(frozen=True)
class Job:
    """What to do and with which number."""

    kind: str
    number: int = 0
    path: str = ""


def work(job: Job) -> Any:
    """Do the job; an honest one returns ten times its number."""
    return KINDS[job.kind](job)


def honest(job: Job) -> int:
    return 10 * job.number


def slow(job: Job) -> int:
    time.sleep(0.05)
    return 10 * job.number


def segfault(job: Job) -> NoReturn:
    ctypes.string_at(0)
    raise AssertionError("reading address 0 ought to have ended this process")


def loop(*_job: object) -> NoReturn:
    while True:
        pass


def stuck_in_c(job: Job) -> NoReturn:
    """Hold the interpreter's lock within one C call, as a looping decoder may."""
    while True:
        sum(range(10**12))


def eat(job: Job) -> int:
    return len(bytearray(64 * 1024 * MIB))


def eat_bit_by_bit(job: Job) -> int:
    hoard = []
    while True:
        hoard.append(bytearray(8 * MIB))


def big(job: Job) -> int:
    """Take a fair amount, below the ceiling."""
    return 10 * job.number + 0 * len(bytearray(64 * MIB))


def huge_answer(job: Job) -> bytes:
    return bytes(200 * MIB)


def unreadable(job: Job) -> NoReturn:
    raise UnreadableFile("cut-off", "The file ends before its picture does.")


def fault(job: Job) -> NoReturn:
    raise ZeroDivisionError("a fault\nover two lines")


def leave(job: Job) -> NoReturn:
    sys.exit(3)


def vanish(*_job: object) -> NoReturn:
    os._exit(7)


def killed_once(job: Job) -> int:
    """Be killed from outside the first time, as when the machine runs out of memory."""
    try:
        os.close(os.open(job.path, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return 10 * job.number
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError("still alive")


def killed_always(job: Job) -> NoReturn:
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError("still alive")


def unpicklable(job: Job) -> object:
    return lambda: job


def process_id(job: Job) -> int:
    return os.getpid()


def wait_for(job: Job) -> int:
    """Wait until another has made a file."""
    while not os.path.exists(job.path):  # noqa: PTH110 - quick
        time.sleep(0.01)
    return job.number


def make(job: Job) -> int:
    os.close(os.open(job.path, os.O_CREAT))
    return job.number


def zeros(job: Job) -> bytes:
    return bytes(job.number)


def echo(job: Job) -> str:
    return job.path


def threads(job: Job) -> int:
    return int(os.environ["OMP_NUM_THREADS"]) * int(os.environ["OPENBLAS_NUM_THREADS"])


KINDS: dict[str, Callable[[Job], Any]] = {
    name: function
    for name, function in list(globals().items())
    if callable(function)
    and getattr(function, "__module__", "") == __name__
    and name not in ("Job", "work")
}
