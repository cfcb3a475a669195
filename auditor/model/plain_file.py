"""Read a file that a user names, whatever it proves to be."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path


def read_plain(path: Path, most_bytes: int) -> bytes:
    """Return what a file holds; neither wait for a pipe nor read a device without end.

    Raises
    ------
    OSError
        It cannot be read, is no regular file, or holds more than ``most_bytes``;
        ``strerror`` says which.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(errno.EINVAL, "it is a folder, device or pipe", str(path))
    with os.fdopen(handle, "rb") as stream:
        content = stream.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise OSError(errno.EFBIG, "it is too large to be a file of this tool", str(path))
    return content
