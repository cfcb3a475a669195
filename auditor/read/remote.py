"""Files that lie at a URL: object stores, web folders, archives, whatever fsspec opens.

The parent lists them and reads a few blocks of each; a worker reads one file at a time. fsspec
is imported only when a URL is given.
"""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any, BinaryIO
from urllib.parse import unquote

from auditor.model.errors import WrongCall
from auditor.model.text import public_address, without_secrets
from auditor.read.walk import HIDDEN_FOLDER, Sighting, Walk, hides
from auditor.words import calls

_LOCAL_ADDRESS = re.compile(r"(?:file|local)://(?:localhost(?=/))?(.*)", re.IGNORECASE)
_URL = re.compile(r"[a-z][a-z0-9+.-]*://", re.IGNORECASE)
_CHANGE_MARKS = ("mtime", "LastModified", "last_modified", "ETag", "etag", "created")


@dataclass(frozen=True, slots=True)
class RemoteFile:
    """An open file at a URL, with what its store tells of it.

    Parameters
    ----------
    changed : int
        A number that changes with the file, as far as the store tells.
    """

    stream: BinaryIO
    size_bytes: int
    changed: int


def is_url(path: str) -> bool:
    """Whether a path names something that fsspec opens rather than a file of this machine."""
    return _URL.match(path) is not None


def local_path(path: str) -> str:
    """Return the path that a ``file://`` or ``local://`` address names; any other as it is."""
    places = local_places(path)
    if not places or "::" in path:
        return path
    if len(places) == 1:
        return places[0]
    return next((place for place in places if os.path.exists(place)), places[0])  # noqa: PTH110


def local_places(path: str) -> list[str]:
    """Return every place of this machine that a path or an address may name.

    Of an address chained of several (an archive in a folder) the local parts; both as it is
    written and with its escapes undone, for programs write addresses either way.
    """
    if not is_url(path):
        return [path]
    names = [found[1] for part in path.split("::") if (found := _LOCAL_ADDRESS.fullmatch(part))]
    return list(dict.fromkeys(place for name in names for place in (name, unquote(name))))


def walk_url(walk: Walk, input_index: int, url: str) -> None:
    """Add every file under one URL, or the URL itself where it is a file.

    Raises
    ------
    WrongCall
        fsspec is missing, the URL cannot be understood, or nothing is there.
    """
    system, root = _system(url)
    try:
        found = [root] if system.isfile(root) else sorted(system.find(root))
        there = bool(found) or system.exists(root)
    except Exception as error:
        raise WrongCall(
            calls.NOT_LISTED.format(path=public_address(url), reason=reason_of(error))
        ) from error
    if not there:
        raise WrongCall(calls.NOTHING_THERE.format(path=public_address(url)))
    # the host is kept, and the archives it lies in; so is the query of a web address, which may
    # be what opens it
    first, chain, rest = url.partition("::")
    folder, mark, query = first.partition("?") if first.startswith("http") else (first, "", "")
    folder = folder.removesuffix("/")
    hidden: set[PurePosixPath] = set()
    top = public_address(root)  # some systems name files by whole addresses, query and all
    for path in found:
        asked = path == root
        below = public_address(path)[len(top) :].lstrip("/")
        inner = [*PurePosixPath(below).parents][-2::-1]  # from the outermost in, "." left out
        shut = next((part for part in inner if hides(part.name)), None)
        if shut is not None and not asked:
            hidden.add(shut)
            continue
        where = url if asked else f"{folder}/{below}{mark}{query}{chain}{rest}"
        name = PurePosixPath(top).name if asked else below
        real = f"{hash(system)}:{path}"  # the system stands for the host, which a path may lack
        walk.files.append(Sighting(input_index, where, name, real, asked=asked))
    if hidden:
        walk.passed_over[HIDDEN_FOLDER] += len(hidden)


@contextmanager
def open_url(url: str) -> Iterator[RemoteFile]:
    """Open one file at a URL for reading here and there.

    Raises
    ------
    OSError
        It cannot be read.
    """
    system, path = _system(url)
    try:
        info = system.info(path)
        with system.open(path, "rb") as stream:
            marks = "|".join(str(info[name]) for name in _CHANGE_MARKS if name in info)
            changed = zlib.crc32(marks.encode())
            yield RemoteFile(stream, int(info.get("size") or 0), changed)
    except (OSError, WrongCall):
        raise
    except Exception as error:
        raise OSError(reason_of(error)) from error


def _system(url: str) -> tuple[Any, str]:
    try:
        import fsspec  # noqa: PLC0415 - an extra, and slow to import
    except ImportError as error:
        raise WrongCall(calls.NO_FSSPEC.format(path=public_address(url))) from error
    try:
        system, root = fsspec.core.url_to_fs(url)
    except Exception as error:
        raise WrongCall(
            calls.NOT_UNDERSTOOD.format(path=public_address(url), reason=reason_of(error))
        ) from error
    return system, str(root).rstrip("/")


def reason_of(error: Exception) -> str:
    """Say in few words what an error was; addresses in it open nothing."""
    told = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return without_secrets(told)
