"""Floor 4: every file read, and measured where the store does not hold its content yet.

A quick look finds what a file may be; who it is, and so what is known of it, what is its copy and
what a failure belongs to, the digest of all its bytes decides. Only a file that lies untouched
where it was read before, as far as the system tells, is not read again.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace

from auditor.engine.choose import make_engine, usable_cores
from auditor.model.errors import CannotWrite, EngineLost, FailureKind, FrameFailure, ProgramFailed
from auditor.model.facts import CardFile, CardFindings, DifferingCopy, FileLook
from auditor.model.faults import keep_trace
from auditor.model.large import LARGE
from auditor.model.measurement import FrameMeasurement
from auditor.model.measures import all_names
from auditor.model.outcome import Engine, Outcome, ProgressListener, Spent
from auditor.read.ahead import ReadAhead
from auditor.read.content import has_changed
from auditor.read.remote import is_url
from auditor.request import AuditRequest
from auditor.store.shelf import PictureShelf
from auditor.store.store import Store
from auditor.task import Examined, ExamineTask, examine_packed
from auditor.words import calls
from auditor.words.notes import copies_differ
from auditor.words.unread import INTERRUPTED

NOTHING: frozenset[str] = frozenset()
_UNREAD = FileLook("", "")


@dataclass(frozen=True, slots=True)
class Gathered:
    """How the measuring ended.

    Parameters
    ----------
    found : CardFindings
        Every file with the digest of its bytes, its copies, and what ought to be one and is not.
    failures : dict of frame id to FrameFailure
    complete : bool
        Whether every file was reached.
    """

    found: CardFindings
    failures: dict[str, FrameFailure]
    complete: bool


def gather(
    found: CardFindings,
    request: AuditRequest,
    store: Store,
    listener: ProgressListener,
    engine: Engine | None = None,
) -> Gathered:
    """Read every file and measure what the store does not hold yet.

    A stop in the middle keeps what is done. Of what may be copies one is measured first; the
    others are then read, and measured only where their bytes differ. Without an engine one is
    made, and closed at the end.
    """
    if engine is None:
        with closing(engine_for(request)) as made:
            return gather(found, request, store, listener, made)
    work = _Work(request, store, engine, listener)
    unread = [file for file in found.files if not work.lies_untouched(file)]
    first = {_look(file).ends: file for file in reversed(unread)}
    lead = list(first.values())[::-1]
    after = [file for file in unread if first[_look(file).ends] is not file]
    undrawn = work.undrawn(found.files)
    listener.found(len(found.files), len(found.files) - len(unread) - len(undrawn), len(after))
    for part in (lead, after):
        work.examine(part)
    work.draw(undrawn)
    work.examine([file for file in found.files if work.has_changed(file)])
    work.tidy_shelf()
    files = _with_copies(found.files, work)
    for file in files:
        if file.differing_copies:
            own = DifferingCopy(file.id, file.input_index + 1, work.whole(file))
            listener.warning(f"{file.file}: {copies_differ(own, file.differing_copies)}")
    complete = not work.stopped
    if not complete:
        reached = len(files) - sum(one is INTERRUPTED for one in work.failures.values())
        next_run = calls.GOES_ON
        if not request.keep_store:
            next_run = calls.BEGINS_ANEW
        ends = calls.REPORTS_HOLD.format(next_run=next_run)
        if len(work.failures) == len(files):
            ends = calls.NONE_MEASURED
        listener.warning(calls.STOPPED_AFTER.format(reached=reached, count=len(files), ends=ends))
    return Gathered(replace(found, files=files), work.failures, complete)


def engine_for(request: AuditRequest) -> Engine:
    """Return the engine that was asked for; nothing is started before it is used."""
    return make_engine(request.workers, request.cluster, request.settings.measure)


def refuse_all_ours(gathered: Gathered) -> None:
    """Refuse to report on a shoot of which no file was measured, through no fault of the files.

    Raises
    ------
    ProgramFailed
        Every file that could be opened met a limit or a fault of this program.
    """
    failures = [gathered.failures.get(file.id) for file in gathered.found.files]
    told = [one for one in failures if one is not None and one.kind is FailureKind.OURS]
    if not told or len(told) < len(failures) or INTERRUPTED in told:
        return
    (message, count), *others = Counter(one.message for one in told).most_common()
    more = calls.OTHERS.format(count=count, all=len(told)) if others else ""
    raise ProgramFailed(calls.ALL_OURS.format(message=message, more=more))


def _look(file: CardFile) -> FileLook:
    return file.look or _UNREAD


@dataclass(slots=True)
class _Work:
    """What is known by now: the digest and look of each file read, and every failure."""

    request: AuditRequest
    store: Store
    engine: Engine
    listener: ProgressListener
    digests: dict[str, str] = field(default_factory=dict)
    looks: dict[str, FileLook] = field(default_factory=dict)
    failures: dict[str, FrameFailure] = field(default_factory=dict)
    ended: dict[str, FrameFailure | None] = field(default_factory=dict)
    """By digest, what came of the contents examined in this run; None for measured."""

    spent: Spent = field(default_factory=Spent)

    stopped: bool = False

    drawn: set[str] = field(default_factory=set)
    """Contents of which large pictures were put on the shelf in this run."""

    shelf: PictureShelf | None = field(init=False)
    """Where large pictures go; None where none are wanted, or no more can be put there."""

    def __post_init__(self) -> None:
        self.shelf = self.store.shelf if self.request.draws_large else None

    def lies_untouched(self, file: CardFile) -> bool:
        """Take what the store holds of a measured file that lies where it was read before."""
        look = _look(file)
        digest = None if self.request.again else self.store.content_at(look)
        if digest is None or self._lacks(digest) != NOTHING:
            return False
        self.digests[file.id], self.looks[file.id] = digest, look
        return True

    def _lacks(self, digest: str) -> frozenset[str] | FrameFailure:
        """Return the measures that a content lacks, or why it can have none."""
        if digest in self.ended:
            return self.ended[digest] or NOTHING
        if self.request.again:
            return all_names()
        return self.store.missing(digest, self.request.settings.measure)

    def _undrawn(self, digest: str) -> frozenset[str]:
        """Return the large pictures' name where a content's are wanted and not there."""
        if self.shelf is None:
            return NOTHING
        there = digest in self.drawn or (
            not self.request.again and self.shelf.get(digest) is not None
        )
        return NOTHING if there else frozenset({LARGE})

    def has_changed(self, file: CardFile) -> bool:
        """Tell whether a file is another by now than the one that was read."""
        look = self.looks.get(file.id)
        return look is not None and has_changed(file.path, look)

    def _task(self, file: CardFile) -> ExamineTask:
        lacking = {digest: self._lacks(digest) for digest in self.store.contents_like(_look(file))}
        return ExamineTask(
            file.path,
            file.kind,
            self.request.settings.measure,
            lacking={
                digest: NOTHING
                if isinstance(lacks, FrameFailure)
                else lacks | self._undrawn(digest)
                for digest, lacks in lacking.items()
            },
            of_others=all_names() | ({LARGE} if self.shelf else NOTHING),
        )

    def undrawn(self, files: Sequence[CardFile]) -> list[CardFile]:
        """Return of each content that lies untouched and lacks its large pictures one file."""
        known = {self.digests[file.id]: file for file in files if file.id in self.digests}
        return [file for digest, file in known.items() if self._undrawn(digest)]

    def examine(self, files: Sequence[CardFile], *, drawing_only: bool = False) -> None:
        """Read files, and measure what is new in them, or make nothing but large pictures."""
        tasks = [self._task(file) for file in files]
        if drawing_only:
            wanted = [{self.digests[file.id]: frozenset({LARGE})} for file in files]
            tasks = [
                replace(task, lacking=lacking, of_others=NOTHING)
                for task, lacking in zip(tasks, wanted, strict=True)
            ]
        else:
            self.failures |= {file.id: INTERRUPTED for file in files}
        if self.stopped or not files:
            return
        request, engine = self.request, self.engine
        # what a cluster's machines read this one need not
        local = [] if request.cluster else [task.path for task in tasks if not is_url(task.path)]
        with ReadAhead(local, request.workers or usable_cores()) as ahead:
            try:
                for outcome in engine.run(examine_packed, tasks):
                    file = files[outcome.index]
                    if drawing_only:
                        self._shelve(outcome.value)
                    else:
                        self._keep(file, outcome)
                    if outcome.value is not None:
                        self.spent += outcome.value.spent
                        self.listener.spent(self.spent)
                    if outcome.trace:  # of a fault of ours
                        keep_trace(file.path, outcome.trace)
                    self.listener.examined(file.file, self.failures.get(file.id))
                    ahead.ended(reading_share=self.spent.reading_share)
            except KeyboardInterrupt:
                self.stopped = True
                engine.close()  # what is under way is waited for no more
            except EngineLost as error:
                kept = calls.KEPT * request.keep_store
                raise EngineLost(f"{error}{kept}") from error
            finally:
                self.store.commit()

    def draw(self, files: Sequence[CardFile]) -> None:
        """Make the large pictures of measured files; one that fails costs its pictures only."""
        self.examine(files, drawing_only=True)
        lost = [file for file in files if self._undrawn(self.digests[file.id])]
        if lost and not self.stopped:
            more = f" and {len(lost) - 1} more" if len(lost) > 1 else ""
            self.listener.warning(calls.NO_LARGE.format(file=lost[0].file, more=more))

    def _keep(self, file: CardFile, outcome: Outcome[Examined]) -> None:
        """Store one outcome; ``failures`` then holds exactly the files that are not measured.

        In this order: the interrupt key may be pressed while the store writes.
        """
        if outcome.value is None:
            self.failures[file.id] = outcome.failure or INTERRUPTED
            return
        read = outcome.value
        if read.look != self.looks.get(file.id, file.look):
            self.listener.warning(calls.CHANGED.format(file=file.file))
        if read.result is not None:
            self.store.put(read.digest, self.request.settings.measure, read.result)
            failed = read.result if isinstance(read.result, FrameFailure) else None
            self.ended[read.digest] = failed
        self._shelve(read)
        self.store.note_content(read.look, read.digest)
        self.digests[file.id], self.looks[file.id] = read.digest, read.look
        lacks = self._lacks(read.digest)
        if isinstance(lacks, FrameFailure):
            self.failures[file.id] = lacks
        elif not lacks:
            del self.failures[file.id]

    def _shelve(self, read: Examined | None) -> None:
        """Keep large pictures; where that cannot be, the audit does without from here on."""
        if self.shelf is None or read is None or read.pictures is None:
            return
        try:
            self.shelf.put(read.digest, read.pictures)
        except CannotWrite as error:
            self.listener.warning(calls.LARGE_MISSING.format(reason=error))
            self.shelf = None
        else:
            self.drawn.add(read.digest)

    def tidy_shelf(self) -> None:
        """Note which pictures are in use; where some are new, see that there is room."""
        if self.shelf is not None:
            used = set(self.digests.values())
            self.shelf.note_used(used)
            if self.drawn:
                self.shelf.prune(used)

    def whole(self, file: CardFile) -> bool | None:
        """Tell whether a file shows no damage; None where it could not be read."""
        failure = self.failures.get(file.id)
        if failure is not None:
            return False if failure.kind is FailureKind.DAMAGED else None
        measured = self.store.get(self.digests[file.id], self.request.settings.measure)
        return isinstance(measured, FrameMeasurement) and not measured.mosaic.damage


def _with_copies(files: Sequence[CardFile], work: _Work) -> tuple[CardFile, ...]:
    """Give each file its digest, its copies, and what ought to be a copy and is not."""
    digests = {file.id: work.digests.get(file.id, "") for file in files}
    alike = _grouped((digests[file.id], file) for file in files)
    related = _grouped((_look(file).ends, file) for file in files)

    def identified(file: CardFile) -> CardFile:
        digest = digests[file.id]
        same = [other.id for other in alike[digest] if digest and other.id != file.id]
        unlike = [o for o in related[_look(file).ends] if digests[o.id] != digest]
        return replace(
            file,
            content_key=digest,
            also_at=tuple(same),
            differing_copies=tuple(
                DifferingCopy(other.id, other.input_index + 1, work.whole(other))
                for other in unlike
            ),
            look=None,
        )

    return tuple(identified(file) for file in files)


def _grouped(pairs: Iterable[tuple[str, CardFile]]) -> Mapping[str, list[CardFile]]:
    groups: defaultdict[str, list[CardFile]] = defaultdict(list)
    for key, file in pairs:
        groups[key].append(file)
    return groups
