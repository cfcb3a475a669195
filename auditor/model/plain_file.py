"""Read a file that a user names, whatever it proves to be."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO


def open_plain(path: Path) -> BinaryIO:
    """Open a regular file for reading; a pipe or a device in its place is not waited for.

    Raises
    ------
    OSError
        It cannot be opened or is no regular file; ``strerror`` says which.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(errno.EINVAL, "it is a folder, device or pipe", str(path))
    return os.fdopen(handle, "rb")


def read_plain(path: Path, most_bytes: int) -> bytes:
    """Return what a file holds; neither wait for a pipe nor read a device without end.

    Raises
    ------
    OSError
        It cannot be read, is no regular file, or holds more than ``most_bytes``, which is
        known from its size before a byte is read; ``strerror`` says which.
    """
    with open_plain(path) as stream:
        large = os.fstat(stream.fileno()).st_size > most_bytes
        content = b"" if large else stream.read(most_bytes + 1)
    if large or len(content) > most_bytes:
        raise OSError(errno.EFBIG, "it is too large to be a file of this tool", str(path))
    return content
