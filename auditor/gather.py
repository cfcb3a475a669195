"""Floor 4: what the store does not hold yet, measured by an engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass

from auditor.engine.choose import make_engine
from auditor.examine import ExamineTask, examine_packed
from auditor.model.errors import EngineLost, FailureKind, FrameFailure, ProgramFailed
from auditor.model.facts import CardFile, CardFindings
from auditor.model.faults import keep_trace
from auditor.model.outcome import Outcome
from auditor.request import AuditRequest, Watch
from auditor.store.packing import PackedMeasurement
from auditor.store.store import Store

INTERRUPTED = FrameFailure("interrupted", "The audit was stopped before this file.")

OF_THE_MEDIUM = frozenset({"vanished", "no-permission", "input-error"})
"""Failures of the card that the file lies on: a copy on another card may well be read."""


@dataclass(frozen=True, slots=True)
class Examined:
    """How the measuring ended: failures by frame id, and whether every file was reached."""

    failures: dict[str, FrameFailure]
    complete: bool


def examine_missing(
    found: CardFindings, request: AuditRequest, store: Store, watch: Watch
) -> Examined:
    """Measure what the store does not hold yet; a stop in the middle keeps what is done.

    Of copies one is measured for all; the next where the medium of the one before failed.
    """
    copies: dict[str, list[CardFile]] = {}
    failures: dict[str, FrameFailure] = {}
    remembered = 0
    for file in found.files:
        known = store.known(file.content_key, request.settings.measure)
        remembered += known is not None
        if isinstance(known, FrameFailure):
            failures[file.id] = known
        elif known is None:
            copies.setdefault(file.content_key, []).append(file)
    watch.found(len(found.files), remembered, len(found.files) - remembered - len(copies))
    waiting: list[Sequence[CardFile]] = list(copies.values())
    while waiting:
        ended = _examine([files[0] for files in waiting], request, store, watch)
        waiting = [rest for files in waiting if (rest := _after(files, ended, failures))]
        if INTERRUPTED in ended.values():
            failures |= {file.id: INTERRUPTED for rest in waiting for file in rest}
            watch.warning(_stopped(failures, len(found.files), request))
            break
    return Examined(failures, INTERRUPTED not in failures.values())


def _stopped(failures: dict[str, FrameFailure], files: int, request: AuditRequest) -> str:
    """Say in one line how far it came, and what becomes of that."""
    reached = files - sum(failure is INTERRUPTED for failure in failures.values())
    after = (
        "The same command goes on from there."
        if request.keep_store
        else "Nothing is remembered without a store: the same command begins anew."
    )
    return f"Stopped after {reached} of {files} files; the reports hold these. {after}"


def refuse_all_ours(found: CardFindings, examined: Examined) -> None:
    """Refuse to report on a shoot of which no file was measured, through no fault of the files.

    Raises
    ------
    ProgramFailed
        Every file that could be opened met a limit or a fault of this program.
    """
    failures = [examined.failures.get(file.id) for file in found.files]
    told = [one for one in failures if one is not None and one.kind is FailureKind.OURS]
    if not told or len(told) < len(failures) or INTERRUPTED in told:
        return
    (message, count), *others = Counter(one.message for one in told).most_common()
    more = f" ({count} of {len(told)} files; others otherwise.)" if others else ""
    raise ProgramFailed(
        f"No file was measured, and that says nothing of the files. {message}{more} Nothing was "
        "written."
    )


def _after(
    files: Sequence[CardFile], ended: dict[str, FrameFailure], failures: dict[str, FrameFailure]
) -> Sequence[CardFile]:
    """Note what became of the first of some copies; return those that are still to be tried."""
    failure = ended.get(files[0].id)
    if failure is None:
        return ()
    of_medium = failure.code in OF_THE_MEDIUM
    failures.update({file.id: failure for file in (files[:1] if of_medium else files)})
    return files[1:] if of_medium else ()


def _examine(
    files: Sequence[CardFile], request: AuditRequest, store: Store, watch: Watch
) -> dict[str, FrameFailure]:
    """Examine files; return the failures by frame id, and keep everything else in the store."""
    settings = request.settings.measure
    tasks = [ExamineTask(file.path, file.kind, settings) for file in files]
    failures = {file.id: INTERRUPTED for file in files}
    with closing(make_engine(request.workers, request.cluster, settings)) as engine:
        try:
            for outcome in engine.run(examine_packed, tasks):
                file = files[outcome.index]
                _keep(file, outcome, request, store, failures)
                if outcome.trace:
                    keep_trace(file.path, outcome.trace)
                watch.examined(file.file, outcome.failure)
        except KeyboardInterrupt:
            pass  # what is still in ``failures`` was not reached, and is told with its count
        except EngineLost as error:
            kept = " What was measured is kept: the same command goes on." * request.keep_store
            raise EngineLost(f"{error}{kept}") from error
        finally:
            store.commit()
    return failures


def _keep(
    file: CardFile,
    outcome: Outcome[PackedMeasurement],
    request: AuditRequest,
    store: Store,
    failures: dict[str, FrameFailure],
) -> None:
    """Store one outcome; ``failures`` then holds exactly the files that are not measured.

    In this order: the interrupt key may be pressed while the store writes.
    """
    settings = request.settings.measure
    if outcome.failure is not None:
        failures[file.id] = outcome.failure
        store.put(file.content_key, settings, outcome.failure)
    elif outcome.value is not None:
        store.put(file.content_key, settings, outcome.value)
        del failures[file.id]
