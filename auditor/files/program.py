"""Tells the very program that runs from any other version of it, edited ones included."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from functools import cache
from importlib.metadata import entry_points, version
from pathlib import Path

import auditor

_LIBRARIES = ("numpy", "scipy", "ephem", "pillow")
_PARTS = (".py", ".js", ".css", ".j2", ".json")


@cache
def program_digest() -> str:
    """Return a digest of the size and time of each file of the program, and of its libraries."""
    parts = sorted(_parts(str(Path(auditor.__file__).parent), ""))
    libraries = [version(name) for name in _LIBRARIES]
    added = [
        (point.name, point.value, point.dist.version if point.dist else "")
        for group in ("auditor.findings", "auditor.formats")
        for point in sorted(entry_points(group=group), key=lambda point: point.name)
    ]
    return hashlib.sha256(json.dumps([parts, libraries, added]).encode("ascii")).hexdigest()


def _parts(folder: str, above: str) -> Iterator[tuple[str, int, int]]:
    """Yield name, size and time of each file: five times as fast as by way of paths."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir():
                yield from _parts(entry.path, f"{above}{entry.name}/")
            elif entry.name.endswith(_PARTS):
                stat = entry.stat()
                yield f"{above}{entry.name}", stat.st_size, stat.st_mtime_ns
