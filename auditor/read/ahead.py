"""One reader that goes ahead of the workers, so that a slow card never waits for a decoder.

Each worker reads a file, then decodes it; while all of them decode, nobody reads. One reader that
takes the next files in order keeps a slow card busy without sending it to and fro; what it reads
the system's own memory keeps for the worker. Where reading takes the workers no time (a fast disk,
files read before) it stays idle.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from threading import Condition, Thread
from typing import Self

from auditor.read.content import open_file

SLOW_SHARE = 0.1
"""Of the workers' time spent reading, from which the reader goes ahead."""

_CHUNK_BYTES = 1 << 20


class ReadAhead:
    """Reads files before they are asked for; use it in a ``with`` block.

    Parameters
    ----------
    paths : sequence of str
        In the order in which they will be asked for.
    under_way : int
        So many of them are with the workers at any time: these it leaves to them.
    """

    def __init__(self, paths: Sequence[str], under_way: int) -> None:
        self._paths, self._under_way = paths, under_way
        self._ended, self._next = 0, 0
        self._slow = self._closed = False
        self._changed = Condition()
        self._thread = Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        """Start, idle."""
        self._thread.start()
        return self

    def __exit__(self, *_ended: object) -> None:
        """Stop; a read that hangs is waited for by nobody."""
        with self._changed:
            self._closed = True
            self._changed.notify()

    def ended(self, *, reading_share: float) -> None:
        """Note that one more file is done, and how much of the workers' time was reading."""
        with self._changed:
            self._ended += 1
            self._slow = reading_share >= SLOW_SHARE
            self._changed.notify()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._closed or self._may_read())
                if self._closed:
                    return
                self._next = max(self._next, self._ended + self._under_way)
                path = self._paths[self._next]
                self._next += 1
            self._read(path)

    def _may_read(self) -> bool:
        """Tell whether the next file is due: no further ahead than the workers hold."""
        first = self._ended + self._under_way
        place = max(self._next, first)
        return self._slow and place < min(len(self._paths), first + self._under_way)

    def _read(self, path: str) -> None:
        with suppress(OSError), open_file(path) as opened:  # the worker will tell what is wrong
            while opened is not None and opened.stream.read(_CHUNK_BYTES) and not self._closed:
                pass
