"""Where a frame's sidecar lies, and never anywhere else.

The paths come from a marks file, which may have been made by anybody: nothing outside the
folder is looked at or written, and no name is ever written but one that ends in ``.xmp``.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Literal

from auditor.model.text import real_name, visible
from auditor.sidecar.marks import Marks
from auditor.words import sidecars

Naming = Literal["stem", "full"]
"""How a new sidecar is named: IMG.xmp or IMG.EXT.xmp."""

_SUFFIXES = (".xmp", ".XMP")
_KEPT_BESIDE = (".xmp", ".bak")


class Refused(Exception):
    """A sidecar is not written; the text says why."""


class NoFrame(Refused):
    """The frame is not under the folder."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where one frame's sidecar is or will be.

    Parameters
    ----------
    sidecar : Path
    frame : Path
        Where the frame itself is, or would be.
    others : tuple of Path
        Sidecars of the same frame by another name, which other programs keep.
    note : str
        What is worth knowing of it; may be empty.
    """

    sidecar: Path
    frame: Path
    others: tuple[Path, ...] = ()
    note: str = ""


class Folder:
    """The folder that holds the frames, or an empty one that collects their sidecars.

    Parameters
    ----------
    path : Path
    marks : Marks
        All marks: they tell which file names stand for one frame only.
    naming : {"stem", "full"}
        For sidecars that are not there yet.
    """

    def __init__(self, path: Path, marks: Marks, naming: Naming) -> None:
        self.path = path
        self.naming = naming
        self._real = path.resolve()
        # a folder that is empty but for sidecars and hidden files may collect them; one that
        # cannot be listed is not empty
        unlisted: list[OSError] = []
        self._collects = True
        for _folder, below, names in os.walk(path, onerror=unlisted.append):
            below[:] = [name for name in below if not name.startswith(".")]
            if any(not name.lower().endswith(_KEPT_BESIDE) for name in names if name[0] != "."):
                self._collects = False
                break
        self._collects &= not unlisted
        files = [PurePosixPath(real_name(mark.file)) for mark in marks.marks]
        self._heads = {part for file in files for part in file.parts[:-1]}
        marked = Counter(file.name.casefold() for file in files)
        self._shared = {name for name, times in marked.items() if times > 1}

    def place_of(self, file: str) -> Place:
        """Return where the sidecar of ``file`` belongs.

        Raises
        ------
        Refused
            The path leads out of the folder, or nothing of that name is in it.
        """
        # an audit writes out what hides in a name; a mark made by hand may not
        spellings = _safe_parts(real_name(file)), _safe_parts(file)
        for candidate in self._candidates(*spellings):
            frame = self.path.joinpath(*candidate)
            there = _sidecars_of(frame)
            if there or frame.is_file() or self._collects:
                name = frame.name if self.naming == "full" else frame.stem
                new = frame.with_name(name + _SUFFIXES[0])
                sidecar, *others = there or [new]
                self.check(sidecar)
                moved = "" if candidate in spellings else f"found as {visible('/'.join(candidate))}"
                beside = ", ".join(visible(path.name) for path in others)
                left = sidecars.STANDS_BESIDE.format(beside=beside) if others else ""
                note = "; ".join(filter(None, (moved, left)))
                return Place(sidecar, frame, tuple(others), note)
        raise NoFrame(sidecars.NO_SUCH_FILE)

    def sidecar_at(self, relative: str) -> Path:
        """Return a sidecar by its path under the folder; Refused where that leads elsewhere."""
        *parents, name = relative.split("/")
        if not name.lower().endswith(_SUFFIXES[0]):
            raise Refused(sidecars.NO_SIDECAR)
        sidecar = self.path.joinpath(*_safe_parts("/".join([*parents, name + "-"]))[:-1], name)
        self.check(sidecar)
        return sidecar

    def _candidates(self, *spellings: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        """Yield the path itself, the path from this folder on, or the bare name if it is unique.

        The bare name serves a flat copy of the card; not where the marks name this folder
        among others, for then it holds some of the frames and not those of its neighbours.
        """
        yield from spellings
        name = self._real.name
        guess = name not in self._heads and spellings[0][-1].casefold() not in self._shared
        for parts in spellings:
            if name in parts[:-1]:
                yield parts[parts.index(name) + 1 :]
            elif guess:
                yield parts[-1:]

    def check(self, sidecar: Path) -> None:
        """Refuse a sidecar that must not be written."""
        if not sidecar.parent.resolve().is_relative_to(self._real):
            raise Refused(sidecars.LINK_OUT)
        if sidecar.is_symlink():
            raise Refused(sidecars.SIDECAR_LINK)
        if sidecar.exists() and not sidecar.is_file():
            raise Refused(sidecars.NAME_TAKEN)
        # who may do everything is held by a lock on the file all the same
        locked = sidecar.exists() and not sidecar.stat().st_mode & 0o222
        if locked or (sidecar.exists() and not os.access(sidecar, os.W_OK)):
            raise Refused(sidecars.WRITE_PROTECTED)


def _sidecars_of(frame: Path) -> list[Path]:
    """Return the sidecars that are there; the one that names the whole file first."""
    names = [name + suffix for name in (frame.name, frame.stem) for suffix in _SUFFIXES]
    found: list[Path] = []
    for path in (frame.with_name(name) for name in names):
        # where case does not count two spellings name one file
        known = (
            path.exists()
            and not path.is_symlink()
            and any(one.exists() and path.samefile(one) for one in found)
        )
        if os.path.lexists(path) and not known:
            found.append(path)
    return found


def _safe_parts(file: str) -> tuple[str, ...]:
    """Split a relative path, refusing all that could lead elsewhere."""
    parts = tuple(file.split("/"))
    windows = PureWindowsPath(file)
    if any(part in ("", ".", "..") or "\0" in part for part in parts):
        raise Refused(sidecars.LEADS_AWAY)
    if windows.drive or windows.root or (os.name == "nt" and "\\" in file):
        raise Refused(sidecars.LEADS_AWAY)
    if parts[-1].lower().endswith(_KEPT_BESIDE):
        raise Refused(sidecars.SIDECAR_ITSELF)
    return parts
