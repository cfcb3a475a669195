"""What an audit leaves in the reports' folder to be known by: of which shoot, which files, of what.

By it a later audit tells its own folder from another's, its files from somebody else's, and what
has changed since from what need not be made again.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass, field
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.model.plain_file import read_plain

RECORD = ".auditor.json"
LARGEST_BYTES = 64 << 20
PIECE_BYTES = 1 << 20
_LETTERS = 24

Shoot = tuple[tuple[str, str], ...]
"""Name and key of each frame; the key is empty for one that could not be measured."""


@dataclass(frozen=True, slots=True)
class Left:
    """One file of an earlier audit.

    Parameters
    ----------
    format : str
        The reporter that made it.
    made_of : str
        A digest of all it was made of; empty where it is made anew each time.
    content : str
        A digest of what was written; empty until it was.
    """

    format: str
    made_of: str = ""
    content: str = ""


@dataclass(slots=True)
class FolderRecord:
    """The record of one folder of reports.

    Parameters
    ----------
    files : dict
        Path relative to the folder, "/"-separated, to what is known of that file.
    """

    folder: Path
    shoot: Shoot = ()
    files: dict[str, Left] = field(default_factory=dict)

    def still_holds(self, name: str, made_of: str) -> bool:
        """Whether a file is there, as it was written, and made of the very same."""
        left = self.files.get(name)
        if not made_of or left is None or left.made_of != made_of:
            return False
        return self.has(name, left.content)

    def has(self, name: str, content: str) -> bool:
        """Whether a file that an audit wrote is there and holds what has that digest."""
        try:
            return name in self.files and digest_of_file(self.folder / name) == content
        except OSError:
            return False

    def formats(self) -> tuple[str, ...]:
        """Return the formats of which a file still stands here, in order."""
        standing = (
            one.format for name, one in self.files.items() if (self.folder / name).is_file()
        )
        return tuple(dict.fromkeys(standing))

    def save(self) -> None:
        """Write the record into the folder.

        Raises
        ------
        CannotWrite
            It cannot be written.
        """
        files = {
            name: [left.format, left.made_of, left.content] for name, left in self.files.items()
        }
        plain = {"made_by": "exposure-auditor", "shoot": self.shoot, "files": files}
        write_bytes(self.folder / RECORD, json.dumps(plain, indent=0).encode("ascii"))


def load_record(folder: Path) -> FolderRecord | None:
    """Return the record of a folder; None where there is none that can be understood."""
    try:
        plain = json.loads(read_plain(folder / RECORD, LARGEST_BYTES))
        shoot = tuple((str(name), str(key)) for name, key in plain["shoot"])
        files = {
            str(name): Left(*(str(part) for part in parts))
            for name, parts in plain["files"].items()
        }
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    return FolderRecord(folder, shoot, files)


def digest(*parts: bytes | str) -> str:
    """Return one digest of several contents, in order."""
    whole = hashlib.sha256()
    for part in parts:
        content = part.encode("utf-8", "surrogateescape") if isinstance(part, str) else part
        whole.update(len(content).to_bytes(8, "little") + content)
    return whole.hexdigest()[:_LETTERS]


def digest_of_file(path: Path) -> str:
    """Return :func:`digest` of what a file holds; no memory holds it whole.

    Raises
    ------
    OSError
        It cannot be read.
    """
    with path.open("rb") as stream:
        size = os.fstat(stream.fileno()).st_size
        whole = hashlib.sha256(size.to_bytes(8, "little"))
        while piece := stream.read(PIECE_BYTES):
            whole.update(piece)
    return whole.hexdigest()[:_LETTERS]


def same_shoot(old: Shoot, new: Shoot) -> bool:
    """Whether an audit may take another's place: half of the old frames or more are in the new.

    A frame that one of the two could not measure goes by its name alone; but names alone, which
    every card begins anew, never make an audit without measurements the successor of one that
    has some.
    """
    keys: dict[str, set[str]] = {}
    for name, key in new:
        keys.setdefault(name, set()).add(key)
    shared = [(key, keys[name]) for name, key in old if name in keys]
    certain = [key in there for key, there in shared if key and there != {""}]
    if not any(certain) and (certain or any(key for _, key in old)):
        return False
    unlike = certain.count(False)
    return 2 * unlike <= len(certain) and 2 * (len(shared) - unlike) >= len(old)
