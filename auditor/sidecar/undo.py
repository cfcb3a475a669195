"""One backup a run: what every sidecar held before, so that the run can be taken back.

A run's backup is one file under ``.auditor-undo`` in the folder, a line for each sidecar, on the
medium before the sidecar itself is changed: a run that was stopped or killed can be undone too.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from auditor.model.errors import WrongCall
from auditor.model.plain_file import read_plain
from auditor.words import calls, sidecars

FOLDER = ".auditor-undo"
_SUFFIX = ".jsonl"
LARGEST_BYTES = 1 << 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One sidecar that a run changed.

    Parameters
    ----------
    sidecar : str
        Relative to the folder, "/"-separated (hostile until checked).
    before : bytes or None
        None where it was not there.
    after : str
        Digest of what the run wrote.
    """

    sidecar: str
    before: bytes | None
    after: str


class Backup:
    """The backup of one run; its file is made with the first change."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._stream: BinaryIO | None = None

    def keep(self, sidecar: Path, before: bytes | None, after: bytes) -> None:
        """Put on the medium what a sidecar holds, before it is changed; OSError if that fails."""
        if self._stream is None:
            place = self._folder / FOLDER
            if place.is_symlink():
                raise OSError(0, f"{FOLDER} is a link")
            place.mkdir(exist_ok=True)
            number = max((_number(run) for run in _runs(self._folder)), default=0) + 1
            while self._stream is None:
                with contextlib.suppress(FileExistsError):  # of another run at the same time
                    self._stream = (place / f"{number:04d}{_SUFFIX}").open("xb")
                number += 1
        line = {
            "sidecar": sidecar.relative_to(self._folder).as_posix(),
            "before": None if before is None else base64.b64encode(before).decode(),
            "after": digest(after),
        }
        self._stream.write(json.dumps(line).encode() + b"\n")
        self._stream.flush()
        os.fsync(self._stream.fileno())

    def close(self, *, of_use: bool) -> None:
        """Close the file, if one was made; where no sidecar was changed after all it goes."""
        if self._stream is not None:
            self._stream.close()
            if not of_use:
                Path(self._stream.name).unlink(missing_ok=True)


def last_run(folder: Path) -> tuple[Path, list[Change]]:
    """Return the latest run's backup and its changes, the last change first.

    Raises
    ------
    WrongCall
        There is none, or it cannot be read.
    """
    runs = _runs(folder)
    if not runs:
        raise WrongCall(sidecars.NOTHING_TO_UNDO.format(path=folder))
    try:
        content = read_plain(runs[-1], LARGEST_BYTES)
    except OSError as error:
        raise WrongCall(calls.NOT_READ.format(path=runs[-1], reason=error.strerror)) from error
    changes = []
    for line in content.splitlines():
        try:
            table = json.loads(line)
            before = table["before"]
            kept = None if before is None else base64.b64decode(before, validate=True)
            sidecar, after = str(table["sidecar"]), str(table["after"])
        except (ValueError, KeyError, TypeError, RecursionError, binascii.Error):
            continue  # a kill left a part of a line, whose change never began
        changes.append(Change(sidecar=sidecar, before=kept, after=after))
    return runs[-1], changes[::-1]


def digest(content: bytes) -> str:
    """Return the SHA-256 of a sidecar's bytes."""
    return hashlib.sha256(content).hexdigest()


def _runs(folder: Path) -> list[Path]:
    return sorted((folder / FOLDER).glob(f"*[0-9]{_SUFFIX}"), key=_number)


def _number(run: Path) -> int:
    return int(run.stem) if run.stem.isascii() and run.stem.isdigit() else 0
