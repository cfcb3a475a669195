"""Replies on their way from a worker. Whoever takes them waits for no rest of one."""

from __future__ import annotations

import os
import struct
from contextlib import suppress
from multiprocessing.connection import Connection

_LENGTH = struct.Struct("!Q")

_COME_WHOLE = os.name == "nt"
"""Windows keeps a message together: once its beginning can be read, so can all of it."""


def send_reply(pipe: Connection, reply: bytes) -> None:
    """Send a reply behind its length, and wait until all of it is in the pipe."""
    if _COME_WHOLE:
        pipe.send_bytes(reply)
        return
    with open(pipe.fileno(), "wb", closefd=False) as stream:
        stream.write(_LENGTH.pack(len(reply)))
        stream.write(reply)


class Replies:
    """The replies of one worker, gathered as they come.

    Parameters
    ----------
    pipe : Connection
        The end to read from, which no other process holds: reading from it never waits.
    """

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe
        self._come = bytearray()
        if not _COME_WHOLE:
            os.set_blocking(pipe.fileno(), False)

    def take(self) -> bytes | None:
        """Take what has come; return a reply once all of it is there.

        Raises
        ------
        EOFError, OSError
            There will be no more.
        """
        if _COME_WHOLE:
            return self._pipe.recv_bytes()
        with suppress(BlockingIOError):
            while missing := self._missing():
                part = os.read(self._pipe.fileno(), missing)
                if not part:
                    raise EOFError
                self._come += part
            reply = bytes(memoryview(self._come)[_LENGTH.size :])
            self._come = bytearray()
            return reply
        return None

    def _missing(self) -> int:
        """Return how many bytes more may be read: of the length, then of the reply behind it."""
        come = len(self._come) - _LENGTH.size
        return -come if come < 0 else _LENGTH.unpack_from(self._come)[0] - come
