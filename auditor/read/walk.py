"""Walking over a card: every file under a path, rings and devices left aside.

Rules for links, so that a card is read once and nothing outside it by accident:

- a path given by the user is followed wherever it leads;
- a link to a folder inside is not followed: what lies on the card is found by its own name, and
  what lies elsewhere is not of this card. Rings therefore cannot be;
- a link to a file is followed, and told once where the file itself is found too.

Folders that hide (trash, indexes) are not entered. All that is left aside is counted.
"""

from __future__ import annotations

import errno
import os
import stat
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path, PurePath

from auditor.read.failures import failure_of
from auditor.read.kinds import RAW_SUFFIXES
from auditor.words import unread

HIDDEN_FOLDERS = frozenset({"$recycle.bin", "system volume information"})

LINK_TO_FOLDER = "(link to a folder)"
LINK_TO_NOTHING = "(link to nothing)"
HIDDEN_FOLDER = "(hidden folder)"
NO_FILE = "(device, pipe or socket)"
AGAIN = "(the same file again)"
NO_SUFFIX = "(no suffix)"


@dataclass(frozen=True, slots=True)
class Sighting:
    """A file seen on the way.

    Parameters
    ----------
    relative : str
        To the path it was found under, "/"-separated, real (not made visible).
    real : str
        Where it truly lies, links resolved.
    asked : bool
        The user named this very file.
    """

    input_index: int
    path: str
    relative: str
    real: str
    is_link: bool = False
    asked: bool = False

    @property
    def folder(self) -> tuple[int, str]:
        """The folder it lies in, told apart from the same name under another path."""
        return self.input_index, self.relative.rpartition("/")[0]

    @property
    def name(self) -> str:
        """Its own name."""
        return self.relative.rpartition("/")[2]

    @property
    def suffix(self) -> str:
        """Its suffix with the dot, in lower case; empty where it has none."""
        return PurePath(self.name).suffix.lower()


@dataclass(slots=True)
class Walk:
    """What one or more walks have seen.

    Parameters
    ----------
    problems : list of tuple
        (input index, relative path, failure code, message).
    """

    files: list[Sighting] = field(default_factory=list)
    problems: list[tuple[int, str, str, str]] = field(default_factory=list)
    passed_over: Counter[str] = field(default_factory=Counter)

    def problem(self, input_index: int, relative: str, code: str, message: str) -> None:
        """Note something that could not be read."""
        self.problems.append((input_index, relative, code, message))


@dataclass(frozen=True, slots=True)
class _Folder:
    """A folder on the way, and where it lies under the path given ("" for that path itself)."""

    input_index: int
    path: str
    relative: str

    def below(self, name: str) -> str:
        """Return the relative path of something in it."""
        return f"{self.relative}/{name}" if self.relative else name


def walk_path(walk: Walk, input_index: int, path: str) -> None:
    """Add every file under one path, or the path itself where it is a file.

    Parameters
    ----------
    path : str
        Known to exist.
    """
    if not Path(path).is_dir():
        real = os.path.realpath(path)
        walk.files.append(Sighting(input_index, path, Path(path).name, real, asked=True))
        return
    waiting = [_Folder(input_index, path, "")]
    while waiting:
        folder = waiting.pop()
        try:
            with os.scandir(folder.path) as scan:
                entries = list(scan)
        except OSError as error:
            why = failure_of(error)
            where = folder.relative or Path(folder.path).absolute().name
            told = unread.NOT_LISTED.format(why=why.message)
            walk.problem(folder.input_index, where, why.code, told)
            continue
        real = os.path.realpath(folder.path)
        for entry in entries:
            try:
                is_folder = entry.is_dir(follow_symlinks=False)
            except OSError:
                is_folder = False
            if not is_folder:
                _note(walk, folder, entry, real)
            elif hides(entry.name):
                walk.passed_over[HIDDEN_FOLDER] += 1
            else:
                below = folder.below(entry.name)
                waiting.append(_Folder(folder.input_index, entry.path, below))


def hides(name: str) -> bool:
    """Tell a folder that is not entered by its name."""
    return name.startswith(".") or name.casefold() in HIDDEN_FOLDERS


def _note(walk: Walk, folder: _Folder, entry: os.DirEntry[str], real_folder: str) -> None:
    is_link = entry.is_symlink()
    real = os.path.realpath(entry.path) if is_link else str(Path(real_folder, entry.name))
    seen = Sighting(folder.input_index, entry.path, folder.below(entry.name), real, is_link)
    try:
        mode = entry.stat().st_mode
    except OSError as error:
        if seen.suffix not in RAW_SUFFIXES:
            walk.passed_over[LINK_TO_NOTHING if is_link else seen.suffix or NO_SUFFIX] += 1
        else:
            nowhere = is_link and error.errno == errno.ENOENT
            why = unread.LINK_TO_NOTHING.error() if nowhere else failure_of(error)
            walk.problem(seen.input_index, seen.relative, why.code, why.message)
        return
    if stat.S_ISREG(mode):
        walk.files.append(seen)
    else:
        walk.passed_over[LINK_TO_FOLDER if stat.S_ISDIR(mode) else NO_FILE] += 1


def without_repeats(walk: Walk) -> list[Sighting]:
    """Return each file once: the file itself before links to it, earlier paths before later."""
    ordered = sorted(walk.files, key=lambda seen: (seen.is_link, seen.input_index))
    kept: dict[str, Sighting] = {}
    for seen in ordered:
        if kept.setdefault(seen.real, seen) is not seen:
            walk.passed_over[AGAIN] += 1
    return list(kept.values())
