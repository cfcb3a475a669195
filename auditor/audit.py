"""Floor 4: the story of an audit in one page.

Find, examine, store, conclude (settle, judge, group, choose), report.
"""

from __future__ import annotations

import os
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from auditor import __version__
from auditor.conclude import Past, conclude
from auditor.engine.choose import make_engine
from auditor.examine import ExamineTask, examine_packed
from auditor.history.filters import known_filters
from auditor.judge.findings import KINDS
from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.errors import CannotWrite, FrameFailure, WrongCall
from auditor.model.facts import CardFile, CardFindings, Position
from auditor.model.outcome import Outcome
from auditor.model.settings import MeasureSettings, Settings
from auditor.read.card import find_files
from auditor.read.remote import is_url
from auditor.report.write import REPORTERS, write_reports
from auditor.store.packing import PackedMeasurement
from auditor.store.store import Store

INTERRUPTED = FrameFailure(
    "interrupted", "The audit was stopped before this file. Run the same command to go on."
)


@dataclass(frozen=True, slots=True)
class AuditRequest:
    """What the user asked for.

    Parameters
    ----------
    paths : tuple of str
        Files and folders to look under.
    out : Path
        Where the reports go.
    formats : tuple of str
        Of :data:`auditor.report.write.REPORTERS`.
    workers : int or None
        None takes the cores there are.
    cluster : str or None
        Address of a Dask scheduler.
    store : Path or None
        None takes the user's data folder.
    keep_store : bool
        False measures into a store that is thrown away.
    place : Position or None
        Where the pictures were taken, for files that hold no position.
    """

    paths: tuple[str, ...]
    out: Path
    formats: tuple[str, ...] = ("html", "png", "json", "csv")
    settings: Settings = Settings()
    workers: int | None = None
    cluster: str | None = None
    store: Path | None = None
    keep_store: bool = True
    place: Position | None = None


class Watch(Protocol):
    """Someone who is told how the work goes on."""

    def found(self, files: int, known: int, copies: int) -> None:
        """Tell how many files are there; how many were measured before, or are copies."""

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Tell that one file has ended, well or not."""

    def stage(self, text: str) -> None:
        """Tell that the next part of the work has begun."""

    def warning(self, text: str) -> None:
        """Tell something that should not wait for the end."""


@dataclass(frozen=True, slots=True)
class AuditEnd:
    """What came of it."""

    audit: Audit
    written: tuple[Path, ...]

    @property
    def exit_status(self) -> int:
        """0 when every file was read, 1 when some could not be."""
        return int(any(frame.status == "unreadable" for frame in self.audit.frames))


@dataclass(frozen=True, slots=True)
class Examined:
    """How the measuring ended: failures by content key, and whether every file was reached."""

    failures: dict[str, FrameFailure]
    complete: bool


def run_audit(request: AuditRequest, watch: Watch) -> AuditEnd:
    """Audit everything under the paths and write the reports.

    Raises
    ------
    AuditorError
        The call was wrong or nothing could be written; nothing was changed.
    """
    check_call(request)
    found = find_files(request.paths)
    with open_store(request) as store:
        for text in store.warnings:
            watch.warning(text)
        examined = examine_missing(found, request, store, watch)
        watch.stage("Judging the frames")
        audit = recall_or_make(found, request, store, examined)
        if request.keep_store and examined.complete:
            store.save_shoot(audit)
        watch.stage("Writing the reports")
        gallery = store.gallery(content_keys(found), request.settings.measure)
        written = write_reports(audit, gallery, KINDS, request.formats, request.out)
    return AuditEnd(audit, written)


def check_call(request: AuditRequest) -> None:
    """Refuse what cannot be done before anything is done.

    Raises
    ------
    WrongCall
        An unknown format, or reports or a store that would land on the card itself.
    CannotWrite
        The reports' folder is a file, or may not be written.
    """
    unknown = [name for name in request.formats if name not in REPORTERS]
    if unknown:
        raise WrongCall(f"There is no format {unknown[0]!r}; there are {', '.join(REPORTERS)}.")
    if request.formats:
        _check_off_card(request, request.out, "The reports", "folder with --out")
        _check_out(request.out)
    if request.keep_store and request.store is not None:
        _check_off_card(request, request.store, "The store", "file with --store")


def _check_off_card(request: AuditRequest, target: Path, what: str, instead: str) -> None:
    real = Path(os.path.realpath(target))
    for path in (path for path in request.paths if not is_url(path)):
        card = Path(os.path.realpath(path))  # unlike Path.resolve it passes over rings of links
        if real == card or card in real.parents:
            raise WrongCall(
                f"{what} would land on the card ({target} is under {path}), and the card is "
                f"never written to. Choose another {instead}."
            )


def _check_out(out: Path) -> None:
    """Find out before hours of work whether reports can be written at their end."""
    try:
        there = next(place for place in (out, *out.parents) if _is_there(place))
        is_folder = there.is_dir()
    except OSError as error:
        raise CannotWrite(
            f"{out}: cannot be written ({error.strerror}). Choose another folder with --out."
        ) from error
    if not is_folder:
        raise CannotWrite(f"{there}: is not a folder. Choose a folder with --out.")
    if not os.access(there, os.W_OK | os.X_OK):
        raise CannotWrite(
            f"{out}: cannot be written ({there} is read-only). Choose another folder with --out."
        )


def _is_there(place: Path) -> bool:
    try:
        place.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def open_store(request: AuditRequest) -> Store:
    """Open the store asked for, or one that is thrown away at the end."""
    return Store.open(request.store) if request.keep_store else Store.temporary()


def content_keys(found: CardFindings) -> dict[str, str]:
    """Return under which key of the store each frame's measurement lies."""
    return {file.id: file.content_key for file in found.files}


def examine_missing(
    found: CardFindings, request: AuditRequest, store: Store, watch: Watch
) -> Examined:
    """Measure what the store does not hold yet; a stop in the middle keeps what is done."""
    settings = request.settings.measure
    missing: dict[str, CardFile] = {}
    failures: dict[str, FrameFailure] = {}
    remembered = 0
    for file in found.files:
        known = store.known(file.content_key, settings)
        remembered += known is not None
        if isinstance(known, FrameFailure):
            failures[file.content_key] = known
        elif known is None:
            missing.setdefault(file.content_key, file)
    watch.found(len(found.files), remembered, len(found.files) - remembered - len(missing))
    if missing:
        failures |= _examine(list(missing.values()), request, store, watch)
    return Examined(failures, INTERRUPTED not in failures.values())


def _examine(
    missing: list[CardFile], request: AuditRequest, store: Store, watch: Watch
) -> dict[str, FrameFailure]:
    settings = request.settings.measure
    tasks = [ExamineTask(file.path, file.kind, settings) for file in missing]
    failures = {file.content_key: INTERRUPTED for file in missing}
    with closing(make_engine(request.workers, request.cluster, settings)) as engine:
        try:
            for outcome in engine.run(examine_packed, tasks):
                file = missing[outcome.index]
                _keep(file, outcome, settings, store, failures)
                watch.examined(file.file, outcome.failure)
        except KeyboardInterrupt:
            watch.warning("Stopped. The reports hold what is measured; the same command goes on.")
        finally:
            store.commit()
    return failures


def _keep(
    file: CardFile,
    outcome: Outcome[PackedMeasurement],
    settings: MeasureSettings,
    store: Store,
    failures: dict[str, FrameFailure],
) -> None:
    """Store one outcome; ``failures`` then holds exactly the files that are not measured.

    In this order: the interrupt key may be pressed while the store writes.
    """
    if outcome.failure is not None:
        failures[file.content_key] = outcome.failure
        store.put(file.content_key, settings, outcome.failure)
    elif outcome.value is not None:
        store.put(file.content_key, settings, outcome.value)
        del failures[file.content_key]


def recall_or_make(
    found: CardFindings, request: AuditRequest, store: Store, examined: Examined
) -> Audit:
    """Conclude, unless nothing has changed since it was concluded before."""
    audit = store.concluded(
        [request.settings, request.place, examined, replace(found, files=())],
        found.files,
        request.settings.measure,
        lambda: make_audit(found, request, store, examined),
    )
    return replace(audit, made_at=_now(), notes=tuple(store.warnings))


def _now() -> str:
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def make_audit(
    found: CardFindings, request: AuditRequest, store: Store, examined: Examined
) -> Audit:
    """Conclude from what the store holds of the files found."""
    settings = request.settings
    files = [*found.files, *found.unread]
    failures = _failures(found, examined)
    others = store.other_shoots(found.files, settings.measure)
    past = Past(store.level_history(), known_filters(others))
    conclusions = conclude(
        files,
        failures,
        store.gallery(content_keys(found), settings.measure),
        settings,
        past=past,
        place=request.place,
    )
    grouping = conclusions.grouping
    return Audit(
        schema_version=SCHEMA_VERSION,
        tool_version=__version__,
        made_at=_now(),
        settings=settings,
        inputs=found.inputs,
        frames=conclusions.frames,
        setups=grouping.setups,
        siblings=grouping.siblings,
        brackets=grouping.brackets,
        grads=grouping.grads,
        skies=grouping.skies,
        runs=grouping.runs,
        keepers=conclusions.keepers,
        light=conclusions.light,
        lessons=conclusions.lessons,
        prints=conclusions.prints,
        sun_days=conclusions.sun_days,
        lasting_hot_pixels=conclusions.lasting_hot_pixels,
        passed_over=dict(found.passed_over),
        complete=examined.complete,
        notes=tuple(store.warnings),
    )


def _failures(found: CardFindings, examined: Examined) -> dict[str, FrameFailure]:
    """Return the failures by frame id: of files that never got so far, and of those that did."""
    unread = {file: FrameFailure(code, text) for file, code, text in found.problems}
    return unread | {
        file.id: examined.failures[file.content_key]
        for file in found.files
        if file.content_key in examined.failures
    }
