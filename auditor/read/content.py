"""One file, read once and in order: its bytes, their digest, and what the system said of it.

The bytes are read here and nowhere else, so that a read error of the medium is the system's own
(a decoder that reads for itself takes it for damaged data), and what is decoded is what was
digested. The system is asked before and after: bytes of which some were written meanwhile belong
to no content at all.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from io import RawIOBase
from typing import BinaryIO, cast

from auditor.model.arrays import FileBytes
from auditor.model.errors import WrongCall
from auditor.model.facts import FileLook
from auditor.read.failures import failure_of
from auditor.read.remote import is_url, open_url, reason_of
from auditor.words import unread

END_BYTES = 1 << 16
"""Of the beginning and of the end: what a quick look reads."""

KEY_LETTERS = 32
TRIES = 2


@dataclass(frozen=True, slots=True)
class OpenedFile:
    """A file open for reading.

    Parameters
    ----------
    place : str
        As in :class:`FileLook`.
    """

    stream: BinaryIO
    size_bytes: int
    place: str


@dataclass(frozen=True, slots=True, eq=False)
class FileContent:
    """What a file held when it was read.

    Parameters
    ----------
    digest : str
        Of all bytes: who the file is.
    """

    data: FileBytes
    digest: str
    look: FileLook


@contextmanager
def open_file(path: str) -> Iterator[OpenedFile | None]:
    """Open a file wherever it lies; None for what is no regular file.

    Raises
    ------
    OSError
        It cannot be read.
    """
    if is_url(path):
        with open_url(path) as remote:
            # a digest of the address: it may hold a password
            place = f"{digest_of(path.encode('utf-8', 'surrogateescape'))} {remote.changed}"
            yield OpenedFile(remote.stream, remote.size_bytes, place)
        return
    # a file may turn into a pipe between listing and opening: never wait for a writer
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb", buffering=0) as stream:
        found = os.fstat(handle)
        regular = stat.S_ISREG(found.st_mode)
        yield OpenedFile(stream, found.st_size, _place(found)) if regular else None


def has_changed(path: str, look: FileLook) -> bool:
    """Tell whether a file is another by now; False for what is gone, or lies at a URL."""
    if is_url(path):
        return False
    try:
        return _place(os.stat(path)) != look.place  # noqa: PTH116 - the name may be no text
    except OSError:
        return False


def _place(found: os.stat_result) -> str:
    # the time of a file's last change of any kind cannot be set back by a program
    parts = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
    return " ".join(str(part) for part in parts)


def look_at(opened: OpenedFile) -> FileLook:
    """Look at a file's two ends.

    Raises
    ------
    OSError
        They cannot be read.
    """
    blocks = []
    for offset in _offsets(opened.size_bytes):
        opened.stream.seek(offset)
        blocks.append(opened.stream.read(END_BYTES))
    return _look(opened.place, opened.size_bytes, blocks)


def _offsets(size: int) -> list[int]:
    return sorted({0, max(0, size - END_BYTES)})


def _look(place: str, size: int, blocks: Sequence[FileBytes]) -> FileLook:
    return FileLook(place, digest_of(size.to_bytes(8, "little") + b"".join(blocks)))


def digest_of(content: FileBytes) -> str:
    """Return the digest of bytes, as text."""
    return sha256(content).hexdigest()[:KEY_LETTERS]


def read_content(path: str, *, over_last: bool = False) -> FileContent:
    """Read a whole file, once more where it changed meanwhile.

    Parameters
    ----------
    over_last : bool
        Into the memory of the last file that was read so, whose bytes are gone then: for a process
        that takes one at a time. Memory of its own for each would have to be zeroed page by page,
        or would lie where chance leaves enough of it in one piece: where that does not suffice, a
        worker takes a quarter as much again.

    Raises
    ------
    UnreadableFile
        It cannot be read, is no file any more, or changes as often as it is read.
    """
    for _ in range(TRIES):
        try:
            content = _read(path, over_last)
        except OSError as error:
            raise failure_of(error) from error
        except WrongCall as error:
            raise unread.NOT_FETCHED.error(reason=reason_of(error)) from error
        if content is not None:
            return content
    raise unread.CHANGED.error()


class _Last:
    data = bytearray()


def _over_last(opened: OpenedFile) -> bytearray:
    try:
        _Last.data.append(0)  # refused while somebody still looks at them
        del _Last.data[opened.size_bytes :]
        _Last.data.extend(bytes(opened.size_bytes - len(_Last.data)))
    except BufferError:
        _Last.data = bytearray(opened.size_bytes)
    room, stream, at = _Last.data, cast(RawIOBase, opened.stream), 0
    with memoryview(room) as free:
        while got := stream.readinto(free[at:]):
            at += got
    del room[at:]
    room += opened.stream.read()  # what was written meanwhile
    return room


def _read(path: str, over_last: bool) -> FileContent | None:
    """Read a whole file; None where it changed meanwhile."""
    with open_file(path) as opened:
        if opened is None:
            raise unread.NO_FILE_ANY_MORE.error()
        data = _over_last(opened) if over_last and not is_url(path) else opened.stream.read()
        place, size = opened.place, len(data)
        if not is_url(path):
            place = _place(os.fstat(opened.stream.fileno()))
    if not data:
        raise unread.EMPTY.error()
    if (place, size) != (opened.place, opened.size_bytes):
        return None
    blocks = [data[offset : offset + END_BYTES] for offset in _offsets(size)]
    return FileContent(data, digest_of(data), _look(place, size, blocks))
