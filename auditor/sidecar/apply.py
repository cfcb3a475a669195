"""Write marks as sidecars: merged into what is there, whole or not at all.

What the words become (ISO 16684-1: ``xmp:Rating`` is -1 for rejected, 1 to 5 else):

======  ==========  =========
mark    xmp:Rating  xmp:Label
======  ==========  =========
keep    4           Keep
second  2           Second
drop    -1          Drop
======  ==========  =========

A note becomes ``dc:description``; the audit's reasons stand in our own namespace.
"""

from __future__ import annotations

import contextlib
import re
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.model.errors import CannotWrite, WrongCall
from auditor.model.plain_file import read_plain
from auditor.model.text import visible
from auditor.sidecar.marks import LONGEST_NOTE, MARK_WORDS, Mark, Marks
from auditor.sidecar.merge import Merge, Rules, merge
from auditor.sidecar.packet import LARGEST_BYTES, NEW_PACKET, BadPacket, read_packet
from auditor.sidecar.place import Folder, Naming, NoFrame, Place, Refused
from auditor.sidecar.undo import Backup, Change, digest, last_run
from auditor.words import sidecars

LONGEST_LABEL = 64

Embedded = Callable[[Path], bytes | None]
"""The XMP in a frame, None where it holds none; OSError where it cannot be read."""


@dataclass(frozen=True, slots=True)
class Applied:
    """What became of one mark.

    Parameters
    ----------
    frame, file : str
        As the marks file names them.
    action : str
        "created", "updated", "unchanged", "missing" (no such frame under the folder), "refused",
        or "not written" (stopped before it). In a dry run: what would be done. Of an undo:
        "restored", "removed", "unchanged" or "refused".
    sidecar : Path or None
    changes : tuple of str
        For example "rating 2 to 4"; hidden characters written out.
    reason : str
        Why it was refused or missing, or what is worth knowing.
    kept : tuple of str
        What was wanted and stays as others set it.
    """

    frame: str
    file: str
    action: str
    sidecar: Path | None = None
    changes: tuple[str, ...] = ()
    reason: str = ""
    kept: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ApplyReport:
    """What became of all marks, in the order of the marks file."""

    folder: Path
    dry_run: bool
    applied: tuple[Applied, ...]
    stopped: bool = False

    def count(self, action: str) -> int:
        """Return how many marks came to that end."""
        return sum(one.action == action for one in self.applied)

    @property
    def complete(self) -> bool:
        """Whether no mark was refused, none missed its frame and none was left unwritten."""
        return all(one.action not in ("refused", "missing", "not written") for one in self.applied)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """How the marks are to be written; see :func:`auditor.apply.apply_marks`."""

    rules: Rules = field(default_factory=Rules)
    dry_run: bool = False
    naming: Naming = "stem"
    only_input: int | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.naming not in ("stem", "full"):
            raise WrongCall(sidecars.STEM_OR_FULL)
        labels = self.rules.labels
        if len(labels) != len(MARK_WORDS) or len(set(labels)) != len(labels):
            raise WrongCall(sidecars.THREE_LABELS)
        if not all(label.strip() == label and 0 < len(label) <= LONGEST_LABEL for label in labels):
            raise WrongCall(sidecars.LABEL_LENGTH.format(most=LONGEST_LABEL))
        if not all(label.isprintable() for label in labels):
            raise WrongCall(sidecars.LABEL_UNSEEN)


def write_marks(marks: Marks, folder: Path, wish: Wish, embedded: Embedded) -> ApplyReport:
    """Write the marks as sidecars beside the frames under ``folder``.

    A frame is looked for by its path under the folder, by the part of its path from the
    folder's own name on, or, in a flat copy, by its name where only one frame has it. A folder
    that is empty but for sidecars collects them. The sidecar that is there is updated, be it
    IMG.xmp or IMG.EXT.xmp; where both are, the one that names the whole file. The interrupt key
    ends the work between two sidecars; the report tells which were written.
    """
    wanted = [mark for mark in marks.marks if wish.only_input in (None, mark.input + 1)]
    places = _places(wanted, Folder(folder, marks, wish.naming))
    desk = _Rehearsal() if wish.dry_run else _Desk(Backup(folder))
    both = list(zip(wanted, places, strict=True))
    applied: list[Applied] = []
    stopped = False
    try:
        for mark, place in both:
            applied.append(_carry_out(mark, place, wish.rules, desk, embedded))
    except KeyboardInterrupt:
        stopped = True
        for mark, place in both[len(applied) :]:
            now = _carry_out(mark, place, wish.rules, _Rehearsal(), embedded)
            if now.action in ("created", "updated"):
                now = _ended(mark, "not written", "", now.sidecar)
            elif now.action == "unchanged" and desk.last and now.sidecar == desk.last[0]:
                now = _ended(mark, desk.last[1], "", now.sidecar)  # written just before the stop
            applied.append(now)
    finally:
        desk.close()
    told = [one for one in applied if one.action != "silent"]
    return ApplyReport(folder, wish.dry_run, tuple(told), stopped)


def undo_last(folder: Path, *, dry_run: bool = False, replace: bool = False) -> ApplyReport:
    """Put the sidecars back as they were before the last run that changed any.

    What was changed since by somebody else stays and is told, unless ``replace``. The backup is
    done with when nothing was refused.

    Raises
    ------
    WrongCall
        There is no run to undo.
    """
    run, changes = last_run(folder)
    place = Folder(folder, Marks(()), "stem")
    applied = tuple(_put_back(change, place, dry_run, replace) for change in changes)
    report = ApplyReport(folder, dry_run, applied)
    if report.complete and not dry_run:
        run.unlink(missing_ok=True)
        with contextlib.suppress(OSError):  # earlier runs are kept there
            run.parent.rmdir()
    return report


def _put_back(change: Change, folder: Folder, dry_run: bool, replace: bool) -> Applied:
    shown = visible(change.sidecar)
    try:
        sidecar = folder.sidecar_at(change.sidecar)
        now = _read(sidecar)
        if now == change.before:
            return Applied(shown, shown, "unchanged", sidecar)
        if not replace and (now is None or digest(now) != change.after):
            return Applied(shown, shown, "refused", sidecar, (), sidecars.CHANGED_SINCE)
        if not dry_run and change.before is None:
            sidecar.unlink(missing_ok=True)
        elif not dry_run and change.before is not None:
            write_bytes(sidecar, change.before, last_look=lambda: _unchanged(sidecar, now))
    except (Refused, CannotWrite, OSError, ValueError) as error:
        return Applied(shown, shown, "refused", None, (), _plain(error))
    return Applied(shown, shown, "removed" if change.before is None else "restored", sidecar)


def _places(wanted: list[Mark], folder: Folder) -> list[Place | Applied]:
    """Return for each mark where its sidecar is, or why it has none."""
    places = [_place(mark, folder) for mark in wanted]
    rivals: dict[Path, list[int]] = defaultdict(list)
    for index, place in enumerate(places):
        if isinstance(place, Place):
            rivals[place.sidecar].append(index)
    for sidecar, indices in rivals.items():
        speak = [i for i in indices if wanted[i].says_something]
        for i in set(indices) - set(speak if speak else indices[:1]):
            places[i] = _ended(wanted[i], "silent", "")
        if len({(wanted[i].mark, wanted[i].note) for i in speak}) > 1:
            for i in speak:
                reason = sidecars.STANDS_FOR_MANY.format(
                    name=visible(sidecar.name), count=len(speak)
                )
                places[i] = _ended(wanted[i], "refused", reason)
    return places


def _place(mark: Mark, folder: Folder) -> Place | Applied:
    if not mark.says_something:
        try:
            place = folder.place_of(mark.file)
        except (Refused, OSError, ValueError):
            return _ended(mark, "silent", "")
        return place if place.sidecar.exists() else _ended(mark, "silent", "")
    if len(mark.note) > LONGEST_NOTE:
        reason = sidecars.NOTE_LONG.format(count=len(mark.note), most=LONGEST_NOTE)
        return _ended(mark, "refused", reason)
    try:
        return folder.place_of(mark.file)
    except Refused as error:
        return _ended(mark, "missing" if isinstance(error, NoFrame) else "refused", str(error))
    except (OSError, ValueError) as error:
        return _ended(mark, "refused", sidecars.PATH_UNUSABLE.format(reason=_plain(error)))


class _Desk:
    """Reads and writes sidecars, and keeps what they held."""

    def __init__(self, backup: Backup | None = None) -> None:
        self._backup = backup
        self._parts: dict[Path, list[Path]] = {}
        self._written = False
        self.last: tuple[Path, str] | None = None

    def read(self, sidecar: Path) -> bytes | None:
        """Return the bytes of a sidecar, None where it is not there."""
        return _read(sidecar)

    def write(self, sidecar: Path, before: bytes | None, after: bytes) -> None:
        """Put new bytes in place of those that were read, unless they are others by now."""
        folder = sidecar.parent
        if folder not in self._parts:
            self._parts[folder] = list(folder.glob(".*.part"))
        # what a killed run left of writing this sidecar
        part = re.compile(re.escape(f".{sidecar.name[:40]}-") + r"[a-z0-9_]{8}\.part")
        for path in self._parts[folder]:
            if part.fullmatch(path.name) and not path.is_dir():
                path.unlink(missing_ok=True)
        if self._backup is not None:
            try:
                self._backup.keep(sidecar, before, after)
            except OSError as error:
                raise Refused(sidecars.NO_BACKUP.format(reason=_plain(error))) from error
        self.last = sidecar, "created" if before is None else "updated"

        try:
            write_bytes(sidecar, after, last_look=lambda: _unchanged(sidecar, before))
        except (Refused, CannotWrite):
            self.last = None
            raise
        finally:
            self._written = self._written or self.last is not None

    def close(self) -> None:
        """End the backup."""
        if self._backup is not None:
            self._backup.close(of_use=self._written)


class _Rehearsal(_Desk):
    """Writes nothing and remembers what it would: a sidecar may stand for two frames."""

    def __init__(self) -> None:
        super().__init__()
        self._told: dict[Path, bytes] = {}

    def read(self, sidecar: Path) -> bytes | None:
        told = self._told.get(sidecar)
        return super().read(sidecar) if told is None else told

    def write(self, sidecar: Path, before: bytes | None, after: bytes) -> None:
        self._told[sidecar] = after


def _carry_out(
    mark: Mark, place: Place | Applied, rules: Rules, desk: _Desk, embedded: Embedded
) -> Applied:
    if isinstance(place, Applied):
        return place
    try:
        before = desk.read(place.sidecar)
        inner = _embedded(place.frame, embedded, hidden=before is None)
        packet = read_packet((inner or NEW_PACKET) if before is None else before)
        sisters = [] if inner is None else [read_packet(inner)]
        for other in place.others:
            with contextlib.suppress(OSError, BadPacket):  # what cannot be read says nothing
                sisters.append(read_packet(_read(other) or b""))
        done = merge(packet, sisters, mark, rules)
        if done.values:
            after = packet.changed(done.values)
            read_packet(after)  # nothing is written that could not be read again
            desk.write(place.sidecar, before, after)
    except BadPacket as error:
        return _ended(
            mark, "refused", sidecars.LEFT_ALONE.format(reason=visible(str(error))), place.sidecar
        )
    except (Refused, CannotWrite, OSError) as error:
        return _ended(mark, "refused", _plain(error), place.sidecar)
    return _told(mark, place, done, before, carried=before is None and inner is not None)


def _told(mark: Mark, place: Place, done: Merge, before: bytes | None, carried: bool) -> Applied:
    action = "unchanged" if not done.values else "created" if before is None else "updated"
    if action == "unchanged" and not mark.says_something:
        action = "silent"
    note = sidecars.CARRIED_OVER if carried and action == "created" else ""
    reason = "; ".join(filter(None, (place.note, note)))
    return Applied(mark.frame, mark.file, action, place.sidecar, done.changes, reason, done.kept)


def _embedded(frame: Path, embedded: Embedded, *, hidden: bool) -> bytes | None:
    """Return the XMP in a frame; Refused where a new sidecar would hide what cannot be read."""
    if not frame.is_file():
        return None
    try:
        content = embedded(frame)
        if content is not None:
            read_packet(content)
    except (OSError, BadPacket) as error:
        if not hidden:
            return None
        raise Refused(sidecars.XMP_HIDDEN.format(reason=_plain(error))) from error
    return content


def _read(sidecar: Path) -> bytes | None:
    try:
        return read_plain(sidecar, LARGEST_BYTES)
    except FileNotFoundError:
        return None


def _unchanged(sidecar: Path, before: bytes | None) -> None:
    if sidecar.is_symlink() or _read(sidecar) != before:
        raise Refused(sidecars.CHANGED_MEANWHILE)


def _ended(mark: Mark, action: str, reason: str, sidecar: Path | None = None) -> Applied:
    return Applied(mark.frame, mark.file, action, sidecar, (), reason)


def _plain(error: Exception) -> str:
    return visible(str(getattr(error, "strerror", None) or error))
