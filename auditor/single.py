"""Floor 4: one frame's whole sheet, judged among the sisters that a store remembers.

The decoder still runs in a process of its own: a file that crashes it costs only itself.
"""

from __future__ import annotations

import os
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from auditor.audit import recall_or_make
from auditor.conclude import Past, conclude
from auditor.engine.choose import make_engine
from auditor.examine import examine_file
from auditor.files.atomic import write_bytes
from auditor.filing import first_evening
from auditor.gather import gather
from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.errors import FrameFailure, WrongCall
from auditor.model.facts import CardFile, Position
from auditor.model.faults import keep_trace
from auditor.model.measurement import FrameMeasurement
from auditor.model.outcome import ProgressListener
from auditor.model.settings import Settings
from auditor.model.shoot import MeasurementLost
from auditor.read.card import find_files
from auditor.read.remote import local_path
from auditor.report.frame_names import safe_name
from auditor.report.json_report import build_frame_json
from auditor.request import (
    AuditRequest,
    audits_folder,
    check_named,
    check_out,
    check_reports_off_card,
)
from auditor.store.database import may_be_written
from auditor.store.store import Store
from auditor.task import ExamineTask
from auditor.words import calls, unread
from auditor.words.kinds import KINDS


@dataclass(frozen=True, slots=True)
class FrameEnd:
    """What came of one frame.

    Parameters
    ----------
    beside : int
        How many sisters of its shoot had a say; 0 where it was judged by itself.
    """

    result: FrameResult
    written: tuple[Path, ...]
    beside: int = 0

    @property
    def exit_status(self) -> int:
        """0 when the file was read, 1 when it could not be."""
        return int(self.result.status == FrameStatus.UNREADABLE)


@dataclass(frozen=True, slots=True)
class _OneFrame:
    """A source of one picture."""

    frame_id: str
    measured: FrameMeasurement | None

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the one measurement; KeyError for any other frame."""
        if self.measured is None or frame_id != self.frame_id:
            raise KeyError(frame_id)
        return self.measured


def audit_frame(
    path: str | Path,
    out: str | Path | None = None,
    settings: Settings | None = None,
    *,
    store: str | Path | None = None,
    place: Position | None = None,
) -> FrameEnd:
    """Measure one raw file and write its sheet and its figures.

    Parameters
    ----------
    out : path, optional
        Their folder; by default ``frames`` under the day of the evening, where audits go.
    store : Path, optional
        What earlier audits remember. Where one holds this frame's shoot, the frame is judged among
        its sisters, so that the sheet says what the audit says; else by the levels that other
        shoots measured. Without a store the frame is judged by itself.
    place : Position, optional
        Where the pictures were taken, for files that hold no position.

    Raises
    ------
    WrongCall
        There is no such file, it is a folder, or its sheet would land on the card.
    CannotWrite
        The folder cannot be written.
    StoreRefused
        The store cannot be opened.
    """
    named = None if out is None else Path(out)
    base = named or audits_folder([_raw_file(path)])
    check_reports_off_card([_raw_file(path)], base)
    check_out(base)
    judged = judge_file(path, settings or Settings(), store, place)
    folder = (named or base / first_evening([judged.result]) / "frames").absolute()
    name = safe_name(judged.result.id)
    written = [folder / f"{name}.json"]
    write_bytes(written[0], build_frame_json(judged.result))
    if judged.measured is not None:
        from auditor.report.png_frame import build_frame_sheet  # noqa: PLC0415 - loads slowly

        written.insert(0, folder / f"{name}.png")
        write_bytes(written[0], build_frame_sheet(judged.result, judged.measured, KINDS))
    return FrameEnd(judged.result, tuple(written), judged.beside)


@dataclass(frozen=True, slots=True)
class JudgedFile:
    """One frame judged, what was measured of it, and how many sisters had a say."""

    result: FrameResult
    measured: FrameMeasurement | None
    beside: int


def judge_file(
    path: str | Path, settings: Settings, store: str | Path | None, place: Position | None
) -> JudgedFile:
    """Measure one raw file and judge it, as :func:`audit_frame` does; nothing is written.

    Raises
    ------
    WrongCall
        There is no such file, or it is a folder.
    StoreRefused
        The store cannot be opened.
    """
    path = _raw_file(path)
    found = find_files([path])
    if found.files:
        file = found.files[0]
        task = ExamineTask(file.path, file.kind, settings.measure, thorough=True)
        with closing(make_engine(1, None, settings.measure)) as engine:
            outcome = next(iter(engine.run(examine_file, [task])))
        if outcome.trace:
            keep_trace(file.path, outcome.trace)
        measured, failure = outcome.value, outcome.failure
    else:
        name, measured = Path(path).name, None
        file = CardFile(
            id=name, input_index=0, path=path, file=name, kind="", size_bytes=0, content_key=""
        )
        failure = unread.NAMED_AND_NOT_RAW.failure()
        if found.problems:
            failure = FrameFailure(*found.problems[0][1:])
    alone = _Alone(file, measured, failure, settings, place)
    if store is not None and measured is not None:
        # where a measurement proves lost, the next audit measures it anew
        with suppress(MeasurementLost):
            result, beside = _judged_with(Path(store), alone, measured)
            return JudgedFile(result, measured, beside)
    return JudgedFile(alone.judged(Past()), measured, 0)


def _raw_file(path: str | Path) -> str:
    """Return where one file lies on this machine; a folder is refused."""
    check_named([str(path)])
    local = local_path(str(path))
    if os.path.isdir(local):  # noqa: PTH112 - unlike Path.is_dir it takes names that are too long
        raise WrongCall(calls.USE_AUDIT.format(path=local))
    return local


@dataclass(frozen=True, slots=True)
class _Alone:
    """One frame to be judged, and how to judge it by itself."""

    file: CardFile
    measured: FrameMeasurement | None
    failure: FrameFailure | None
    settings: Settings
    place: Position | None

    def judged(self, past: Past) -> FrameResult:
        failures = {} if self.failure is None else {self.file.id: self.failure}
        measurements = _OneFrame(self.file.id, self.measured)
        told = conclude(
            [self.file], failures, measurements, self.settings, past=past, place=self.place
        )
        return told.frames[0]


def _judged_with(path: Path, alone: _Alone, measured: FrameMeasurement) -> tuple[FrameResult, int]:
    """Judge a frame by what a store remembers; return also how many sisters had a say."""
    with Store.existing(path) as store:
        shoot = store.shoot_with(alone.file.file, measured.facts)
        inputs = () if shoot is None else _inputs_now(shoot, alone.file)
        if shoot is not None and inputs and may_be_written(path):
            # what lies on the cards and was no part of the shoot is not measured now
            part = {one.file for one in shoot.frames if one.status == FrameStatus.MEASURED}
            there = find_files(inputs)
            kept = tuple(file for file in there.files if file.file in part)
            found = replace(there, files=kept, problems=(), unread=())
            request = AuditRequest(
                paths=inputs, out=Path(), formats=(), settings=alone.settings, workers=1,
                store=path, place=alone.place,
            )  # fmt: skip
            gathered = gather(found, request, store, ProgressListener())
            audit = recall_or_make(request, store, gathered)
            here = os.path.realpath(alone.file.path)
            ids = {file.id for file in gathered.found.files if os.path.realpath(file.path) == here}
            result = next((frame for frame in audit.frames if frame.id in ids), None)
            if result is not None:
                # damage that only the frame's own digest shows an audit does not work out
                told = alone.judged(Past()).findings if measured.mosaic.damage else ()
                known = {finding.code for finding in result.findings}
                more = [f for f in told if f.code == "damaged-data" and f.code not in known]
                result = replace(result, findings=(*more, *result.findings))
                return result, len(audit.frames) - 1
        return alone.judged(Past.of(store.level_history(), store.shoots())), 0


def _inputs_now(shoot: Audit, file: CardFile) -> tuple[str, ...]:
    """Return where the shoot's cards lie now: this frame's by its own path, others as they were."""
    name, place = Path(file.file).name, Path(os.path.abspath(file.path)).as_posix()  # noqa: PTH100
    for frame in shoot.frames:
        if Path(frame.file).name == name and place.endswith(f"/{frame.file}"):
            now = list(shoot.inputs)
            now[frame.input] = place.removesuffix(f"/{frame.file}") or "/"
            return tuple(card for card in now if Path(card).exists())
    return ()
