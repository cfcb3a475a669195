"""Floor 4: the story of an audit in one page.

Find, examine, store, conclude (settle, judge, group, choose), report.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from importlib import import_module
from pathlib import Path, PurePosixPath
from threading import Thread
from typing import TYPE_CHECKING

from auditor import __version__
from auditor.engine.choose import usable_cores
from auditor.filing import check_folder, folder_for
from auditor.gather import Gathered, engine_for, gather, refuse_all_ours
from auditor.history.evenings import best_frames, evening_of
from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.codes import FrameStatus
from auditor.model.errors import CannotWrite, FrameFailure, StoreRefused, StoreUnusable
from auditor.model.facts import CardFindings
from auditor.model.large import KeptPicture
from auditor.model.outcome import Engine, ProgressListener
from auditor.model.settings import Settings
from auditor.model.shoot import MeasurementLost
from auditor.read.card import find_files
from auditor.report.desk import Desk
from auditor.report.write import MAIN_FILES, ReportJob, write_reports
from auditor.request import (
    AuditRequest,
    check_call,
    check_found,
    check_reports_off_card,
)
from auditor.store.shoots import EveningFace
from auditor.store.store import Store
from auditor.words import calls
from auditor.words.kinds import KINDS

if TYPE_CHECKING:
    from auditor.conclude import Conclusions  # loaded while the workers measure

PARTIAL_STATUS = 130
"""The shells' convention for the interrupt key (128 and the number of the signal): a loop over
shoots that goes on after 1 ends here."""


ROUNDS = 3
"""How often an audit is begun again where the store has lost something meanwhile."""


@dataclass(frozen=True, slots=True)
class AuditEnd:
    """What came of it.

    Parameters
    ----------
    written : tuple of Path
        Every report, those included that were there and had not changed.
    unchanged : int
        How many of these.
    renewed : tuple of str
        Formats that were not asked for and stood in the folder: all tell the same.
    remembered : bool
        Whether there was a store that could be used.
    """

    audit: Audit
    written: tuple[Path, ...]
    unchanged: int = 0
    renewed: tuple[str, ...] = ()
    remembered: bool = False

    @property
    def exit_status(self) -> int:
        """0 when every file was read, 1 when some could not be, 130 when it was stopped."""
        if not self.audit.complete:
            return PARTIAL_STATUS
        return int(any(frame.status == FrameStatus.UNREADABLE for frame in self.audit.frames))


def run_audit(
    request: AuditRequest, listener: ProgressListener, engine: Engine | None = None
) -> AuditEnd:
    """Audit everything under the paths and write the reports.

    Parameters
    ----------
    engine : Engine, optional
        One that was begun early, for the request's workers; closed at the end.

    Raises
    ------
    AuditorError
        The call was wrong, there is no raw file, every file met a fault of this program, or
        nothing could be written; no report was changed.
    """
    check_call(request)
    found = find_files(request.paths)
    for text in check_found(found):
        listener.warning(text)
    check_folder(request, found)
    notes: list[str] = []
    if request.keep_store:
        try:
            with Store.open(request.store) as store:
                return replace(_healing(found, request, store, listener, engine), remembered=True)
        except StoreRefused as error:
            # what was named by hand and is no store is for the user to put right
            if request.store is not None and not isinstance(error, StoreUnusable):
                raise
            notes.append(calls.WITHOUT_STORE.format(reason=error))
    with Store.temporary() as store:
        store.warnings += notes
        return _healing(found, replace(request, keep_store=False), store, listener, engine)


def _healing(
    found: CardFindings,
    request: AuditRequest,
    store: Store,
    listener: ProgressListener,
    begun: Engine | None,
) -> AuditEnd:
    """Audit; where a measurement that was there proves lost, measure it and audit again."""
    with (
        closing(begun or engine_for(request)) as engine,
        # workers of this machine draw even where a cluster measures
        closing(engine_for(replace(request, cluster=None)) if request.cluster else engine) as here,
    ):
        for _ in range(ROUNDS):
            told = _tell_from(0, store, listener)
            _load_meanwhile(request.formats)
            gathered = gather(found, request, store, listener, engine)
            refuse_all_ours(gathered)
            told = _tell_from(told, store, listener)
            listener.stage("Judging the frames")
            try:
                audit = recall_or_make(request, store, gathered)
                if request.keep_store and gathered.complete:
                    try:
                        store.save_shoot(audit)
                    except StoreRefused as error:  # the reports do not depend on it
                        text = calls.NOT_IN_HISTORY.format(reason=error)
                        store.warnings.append(text)
                _tell_from(told, store, listener)
                unread = (frame.status == FrameStatus.UNREADABLE for frame in audit.frames)
                if not gathered.complete and all(unread):
                    return AuditEnd(audit, ())  # nothing to report: the last report stands
                return _reported(audit, gathered, request, store, engine=here, listener=listener)
            except MeasurementLost:
                engine.close()
    raise StoreUnusable(calls.LOST_AGAIN.format(path=store.path))


def _load_meanwhile(formats: Sequence[str]) -> None:
    """Load what judges and what makes the page while the workers start and measure."""

    def load() -> None:
        # who needs a module loads it again and tells what fails; at an early end nothing is said
        with suppress(Exception):
            import_module("auditor.conclude")
            if "html" in formats:
                page = import_module("auditor.report.html")
                page.page_template("report.html.j2")
                page.page_script()

    Thread(target=load).start()


def _reported(
    audit: Audit,
    gathered: Gathered,
    request: AuditRequest,
    store: Store,
    *,
    engine: Engine,
    listener: ProgressListener,
) -> AuditEnd:
    """Write the reports asked for, and with them anew what stands in their folder."""
    if not request.formats:
        return AuditEnd(audit, ())
    listener.stage("Writing the reports")
    settings, record = request.settings.measure, folder_for(request, audit.frames)
    renewed = tuple(
        name for name in record.formats() if name in MAIN_FILES and name not in request.formats
    )
    keys = content_keys(gathered)
    job = ReportJob(
        audit,
        store.measurement_source(keys, settings),
        KINDS,
        keys,
        request.sheets,
        large=_large_pictures(request, store, keys, pages={*request.formats, *renewed}),
        small=request.pictures != "none",
    )
    look = partial(check_reports_off_card, request.paths)
    desk = Desk(record, look=look, engine=engine, progress=listener.drawn)
    try:
        write_reports(job, (*request.formats, *renewed), desk)
    finally:
        for text in desk.remarks:
            listener.warning(text)
    if request.keep_store:
        with suppress(StoreRefused, CannotWrite):  # the history then links to none
            store.note_evenings(audit, _evening_faces(job, record.folder))
    return AuditEnd(audit, tuple(desk.written), desk.unchanged, renewed)


def _evening_faces(job: ReportJob, folder: Path) -> list[EveningFace]:
    """Return what the history shows of each evening."""
    frames = {frame.id: frame for frame in job.audit.frames}
    best = best_frames(job.audit) if job.small else {}
    days = {evening_of(frame.captured_at) for frame in frames.values()}
    return [
        EveningFace(
            day=day.isoformat(),
            folder=str(folder),
            picture_of=PurePosixPath(frames[best[day]].file).name if day in best else "",
            picture=job.measurements.measurement(best[day]).pictures.thumb if day in best else b"",
        )
        for day in sorted(filter(None, days))
    ]


def _large_pictures(
    request: AuditRequest, store: Store, keys: Mapping[str, str], *, pages: set[str]
) -> dict[str, tuple[KeptPicture, ...]]:
    """Return what there is of large pictures, by frame id, where they are to be shown."""
    if request.pictures in {"none", "small"} or not (request.draws_large or "html" in pages):
        return {}
    found = {frame_id: store.shelf.get(digest) for frame_id, digest in keys.items()}
    return {frame_id: kept for frame_id, kept in found.items() if kept}


def _tell_from(number: int, store: Store, listener: ProgressListener) -> int:
    """Tell what the store has warned of since; returns how much it has told."""
    for text in store.warnings[number:]:
        listener.warning(text)
    return len(store.warnings)


def content_keys(gathered: Gathered) -> dict[str, str]:
    """Return under which key of the store the measurement of each measured frame lies."""
    files = gathered.found.files
    return {file.id: file.content_key for file in files if file.id not in gathered.failures}


def recall_or_make(request: AuditRequest, store: Store, gathered: Gathered) -> Audit:
    """Conclude, unless nothing has changed since."""
    files = gathered.found.files
    rest = replace(gathered, found=replace(gathered.found, files=()))
    key = store.conclusion_key(
        [request.settings, request.place, rest], files, request.settings.measure
    )
    audit = store.recalled(key)
    if audit is None:
        from auditor.conclude import Past, conclude  # noqa: PLC0415 - loaded meanwhile

        settings = request.settings
        # of files that never got so far, and of those that did
        unread = {file: FrameFailure(code, text) for file, code, text in gathered.found.problems}
        past = Past.of(store.level_history(), store.other_shoots(files, settings.measure))
        conclusions = conclude(
            [*files, *gathered.found.unread],
            unread | gathered.failures,
            store.measurement_source(content_keys(gathered), settings.measure),
            settings,
            past=past,
            place=request.place,
            workers=request.workers or usable_cores(),
        )
        audit = _audit_of(conclusions, gathered, settings)
        store.remember(key, audit)
    return replace(audit, made_at=_now(), notes=tuple(store.warnings))


def _now() -> str:
    now = datetime.now(UTC)
    with suppress(ValueError):  # a time zone that no calendar knows: more than a day off
        now = now.astimezone()
    return now.isoformat(timespec="seconds")


def _audit_of(conclusions: Conclusions, gathered: Gathered, settings: Settings) -> Audit:
    """Put the public record together; its moment and the store's notes come last."""
    grouping = conclusions.grouping
    return Audit(
        schema_version=SCHEMA_VERSION,
        tool_version=__version__,
        made_at="",
        settings=settings,
        inputs=gathered.found.inputs,
        frames=conclusions.frames,
        setups=grouping.setups,
        siblings=grouping.siblings,
        brackets=grouping.brackets,
        grads=grouping.grads,
        skies=grouping.skies,
        panoramas=grouping.panoramas,
        rejected=grouping.rejected,
        keepers=conclusions.keepers,
        light=conclusions.light,
        lessons=conclusions.lessons,
        prints=conclusions.prints,
        sun_days=conclusions.sun_days,
        lasting_hot_pixels=conclusions.lasting_hot_pixels,
        filters=conclusions.filters,
        forecast=conclusions.forecast,
        dark_frames=conclusions.dark_frames,
        isos=conclusions.isos,
        passed_over=dict(gathered.found.passed_over),
        complete=gathered.complete,
    )
