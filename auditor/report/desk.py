"""Where reports are put: each file whole, only what changed, pictures drawn by workers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from operator import call
from pathlib import Path, PurePosixPath
from typing import Any

from auditor.files.atomic import link_or_copy, write_bytes
from auditor.model.errors import AuditorError, FrameFailure
from auditor.model.faults import keep_trace, trace_of
from auditor.model.outcome import Engine, Outcome
from auditor.model.shoot import MeasurementLost
from auditor.model.text import visible
from auditor.report.record import FolderRecord, Left, digest, digest_of_file
from auditor.words.unread import NOT_MADE, SMALL_INSTEAD, please_report


@dataclass(frozen=True, slots=True)
class ReportFile:
    """One file to come.

    Parameters
    ----------
    name : str
        Path relative to the reports' folder, "/"-separated.
    make : callable
        Makes the content when its turn comes, whole or piece by piece.
    lasting : bool
        Whether to wait until it is on the medium; one of very many pictures is not worth that,
        and its digest tells when it was lost.
    """

    name: str
    make: Callable[[], bytes | Iterable[bytes]]
    lasting: bool = True


@dataclass(frozen=True, slots=True)
class Drawing:
    """One picture to come, drawn by a worker and only where it changed.

    Parameters
    ----------
    prepare : callable
        Fetches what is drawn when its turn comes; what it returns can be sent away, and draws.
    made_of : str
        A digest of all that is drawn; empty where that is unknown.
    """

    name: str
    prepare: Callable[[], Callable[[], bytes]]
    made_of: str = ""


@dataclass(slots=True)
class Desk:
    """Where and by whom reports are written.

    Parameters
    ----------
    record : FolderRecord
        Of the folder; tells what need not be made again, and is kept up to date.
    look : callable
        Is shown each path before it is written; an AuditorError that it raises keeps the file
        from being made.
    engine : Engine, optional
        Draws pictures; without one they are drawn here.
    progress : callable
        Is told how many of how many pictures are drawn.
    """

    record: FolderRecord
    look: Callable[[Path], None] = lambda _: None
    engine: Engine | None = None
    progress: Callable[[int, int], None] = lambda _done, _total: None
    written: list[Path] = field(default_factory=list)
    unchanged: int = 0
    troubles: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    """What went wrong and left every report whole."""

    def write(
        self,
        name: str,
        form: str,
        make: Callable[[], bytes | Iterable[bytes]],
        made_of: str = "",
        *,
        lasting: bool = True,
    ) -> None:
        """Make one file and put it in its place; a trouble is noted and costs only this file."""
        with self.noting(name):
            path = self._path(name)
            self.look(path)
            content = make()
            whole = digest(content) if isinstance(content, bytes) else ""
            if whole and self.record.has(name, whole):
                self.keep(name)
            else:
                write_bytes(path, content, lasting=lasting)
                self.written.append(path)
            self.record.files[name] = Left(form, made_of, whole or digest_of_file(path))

    def keep(self, name: str) -> None:
        """Leave a file as it is: it holds what would be written."""
        self.written.append(self._path(name))
        self.unchanged += 1

    def draw(self, drawings: Sequence[Drawing], form: str) -> None:
        """Draw pictures, in workers where there are any, and put each in its place as it ends."""
        prepared = _Prepared(drawings)
        outcomes: Iterator[Outcome[bytes]] = map(_drawn_here, range(len(drawings)), drawings)
        if self.engine is not None and drawings:
            outcomes = self.engine.run(call, prepared)
        for done, outcome in enumerate(outcomes, 1):
            drawing = drawings[outcome.index]
            if outcome.value is not None:
                self.write(drawing.name, form, partial(bytes, outcome.value), drawing.made_of)
            else:
                why = "" if outcome.failure is None else outcome.failure.message
                self.troubles.append(NOT_MADE.format(name=visible(drawing.name), why=visible(why)))
                if outcome.trace:
                    keep_trace(drawing.name, outcome.trace)
            self.progress(done, len(drawings))
            if prepared.lost is not None:
                raise prepared.lost

    def lay_beside(self, sources: Mapping[str, Path], form: str) -> None:
        """Lay files that are there already beside the reports: linked where they can be.

        Those that an earlier audit laid there and this one does not have are removed. Where one
        cannot be written no other will be.
        """
        try:
            for name, source in sources.items():
                path, left = self._path(name), self.record.files.get(name)
                with suppress(OSError):
                    as_long = path.stat().st_size == source.stat().st_size
                    if as_long and left is not None and left.made_of == source.name:
                        continue
                self.look(path)
                link_or_copy(source, path)
                self.record.files[name] = Left(form, source.name)
        except AuditorError as error:
            self.remarks.append(f"{error} {SMALL_INSTEAD}")
        self.drop_stale(form, {*sources})

    def drop_stale(self, form: str, names: set[str]) -> None:
        """Remove what an earlier audit of this folder left in that format and this one has not."""
        stale = [
            name
            for name, left in self.record.files.items()
            if left.format == form and name not in names
        ]
        for name in stale:
            with suppress(OSError, ValueError):
                self._path(name).unlink(missing_ok=True)
                del self.record.files[name]

    @contextmanager
    def noting(self, name: str) -> Iterator[None]:
        """Note what goes wrong inside this block as a trouble of that file or format."""
        try:
            yield
        except MeasurementLost:
            raise
        except AuditorError as error:
            self.troubles.append(str(error))
        except Exception as error:  # a fault in one report must not cost the others theirs
            keep_trace(name, trace_of(error))
            why = visible(please_report(error))
            self.troubles.append(NOT_MADE.format(name=visible(name), why=why))

    def _path(self, name: str) -> Path:
        parts = PurePosixPath(name).parts
        if not parts or any(part in ("/", "..") or "\\" in part for part in parts):
            raise ValueError("the name leads out of the reports' folder")
        return self.record.folder.joinpath(*parts)


class _Prepared(Sequence[Callable[[], bytes]]):
    """Drawings as tasks, each fetched when its turn comes: no memory holds them all."""

    def __init__(self, drawings: Sequence[Drawing]) -> None:
        self._drawings = drawings
        self.lost: MeasurementLost | None = None

    def __len__(self) -> int:
        return len(self._drawings)

    def __getitem__(self, place: Any) -> Any:
        try:
            return self._drawings[place].prepare()
        except MeasurementLost as lost:
            self.lost = lost
            raise


def _drawn_here(place: int, drawing: Drawing) -> Outcome[bytes]:
    try:
        return Outcome(place, drawing.prepare()())
    except MeasurementLost:
        raise
    except Exception as error:  # as a worker would tell it
        failure = FrameFailure("internal", please_report(error))
        return Outcome(place, None, failure, trace_of(error))
