"""Standard output and error that a closed pipe, a full disk or an old encoding does not stop.

What is told there is the lesser part of a command: the reports are written all the same.
"""

from __future__ import annotations

import codecs
import errno
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO, cast

CLOSED_PIPE = frozenset({errno.EPIPE, errno.ESHUTDOWN})
PLAIN = str.maketrans({
    "−": "-", "–": "-", "×": "x", "·": "*", "…": "...", "“": '"', "”": '"', "‘": "'", "’": "'",
    "²": "^2", "°": " deg", "±": "+/-", "µ": "u", "⅓": "1/3", "⅔": "2/3", "′": "'", "″": '"',
    "≤": "<=", "≥": ">=",
})  # fmt: skip
"""Signs that this program prints, for a terminal whose encoding lacks them."""


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Write a sign in plain letters, or by its number: a minus must never be lost."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    part = error.object[error.start : error.end].translate(PLAIN)
    return part.encode("ascii", "backslashreplace").decode("ascii"), error.end


class _Outlet(io.RawIOBase):
    """Hands bytes on until the other end fails, and from then on takes them in silence."""

    def __init__(self, target: io.RawIOBase) -> None:
        self._target = target
        self.trouble: OSError | None = None

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._target.fileno()

    def isatty(self) -> bool:
        return self._target.isatty()

    def write(self, data: object, /) -> int | None:
        size = len(cast("memoryview", data))
        if self.trouble is not None:
            return size
        try:
            return self._target.write(cast("memoryview", data))
        except OSError as error:
            self.trouble = error
            return size


@contextmanager
def steady_streams() -> Iterator[list[OSError]]:
    """Put steady streams in place of standard output and error inside this block.

    Yields
    ------
    list of OSError
        After the block: why standard output could not be written, but for a pipe that its
        reader closed, who has all that was wanted.
    """
    codecs.register_error("auditor-plain", _plainly)
    lost: list[OSError] = []
    before = sys.stdout, sys.stderr
    outlets = [_steady(stream) for stream in before]
    sys.stdout, sys.stderr = outlets[0][0], outlets[1][0]
    try:
        yield lost
    finally:
        for stream, _ in outlets:
            if stream is not None:  # a program may be started without either
                stream.flush()
        sys.stdout, sys.stderr = before
        outlet = outlets[0][1]
        if outlet is not None and outlet.trouble is not None:
            lost += [] if outlet.trouble.errno in CLOSED_PIPE else [outlet.trouble]


def _steady(stream: TextIO) -> tuple[TextIO, _Outlet | None]:
    """Return a steady stream to where one leads, and its outlet; a stream of another kind as is."""
    try:
        stream.flush()
        os.fstat(stream.fileno())
        buffer = stream.buffer
    except (AttributeError, OSError, ValueError):
        return stream, None
    outlet = _Outlet(cast("io.RawIOBase", getattr(buffer, "raw", buffer)))
    steady = io.TextIOWrapper(
        io.BufferedWriter(outlet),
        encoding=stream.encoding,
        errors="auditor-plain",
        line_buffering=stream.isatty() or stream is sys.stderr,
    )
    return steady, outlet
