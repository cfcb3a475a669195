"""Floor 4: one frame's whole sheet, without a store and without workers to spare.

The decoder still runs in a process of its own: a file that crashes it costs only itself.
"""

from __future__ import annotations

import os
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from auditor.conclude import conclude
from auditor.engine.choose import make_engine
from auditor.examine import ExamineTask, examine_file
from auditor.files.atomic import write_bytes
from auditor.model.audit import FrameResult
from auditor.model.errors import FrameFailure, WrongCall
from auditor.model.facts import CardFile
from auditor.model.faults import keep_trace
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.read.card import find_files
from auditor.read.remote import local_path
from auditor.report.json_report import build_frame_json
from auditor.report.png_frame import build_frame_sheet
from auditor.report.write import safe_name
from auditor.request import check_named, check_reports_off_card
from auditor.rules import KINDS


@dataclass(frozen=True, slots=True)
class FrameEnd:
    """What came of one frame."""

    result: FrameResult
    written: tuple[Path, ...]

    @property
    def exit_status(self) -> int:
        """0 when the file was read, 1 when it could not be."""
        return int(self.result.status == "unreadable")


@dataclass(frozen=True, slots=True)
class _OneFrame:
    """A gallery of one picture."""

    frame_id: str
    measured: FrameMeasurement | None

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the one measurement; KeyError for any other frame."""
        if self.measured is None or frame_id != self.frame_id:
            raise KeyError(frame_id)
        return self.measured


def audit_frame(path: str | Path, out: str | Path, settings: Settings | None = None) -> FrameEnd:
    """Measure one raw file and write its sheet and its figures into ``out``.

    Raises
    ------
    WrongCall
        There is no such file, it is a folder, or its sheet would land on the card.
    CannotWrite
        The folder cannot be written.
    """
    path, out, settings = str(path), Path(out), settings or Settings()
    check_named([path])
    path = local_path(path)
    if os.path.isdir(path):  # noqa: PTH112 - unlike Path.is_dir it takes names that are too long
        raise WrongCall(f"{path}: is a folder. Use 'auditor audit {path}' for a whole card.")
    check_reports_off_card([path], out)
    found = find_files([path])
    if found.files:
        file = found.files[0]
        measured, failure = _examine(file, settings)
    else:
        file, measured = _named(path), None
        failure = _problem(found.problems)
    failures = {} if failure is None else {file.id: failure}
    gallery = _OneFrame(file.id, measured)
    result = conclude([file], failures, gallery, settings).frames[0]
    return FrameEnd(result, _write(result, measured, out))


def _examine(
    file: CardFile, settings: Settings
) -> tuple[FrameMeasurement | None, FrameFailure | None]:
    task = ExamineTask(file.path, file.kind, settings.measure, thorough=True)
    with closing(make_engine(1, None, settings.measure)) as engine:
        outcome = next(iter(engine.run(examine_file, [task])))
    if outcome.trace:
        keep_trace(file.path, outcome.trace)
    return outcome.value, outcome.failure


def _problem(problems: tuple[tuple[str, str, str], ...]) -> FrameFailure:
    if problems:
        return FrameFailure(problems[0][1], problems[0][2])
    return FrameFailure("not-raw", "This is not a raw file. Give the raw file itself.")


def _named(path: str) -> CardFile:
    name = Path(path).name
    return CardFile(
        id=name, input_index=0, path=path, file=name, kind="", size_bytes=0, content_key=""
    )


def _write(result: FrameResult, measured: FrameMeasurement | None, out: Path) -> tuple[Path, ...]:
    name = safe_name(result.id)
    figures = out / f"{name}.json"
    write_bytes(figures, build_frame_json(result))
    if measured is None:
        return (figures,)
    sheet = out / f"{name}.png"
    write_bytes(sheet, build_frame_sheet(result, measured, KINDS))
    return (sheet, figures)
