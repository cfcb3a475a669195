"""Floor 4: the Python interface. What the command does, importable and typed.

>>> from auditor.api import audit_shoot, rows
>>> audit = audit_shoot("/media/card")                                # doctest: +SKIP
>>> held = [row for row in rows(audit, "frames") if row["verdict"] == "held"]  # doctest: +SKIP

Importing this is quick: what decodes, judges or draws is loaded when it is first asked for.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any

from auditor.findings.base import FrameView
from auditor.findings.extension import FindingExtension, FormatExtension
from auditor.model.audit import Audit, FrameResult, SiblingPair
from auditor.model.errors import AuditorError, FrameFailure, Stopped, WrongCall
from auditor.model.facts import Position
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.history import History, KnownFilter
from auditor.model.outcome import ProgressListener
from auditor.model.settings import (
    GroupSettings,
    JudgeSettings,
    MeasureSettings,
    PrintSettings,
    Settings,
    load_settings,
)
from auditor.words import calls
from auditor.words.nd_plan import nd_kit, nd_time, nd_want

if TYPE_CHECKING:
    from auditor.apply import apply_marks, undo_marks
    from auditor.measurements import MeasuredFrame, MeasuredPlane, measurements
    from auditor.past import remembered_filters as filters
    from auditor.past import remembered_history as history
    from auditor.report.json_reader import read_audit
    from auditor.report.json_report import json_schema
    from auditor.report.plain_records import audit_to_plain
    from auditor.report.plots import (
        plot_filter_map,
        plot_histogram,
        plot_pair,
        plot_timeline,
    )
    from auditor.report.tables import rows
    from auditor.words.kinds import finding_kinds

__all__ = [
    "Audit",
    "AuditorError",
    "Finding",
    "FindingExtension",
    "FindingKind",
    "FormatExtension",
    "FrameResult",
    "FrameView",
    "GroupSettings",
    "History",
    "JudgeSettings",
    "KnownFilter",
    "MeasureSettings",
    "MeasuredFrame",
    "MeasuredPlane",
    "Position",
    "PrintSettings",
    "Progress",
    "Settings",
    "Severity",
    "SiblingPair",
    "Stopped",
    "apply_marks",
    "audit_frame",
    "audit_shoot",
    "audit_to_plain",
    "filters",
    "finding_kinds",
    "history",
    "json_schema",
    "load_settings",
    "measurements",
    "nd_kit",
    "nd_time",
    "nd_want",
    "plot_filter_map",
    "plot_histogram",
    "plot_pair",
    "plot_timeline",
    "read_audit",
    "rows",
    "undo_marks",
]

_LATE = {
    "apply_marks": ("auditor.apply", "apply_marks"),
    "undo_marks": ("auditor.apply", "undo_marks"),
    "filters": ("auditor.past", "remembered_filters"),
    "history": ("auditor.past", "remembered_history"),
    "json_schema": ("auditor.report.json_report", "json_schema"),
    "audit_to_plain": ("auditor.report.plain_records", "audit_to_plain"),
    "measurements": ("auditor.measurements", "measurements"),
    "MeasuredFrame": ("auditor.measurements", "MeasuredFrame"),
    "MeasuredPlane": ("auditor.measurements", "MeasuredPlane"),
    "read_audit": ("auditor.report.json_reader", "read_audit"),
    "plot_filter_map": ("auditor.report.plots", "plot_filter_map"),
    "plot_histogram": ("auditor.report.plots", "plot_histogram"),
    "plot_pair": ("auditor.report.plots", "plot_pair"),
    "plot_timeline": ("auditor.report.plots", "plot_timeline"),
    "rows": ("auditor.report.tables", "rows"),
    "finding_kinds": ("auditor.words.kinds", "finding_kinds"),
}
"""Name to where it lives: loaded when it is first asked for."""


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, there = _LATE[name]
    found = globals()[name] = getattr(import_module(module), there)
    return found


def __dir__() -> list[str]:
    return __all__


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an audit is.

    Parameters
    ----------
    stage : str
        In words: "Measuring", "Judging the frames", "Writing the reports", "Drawing".
    done, total : int
        Files or pictures of this stage; both 0 where it is not counted.
    file : str
        The file that ended last; empty outside of measuring.
    failed : bool
        Whether that file could not be measured.

    Examples
    --------
    >>> from auditor.api import Progress
    >>> Progress("Measuring", 3, 12, "DCIM/100/A_0003.DNG")
    Progress(stage='Measuring', done=3, total=12, file='DCIM/100/A_0003.DNG', failed=False)
    """

    stage: str
    done: int = 0
    total: int = 0
    file: str = ""
    failed: bool = False


class _Told(ProgressListener):
    """Hands what an audit tells of its course to a callback, and stops it when that is wished."""

    def __init__(self, tell: Callable[[Progress], object] | None, stop: Event | None) -> None:
        self._tell, self._stop = tell, stop
        self._done = self._total = 0

    def _told(self, progress: Progress) -> None:
        if self._stop is not None and self._stop.is_set():
            raise Stopped(calls.STOPPED_AS_ASKED)
        if self._tell is not None:
            self._tell(progress)

    def found(self, files: int, known: int, copies: int) -> None:
        self._done, self._total = known, files
        self._told(Progress("Measuring", known, files))

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        self._done = min(self._done + 1, self._total)
        told = Progress("Measuring", self._done, self._total, file, failure is not None)
        self._told(told)

    def stage(self, text: str) -> None:
        self._told(Progress(text))

    def drawn(self, done: int, pictures: int) -> None:
        self._told(Progress("Drawing", done, pictures))

    def warning(self, text: str) -> None:
        warnings.warn(text, stacklevel=2)


def audit_shoot(
    paths: str | Path | Sequence[str | Path],
    out: str | Path | None = None,
    *,
    settings: Settings | None = None,
    formats: str | Sequence[str] = (),
    workers: int | None = None,
    cluster: str | None = None,
    store: str | Path | None = None,
    again: bool = False,
    place: Position | None = None,
    replace: bool = False,
    progress: Callable[[Progress], object] | None = None,
    stop: Event | None = None,
) -> Audit:
    """Audit files and folders and return the whole audit.

    Parameters
    ----------
    paths : path or sequence of path
        Files and folders; never written to. One may stand by itself.
    out : path, optional
        Where reports go; must be given when ``formats`` names any.
    settings : Settings, optional
        Limits of your own; the defaults without one.
    formats : str or sequence of str
        Of "html", "png", "json", "csv", "md", "pdf" and what extensions bring; none by default.
    workers : int, optional
        Processes that decode; the cores there are by default.
    cluster : str, optional
        Address of a Dask scheduler that measures in their place.
    store : path, optional
        A store to remember measurements in; none by default. With one, files that it knows are
        not decoded again.
    again : bool
        Measure every file anew, whatever the store holds of it.
    place : Position, optional
        Where the pictures were taken, for files that hold no position.
    replace : bool
        Whether another shoot's audit in that folder, or somebody else's files, may be replaced.
    progress : callable, optional
        Is told a :class:`Progress` as the work goes on, in the thread of the caller.
    stop : threading.Event, optional
        Set it, from the callback or from another thread, and the audit stops at the next file.

    Returns
    -------
    Audit
        Every frame, group and finding.

    Raises
    ------
    AuditorError
        The call was wrong or nothing could be written.
    Stopped
        ``stop`` was set. What was measured is in the store.
    KeyboardInterrupt
        The interrupt key was pressed. What was measured is in the store.

    Warns
    -----
    UserWarning
        Something is worth knowing and stops nothing: a path without raw files, copies that differ.

    Notes
    -----
    Decoding runs in processes of its own, started afresh: guard your script's entry with
    ``if __name__ == "__main__":`` as :mod:`multiprocessing` asks for.

    Examples
    --------
    >>> from auditor.api import audit_shoot
    >>> audit = audit_shoot("/media/card", store="memory.sqlite")  # doctest: +SKIP
    >>> audit.frames[0].headroom_stops                             # doctest: +SKIP
    1.43
    """
    from auditor.audit import run_audit  # noqa: PLC0415
    from auditor.request import AuditRequest  # noqa: PLC0415

    if formats and out is None:
        raise WrongCall(calls.NO_OUT)
    with tempfile.TemporaryDirectory(prefix="exposure-auditor-") as aside:
        request = AuditRequest(
            paths=_each(paths),
            out=Path(aside if out is None else out),
            formats=_each(formats),
            settings=settings or Settings(),
            workers=workers,
            cluster=cluster,
            store=None if store is None else Path(store),
            keep_store=store is not None,
            again=again,
            place=place,
            replace=replace,
        )
        audit = run_audit(request, _Told(progress, stop)).audit
    if not audit.complete:  # the command reports what it has; here the interrupt is the caller's
        raise KeyboardInterrupt
    return audit


def audit_frame(
    path: str | Path,
    *,
    settings: Settings | None = None,
    store: str | Path | None = None,
    place: Position | None = None,
) -> FrameResult:
    """Measure and judge one raw file; nothing is written.

    Parameters
    ----------
    path : path
        The raw file; never written to.
    settings : Settings, optional
        Limits of your own; the defaults without one.
    store : path, optional
        What earlier audits remember. Where one holds this frame's shoot, the frame is judged among
        its sisters; else by the levels that other shoots measured. Without a store the frame is
        judged by itself.
    place : Position, optional
        Where the picture was taken, for a file that holds no position.

    Returns
    -------
    FrameResult
        Its status is "unreadable" and its ``error`` says why where the file cannot be measured.

    Raises
    ------
    WrongCall
        There is no such file, or it is a folder.
    StoreRefused
        The store cannot be opened.

    Examples
    --------
    >>> from auditor.api import audit_frame
    >>> frame = audit_frame("/media/card/DCIM/100/IMG_0042.DNG")  # doctest: +SKIP
    >>> frame.verdict                                             # doctest: +SKIP
    'held'
    """
    from auditor.single import judge_file  # noqa: PLC0415

    return judge_file(path, settings or Settings(), store, place).result


def _each(given: str | Path | Sequence[str | Path]) -> tuple[str, ...]:
    """Return what is given as texts; a text by itself is one, not its letters."""
    several = (given,) if isinstance(given, str | Path) else given
    return tuple(str(one) for one in several)
