"""Ending when asked to: in good order where that is possible, within seconds in any case.

A wish to end becomes the interrupt key, so that what is measured is kept and no files lie about.
But no handler runs while a library stays in its own code, and some stay for ever. So a second
process stands by: the system itself writes each signal's number into a pipe, and whoever asked for
an end and has not got it in time gets it from there.
"""

from __future__ import annotations

import os
import select
import signal
import time
from contextlib import suppress
from typing import NoReturn

ENDS_WITHIN_S = 4.5
"""After SIGTERM; those who stop services commonly wait for five to ten seconds."""

_ENDING = ("SIGTERM", "SIGHUP")


def end_in_good_order() -> None:
    """Let a wish to end be the interrupt key, and make sure of the end."""
    for name in _ENDING:
        number = getattr(signal, name, None)  # not every system has both
        # what is ignored stays so: that is how a command outlives its terminal
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, signal.default_int_handler)
            if number == signal.SIGTERM and hasattr(os, "fork"):
                _post_a_guard()


def _post_a_guard() -> None:
    """Start the process that stands by; it ends with this one."""
    heard, told = os.pipe()
    own = os.getpid()
    # nothing heavy is imported yet and no thread started: a copy of this process is small and safe
    try:
        guard = os.fork()
    except OSError:  # no room for a process: the end is then in good order or not at all
        os.close(heard)
        os.close(told)
        return
    if guard == 0:
        os.close(told)
        _stand_by(heard, own)
    os.close(heard)
    os.set_blocking(told, False)
    signal.set_wakeup_fd(told, warn_on_full_buffer=False)


def _stand_by(heard: int, guarded: int) -> NoReturn:
    """End the guarded process where it was asked to end and has not; then end too."""
    for name in (*_ENDING, "SIGINT"):
        signal.signal(getattr(signal, name), signal.SIG_IGN)  # sent to the group, meant for it
    for stream in (0, 1, 2):
        with suppress(OSError):  # or whoever reads its output would wait for this one too
            os.close(stream)
    with suppress(OSError):
        asked = False
        while not asked:
            numbers = os.read(heard, 64)
            if not numbers:
                os._exit(0)  # it has ended by itself
            asked = signal.SIGTERM in numbers
        until = time.monotonic() + ENDS_WITHIN_S
        while (left := until - time.monotonic()) > 0:
            if select.select([heard], [], [], left)[0] and not os.read(heard, 64):
                os._exit(0)
        if os.getppid() == guarded:  # and no other process that has its number by now
            os.kill(guarded, signal.SIGKILL)
    os._exit(0)
