"""Write marks as sidecars: merged into what is there, whole or not at all.

What the words become (ISO 16684-1: ``xmp:Rating`` is -1 for rejected, 0 to 5 else):

======  ==========  =========
mark    xmp:Rating  xmp:Label
======  ==========  =========
keeper  4           Keeper
spare   2           Spare
drop    -1          Drop
======  ==========  =========

A note becomes ``dc:description``. A mark of null and an empty note change nothing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.model.errors import CannotWrite, WrongCall
from auditor.model.text import visible
from auditor.sidecar.marks import Mark, Marks, read_marks
from auditor.sidecar.packet import (
    LABEL,
    NEW_PACKET,
    RATING,
    BadPacket,
    Packet,
    read_packet,
    xml_text,
)
from auditor.sidecar.place import Folder, Naming, NoFrame, Place, Refused

RATINGS = {"keeper": "4", "spare": "2", "drop": "-1"}
LABELS = {"keeper": "Keeper", "spare": "Spare", "drop": "Drop"}


@dataclass(frozen=True, slots=True)
class Applied:
    """What became of one mark.

    Parameters
    ----------
    frame, file : str
        As the marks file names them.
    action : str
        "created", "updated", "unchanged", "missing" (no such frame under the folder) or
        "refused". In a dry run: what would be done.
    sidecar : Path or None
    changes : tuple of str
        For example "rating 2 to 4"; hidden characters written out.
    reason : str
        Why it was refused or missing, or what is worth knowing.
    """

    frame: str
    file: str
    action: str
    sidecar: Path | None = None
    changes: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ApplyReport:
    """What became of all marks, in the order of the marks file."""

    folder: Path
    dry_run: bool
    applied: tuple[Applied, ...]

    def count(self, action: str) -> int:
        """Return how many marks came to that end."""
        return sum(one.action == action for one in self.applied)

    @property
    def complete(self) -> bool:
        """Whether no mark was refused and none missed its frame."""
        return all(one.action not in ("refused", "missing") for one in self.applied)


def apply_marks(
    marks: str | Path | Marks,
    folder: str | Path,
    *,
    dry_run: bool = False,
    naming: Naming = "stem",
    only_input: int | None = None,
) -> ApplyReport:
    """Write the marks as sidecars beside the frames under ``folder``.

    A frame is looked for by its path under the folder, by the part of its path from the
    folder's own name on, or, in a flat copy, by its name where only one frame has it. A folder
    that is empty but for sidecars collects them. The sidecar that is there is updated, be it
    IMG.xmp or IMG.EXT.xmp; where both are, the one that names the whole file. Before the first
    change of a sidecar its bytes are kept as ``NAME.xmp.bak``; a .bak that is there stays.

    Parameters
    ----------
    marks : path or Marks
    folder : path
    dry_run : bool
        Only tell what would change.
    naming : {"stem", "full"}
        Name of a new sidecar: IMG.xmp or IMG.EXT.xmp.
    only_input : int, optional
        Apply only the marks of that input, from 0: for two cards that hold the same names.

    Returns
    -------
    ApplyReport

    Raises
    ------
    WrongCall
        The marks cannot be read or the folder is not there; nothing was changed.
    """
    if naming not in ("stem", "full"):
        raise WrongCall("The naming of new sidecars is stem or full.")
    folder = Path(folder)
    _check_folder(folder)
    found = marks if isinstance(marks, Marks) else read_marks(Path(marks))
    wanted = [
        mark for mark in found.marks if mark.says_something and only_input in (None, mark.input)
    ]
    places = _places(wanted, Folder(folder, found, naming))
    desk = _Rehearsal() if dry_run else _Desk()
    applied = [_carry_out(mark, places[i], found.by_audit, desk) for i, mark in enumerate(wanted)]
    return ApplyReport(folder, dry_run, tuple(applied))


def _check_folder(folder: Path) -> None:
    try:
        if folder.is_dir():
            return
    except OSError as error:
        raise WrongCall(f"{folder}: cannot be looked into ({error.strerror}).") from error
    raise WrongCall(f"{folder}: there is no such folder. Give the one that holds the frames.")


def _places(wanted: list[Mark], folder: Folder) -> list[Place | Applied]:
    """Return for each mark where its sidecar is, or why it has none."""
    places = [_place(mark, folder) for mark in wanted]
    rivals: dict[Path, list[int]] = defaultdict(list)
    for index, place in enumerate(places):
        if isinstance(place, Place):
            rivals[place.sidecar].append(index)
    for sidecar, indices in rivals.items():
        if len({(wanted[i].mark, wanted[i].note) for i in indices}) > 1:
            for i in indices:
                reason = (
                    f"{visible(sidecar.name)} would stand for {len(indices)} frames that are "
                    "marked differently; name one input, or name new sidecars in full"
                )
                places[i] = _ended(wanted[i], "refused", reason)
    return places


def _place(mark: Mark, folder: Folder) -> Place | Applied:
    try:
        return folder.place_of(mark.file)
    except Refused as error:
        return _ended(mark, "missing" if isinstance(error, NoFrame) else "refused", str(error))
    except (OSError, ValueError) as error:
        return _ended(mark, "refused", f"its path cannot be used ({_plain(error)})")


class _Desk:
    """Reads and writes sidecars."""

    def read(self, sidecar: Path) -> bytes | None:
        """Return the bytes of a sidecar, None where it is not there."""
        return sidecar.read_bytes() if sidecar.exists() else None

    def write(self, sidecar: Path, before: bytes | None, after: bytes) -> None:
        """Put new bytes in place of those that were read."""
        _replace(sidecar, before, after)


class _Rehearsal(_Desk):
    """Writes nothing and remembers what it would: a sidecar may stand for two frames."""

    def __init__(self) -> None:
        self._held: dict[Path, bytes] = {}

    def read(self, sidecar: Path) -> bytes | None:
        held = self._held.get(sidecar)
        return super().read(sidecar) if held is None else held

    def write(self, sidecar: Path, before: bytes | None, after: bytes) -> None:
        self._held[sidecar] = after


def _carry_out(mark: Mark, place: Place | Applied, by_audit: bool, desk: _Desk) -> Applied:
    if isinstance(place, Applied):
        return place
    try:
        before = desk.read(place.sidecar)
        packet = read_packet(NEW_PACKET if before is None else before)
        changes = _merge(packet, mark, by_audit)
        if changes:
            desk.write(place.sidecar, before, packet.to_bytes())
    except BadPacket as error:
        return _ended(mark, "refused", f"it was left alone: {visible(str(error))}", place.sidecar)
    except (Refused, CannotWrite, OSError) as error:
        return _ended(mark, "refused", _plain(error), place.sidecar)
    action = "unchanged" if not changes else "created" if before is None else "updated"
    return Applied(mark.frame, mark.file, action, place.sidecar, changes, place.note)


def _ended(mark: Mark, action: str, reason: str, sidecar: Path | None = None) -> Applied:
    return Applied(mark.frame, mark.file, action, sidecar, (), reason)


def _plain(error: Exception) -> str:
    return visible(str(getattr(error, "strerror", None) or error))


def _merge(packet: Packet, mark: Mark, by_audit: bool) -> tuple[str, ...]:
    """Set what the mark says; return the changes in words."""
    changes: list[str] = []
    if mark.mark is not None:
        for name, word, value in (
            (RATING, "rating", RATINGS[mark.mark]),
            (LABEL, "label", LABELS[mark.mark]),
        ):
            olds = packet.texts_of(name)
            if olds != [value]:
                packet.set_text(name, value)
                changes.append(_change(word, " and ".join(olds), value))
    old = packet.description()
    if mark.note and old != xml_text(mark.note) and not (by_audit and old):
        packet.set_description(mark.note)
        changes.append(_change("description", old, mark.note))
    return tuple(changes)


def _change(word: str, old: str | None, new: str) -> str:
    return f"{word} {_short(old)} to {_short(new)}" if old else f"{word} {_short(new)}"


def _short(text: str | None) -> str:
    shown = visible(text or "")
    return shown if len(shown) <= 60 else shown[:59] + "…"


def _replace(sidecar: Path, before: bytes | None, after: bytes) -> None:
    """Put the new bytes in place of the old ones, unless those are not the old ones any more."""

    def last_look() -> None:
        now = sidecar.read_bytes() if sidecar.exists() else None
        if now != before or sidecar.is_symlink():
            raise Refused("it was changed by another program meanwhile; apply the marks again")

    backup = sidecar.with_name(sidecar.name + ".bak")
    if before is not None and not backup.exists() and not backup.is_symlink():
        write_bytes(backup, before)
    write_bytes(sidecar, after, last_look=last_look)
