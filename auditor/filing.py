"""Floor 4: in which folder the reports go, and what of an earlier audit they may replace."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from itertools import count
from pathlib import Path

from auditor.history.evenings import evening_of
from auditor.model.audit import FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.errors import WrongCall
from auditor.model.facts import CardFindings
from auditor.report.record import FolderRecord, Shoot, load_record, same_shoot
from auditor.report.write import MAIN_FILES
from auditor.request import AuditRequest, audits_folder
from auditor.store.shoots import frame_key
from auditor.words import calls

UNDATED = "undated"


def check_folder(request: AuditRequest, found: CardFindings) -> None:
    """Refuse before hours of work what their end would refuse.

    Raises
    ------
    WrongCall
        The folder named holds what this audit must not replace.
    """
    if request.out is None or request.replace or not request.formats:
        return
    record = load_record(request.out)
    if record is None:
        there = _foreign(request.out, request.formats)
        if there:
            raise WrongCall(calls.NOT_OURS.format(out=request.out, there=there[0]))
        return
    names = {_name(file.file) for file in (*found.files, *found.unread)}
    if record.shoot and names.isdisjoint(name for name, _ in record.shoot):
        raise _of_another_shoot(request.out, record)


def folder_for(request: AuditRequest, frames: Sequence[FrameResult]) -> FolderRecord:
    """Return the record of the folder that this audit's reports go to, renewed for its shoot.

    The folder named is taken where it is free or holds an audit of the same shoot; without one,
    the first such under the day of the shoot's first evening.

    Raises
    ------
    WrongCall
        The folder named holds another shoot's audit, and that is not to be replaced.
    """
    shoot = shoot_of(frames)
    if request.out is None:
        base, day = (
            (request.under or audits_folder(request.paths)).absolute(),
            first_evening(frames),
        )
        free: Path | None = None
        for number in count(1):
            folder = base / (day if number == 1 else f"{day}-{number}")
            record = load_record(folder)
            if record is not None and same_shoot(record.shoot, shoot):
                break
            if free is None and record is None and not _foreign(folder, MAIN_FILES):
                free = folder
            if not os.path.lexists(folder):
                folder = free or folder
                break
    else:
        folder = request.out.absolute()
    record = load_record(folder)
    if record is not None and not same_shoot(record.shoot, shoot):
        if not request.replace:
            raise _of_another_shoot(folder, record, kept=request.keep_store)
        record = None
    return FolderRecord(folder, shoot, {} if record is None else record.files)


def first_evening(frames: Iterable[FrameResult]) -> str:
    """Return the day of the first evening, as the clocks of the cameras told it."""
    days = [day for frame in frames if (day := evening_of(frame.captured_at)) is not None]
    return min(days).isoformat() if days else UNDATED


def shoot_of(frames: Iterable[FrameResult]) -> Shoot:
    """Return what the frames of a shoot are known by, in the order of their names."""
    known = []
    for frame in frames:
        measured = frame.status == FrameStatus.MEASURED
        key = frame_key(frame.file, frame.captured_at, frame.camera)[:12] if measured else ""
        known.append((_name(frame.file), key))
    return tuple(sorted(known))


def _name(file: str) -> str:
    return file.rpartition("/")[2]


def _foreign(folder: Path, formats: Iterable[str]) -> list[str]:
    """Return the names under which reports would be written and something is there."""
    names = [MAIN_FILES[name] for name in formats if name in MAIN_FILES]
    return [name for name in names if os.path.lexists(folder / name)]


def _of_another_shoot(folder: Path, record: FolderRecord, *, kept: bool = False) -> WrongCall:
    after = calls.KEPT_IN_STORE if kept else ""
    return WrongCall(
        calls.ANOTHER_SHOOT.format(
            folder=folder, count=len(record.shoot), shoot=record.shoot[0][0], after=after
        )
    )
