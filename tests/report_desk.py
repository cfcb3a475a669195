"""Reports written into a folder in one call, drawn here, by what its record says."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from auditor.model.audit import Audit
from auditor.model.findings import FindingKind
from auditor.model.outcome import Engine
from auditor.model.shoot import MeasurementSource
from auditor.report.desk import Desk
from auditor.report.record import FolderRecord, load_record
from auditor.report.write import ReportJob
from auditor.report.write import write_reports as write


def write_reports(
    audit: Audit,
    measurements: MeasurementSource,
    kinds: Mapping[str, FindingKind],
    formats: Sequence[str],
    out: Path,
    *,
    look: Callable[[Path], None] = lambda _: None,
    engine: Engine | None = None,
) -> tuple[Path, ...]:
    """The files written; nothing is known of their contents, so all are made anew."""
    desk = Desk(load_record(out) or FolderRecord(out), look=look, engine=engine)
    write(ReportJob(audit, measurements, kinds), formats, desk)
    return tuple(desk.written)
