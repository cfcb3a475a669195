"""The shelf beside the store: large pictures in files, by the digest of the content they show.

They are made again from the raw files whenever they are missing, so nothing here is a fact, and
nothing is lost with it.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.model.large import LARGE_VERSION, KeptPicture, LargePicture, PicturePlace
from auditor.store.codec import CannotDecode, decode, encode

ROOM_BYTES = 8_000_000_000
"""For 20,000 frames. Beyond it the pictures longest unused go, but none of the audit at work."""

_DIGEST = re.compile(r"[0-9a-f]{16,128}")
_OURS = re.compile(r"\.?([0-9a-f]{16,128})-(v\d+(-[a-z]+\.jpg|\.record)|.*\.part)")
_Record = tuple[tuple[PicturePlace, int], ...]


@dataclass(frozen=True, slots=True)
class PictureShelf:
    """A folder of large pictures.

    Parameters
    ----------
    folder : Path
        Made when the first picture is put into it.
    """

    folder: Path
    room_bytes: int = ROOM_BYTES

    @classmethod
    def beside(cls, store: Path) -> PictureShelf:
        """Return the shelf of a store."""
        return cls(store.with_name(f"{store.name}-pictures"))

    def put(self, digest: str, pictures: Sequence[LargePicture]) -> None:
        """Put a content's pictures on the shelf, in place of others of it.

        The record comes last: without it, or where a file is not as long as it says, there are
        none.

        Raises
        ------
        CannotWrite
            The folder cannot be written, or the disk is full.
        """
        if not _DIGEST.fullmatch(digest):
            return
        for picture in pictures:
            write_bytes(self._picture(digest, picture.place), picture.jpeg, lasting=False)
        record = tuple((picture.place, len(picture.jpeg)) for picture in pictures)
        write_bytes(self._record(digest), encode(record), lasting=False)

    def get(self, digest: str) -> tuple[KeptPicture, ...] | None:
        """Return the pictures of a content; None where they are not all there."""
        if not _DIGEST.fullmatch(digest):
            return None
        try:
            record = decode(_Record, self._record(digest).read_bytes())
            kept = tuple(
                KeptPicture(place, self._picture(digest, place), size_bytes)
                for place, size_bytes in record
            )
            whole = all(one.path.stat().st_size == one.size_bytes for one in kept)
        except (OSError, CannotDecode):
            return None
        return kept if whole else None

    def note_used(self, digests: Iterable[str]) -> None:
        """Note which contents an audit has used."""
        for digest in digests:
            with contextlib.suppress(OSError):
                os.utime(self._record(digest))

    def prune(self, used: Collection[str]) -> None:
        """Where there is no more room, let go what was longest unused.

        Parameters
        ----------
        used : collection of str
            Contents of the audit at work: these stay, or the next one would make them again.
        """
        groups: dict[str, list[tuple[Path, os.stat_result]]] = {}
        for digest, path, told in self._files():
            groups.setdefault(digest, []).append((path, told))
        last = {digest: max(told.st_mtime for _, told in files) for digest, files in groups.items()}
        total = 0
        for digest in sorted(groups, key=last.__getitem__, reverse=True):
            files = groups[digest]
            total += sum(told.st_size for _, told in files)
            if total > self.room_bytes and digest not in used:
                for path, _ in files:
                    with contextlib.suppress(OSError):
                        path.unlink()

    def _files(self) -> Iterator[tuple[str, Path, os.stat_result]]:
        """Yield what lies on the shelf under a name that only this program gives."""
        with contextlib.suppress(OSError):
            folders = [one for one in self.folder.iterdir() if not one.is_symlink()]
            for path in (path for folder in folders for path in folder.iterdir()):
                ours, told = _OURS.fullmatch(path.name), path.lstat()
                if ours and stat.S_ISREG(told.st_mode):
                    yield ours[1], path, told

    def _stem(self, digest: str) -> Path:
        return self.folder / digest[:2] / f"{digest}-v{LARGE_VERSION}"

    def _record(self, digest: str) -> Path:
        return Path(f"{self._stem(digest)}.record")

    def _picture(self, digest: str, place: PicturePlace) -> Path:
        return Path(f"{self._stem(digest)}-{place.kind.value}.jpg")
