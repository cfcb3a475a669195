"""Where a path lies on its medium: the same place by whatever name it is reached.

A folder may be mounted a second time elsewhere (a bind mount, one device at two points): no link
tells, and names differ. The system's table of mounts does (Linux, ``proc(5)``); elsewhere device
and inode of the folders on the way are compared.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

MOUNTS = Path("/proc/self/mountinfo")
_ESCAPE = re.compile(r"\\([0-7]{3})")


@dataclass(frozen=True, slots=True)
class _Mount:
    """One line of the table: a folder of a medium, and where it is to be found."""

    device: str
    root: PurePosixPath
    point: PurePosixPath


def lies_within(target: Path, folder: Path) -> bool:
    """Tell whether a path, which need not exist yet, is a folder or would lie in it.

    Parameters
    ----------
    target, folder : Path
        Links are followed, and mounts seen through.
    """
    real, holder = (Path(os.path.realpath(path)) for path in (target, folder))  # rings of links too
    if real == holder or holder in real.parents:
        return True
    identity = _identity(holder)
    if identity is not None and identity in map(_identity, (real, *real.parents)):
        return True
    mounts, table = [], ""
    with suppress(OSError):
        table = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
    for line in table.splitlines():
        fields = line.split(" ")
        if len(fields) > 4:
            root, point = (
                _ESCAPE.sub(lambda found: chr(int(found[1], 8)), field) for field in fields[3:5]
            )
            mounts.append(_Mount(fields[2], PurePosixPath(root), PurePosixPath(point)))
    device, inside = _on_medium(real, mounts)
    other, within = _on_medium(holder, mounts)
    return device is not None and device == other and inside.is_relative_to(within)


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return (found.st_dev, found.st_ino) if found.st_ino else None


def _on_medium(path: Path, mounts: list[_Mount]) -> tuple[str | None, PurePosixPath]:
    """Return the medium that a path lies on, and its path there; the latest of equal mounts."""
    place = PurePosixPath(path)
    holding = [mount for mount in mounts if place.is_relative_to(mount.point)]
    if not holding:
        return None, place
    deepest = max(enumerate(holding), key=lambda found: (len(found[1].point.parts), found[0]))[1]
    return deepest.device, deepest.root / place.relative_to(deepest.point)
