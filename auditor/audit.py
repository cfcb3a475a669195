"""Floor 4: the story of an audit in one page.

Find, examine, store, conclude (settle, judge, group, choose), report.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from auditor import __version__
from auditor.conclude import Past, conclude
from auditor.gather import Gathered, gather, refuse_all_ours
from auditor.history.filters import known_filters
from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.errors import FrameFailure
from auditor.model.facts import CardFindings
from auditor.read.card import find_files
from auditor.report.write import write_reports
from auditor.request import AuditRequest, Watch, check_call, check_found, check_reports_off_card
from auditor.rules import KINDS
from auditor.store.store import Store

PARTIAL_STATUS = 130
"""The shells' convention for the interrupt key (128 and the number of the signal): a loop over
shoots that goes on after 1 ends here."""


@dataclass(frozen=True, slots=True)
class AuditEnd:
    """What came of it."""

    audit: Audit
    written: tuple[Path, ...]

    @property
    def exit_status(self) -> int:
        """0 when every file was read, 1 when some could not be, 130 when it was stopped."""
        if not self.audit.complete:
            return PARTIAL_STATUS
        return int(any(frame.status == "unreadable" for frame in self.audit.frames))


def run_audit(request: AuditRequest, watch: Watch) -> AuditEnd:
    """Audit everything under the paths and write the reports.

    Raises
    ------
    AuditorError
        The call was wrong, there is no raw file, every file met a fault of this program, or
        nothing could be written; no report was changed.
    """
    check_call(request)
    found = find_files(request.paths)
    for text in check_found(found):
        watch.warning(text)
    with open_store(request) as store:
        for text in store.warnings:
            watch.warning(text)
        gathered = gather(found, request, store, watch)
        refuse_all_ours(gathered)
        watch.stage("Judging the frames")
        audit = recall_or_make(request, store, gathered)
        if request.keep_store and gathered.complete:
            store.save_shoot(audit)
        watch.stage("Writing the reports")
        gallery = store.gallery(content_keys(gathered.found), request.settings.measure)
        look = partial(check_reports_off_card, request.paths)
        written = write_reports(audit, gallery, KINDS, request.formats, request.out, look=look)
    return AuditEnd(audit, written)


def open_store(request: AuditRequest) -> Store:
    """Open the store asked for, or one that is thrown away at the end."""
    return Store.open(request.store) if request.keep_store else Store.temporary()


def content_keys(found: CardFindings) -> dict[str, str]:
    """Return under which key of the store each frame's measurement lies."""
    return {file.id: file.content_key for file in found.files}


def recall_or_make(request: AuditRequest, store: Store, gathered: Gathered) -> Audit:
    """Conclude, unless nothing has changed since it was concluded before."""
    files = gathered.found.files
    rest = replace(gathered, found=replace(gathered.found, files=()))
    audit = store.concluded(
        [request.settings, request.place, rest],
        files,
        request.settings.measure,
        lambda: make_audit(request, store, gathered),
    )
    return replace(audit, made_at=_now(), notes=tuple(store.warnings))


def _now() -> str:
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def make_audit(request: AuditRequest, store: Store, gathered: Gathered) -> Audit:
    """Conclude from what the store holds of the files found."""
    found, settings = gathered.found, request.settings
    files = [*found.files, *found.unread]
    failures = _failures(gathered)
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
        complete=gathered.complete,
        notes=tuple(store.warnings),
    )


def _failures(gathered: Gathered) -> dict[str, FrameFailure]:
    """Return the failures by frame id: of files that never got so far, and of those that did."""
    unread = {file: FrameFailure(code, text) for file, code, text in gathered.found.problems}
    return unread | gathered.failures
