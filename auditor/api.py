"""Floor 4: the Python interface. What the command does, importable and typed.

>>> from auditor.api import audit_shoot, frame_rows
>>> audit = audit_shoot(["/media/card"])                      # doctest: +SKIP
>>> held = [row for row in frame_rows(audit) if row["verdict"] == "held"]  # doctest: +SKIP

The rows are plain dictionaries of texts, numbers, booleans and None, one kind of record a
function: ``pandas.DataFrame(frame_rows(audit))`` is a table.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from auditor.apply import apply_marks, undo_marks
from auditor.audit import AuditEnd, run_audit
from auditor.light.nd_plan import plan_nd_time
from auditor.model.audit import Audit, FrameResult, SiblingPair
from auditor.model.errors import AuditorError, FrameFailure, WrongCall
from auditor.model.findings import FindingKind
from auditor.model.outcome import Spent
from auditor.model.settings import Settings
from auditor.past import remembered_filters, remembered_history
from auditor.report.json_report import json_schema
from auditor.report.plain_records import audit_to_plain
from auditor.request import AuditRequest, Watch
from auditor.single import audit_frame
from auditor.words.kinds import KINDS

__all__ = [
    "Audit",
    "AuditEnd",
    "AuditRequest",
    "AuditorError",
    "Settings",
    "SilentWatch",
    "apply_marks",
    "audit_frame",
    "audit_shoot",
    "audit_to_plain",
    "channel_rows",
    "finding_kinds",
    "frame_rows",
    "json_schema",
    "plan_nd_time",
    "remembered_filters",
    "remembered_history",
    "run_audit",
    "sibling_rows",
    "undo_marks",
]

Cell = str | float | int | bool | None


class SilentWatch:
    """A watch that shows nothing and keeps the warnings."""

    def __init__(self) -> None:
        self.warnings: list[str] = []

    def found(self, files: int, known: int, copies: int) -> None:
        """Pass over the count."""

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Pass over the file; the audit holds what became of it."""

    def spent(self, spent: Spent) -> None:
        """Pass over what it took."""

    def stage(self, text: str) -> None:
        """Pass over the stage."""

    def drawn(self, done: int, pictures: int) -> None:
        """Pass over the count."""

    def warning(self, text: str) -> None:
        """Keep the warning."""
        self.warnings.append(text)


def audit_shoot(
    paths: str | Path | Sequence[str | Path],
    out: str | Path | None = None,
    *,
    settings: Settings | None = None,
    formats: str | Sequence[str] = (),
    workers: int | None = None,
    store: str | Path | None = None,
    watch: Watch | None = None,
    replace: bool = False,
) -> Audit:
    """Audit files and folders and return the whole audit.

    Parameters
    ----------
    paths : path or sequence of path
        Files and folders; never written to. One may stand by itself.
    out : Path, optional
        Where reports go; must be given when ``formats`` names any.
    formats : str or sequence of str
        Of "html", "png", "json", "csv", "md"; none by default.
    store : Path, optional
        A store to remember measurements in; none by default.
    replace : bool
        Whether another shoot's audit in that folder, or somebody else's files, may be replaced.

    Raises
    ------
    AuditorError
        The call was wrong or nothing could be written.

    Notes
    -----
    Decoding runs in processes of its own, started afresh: guard your script's entry with
    ``if __name__ == "__main__":`` as :mod:`multiprocessing` asks for.
    """
    if formats and out is None:
        raise WrongCall("Reports are asked for and no folder is: give out as well as formats.")
    with tempfile.TemporaryDirectory(prefix="exposure-auditor-") as aside:
        request = AuditRequest(
            paths=_each(paths),
            out=Path(aside if out is None else out),
            formats=_each(formats),
            settings=settings or Settings(),
            workers=workers,
            store=None if store is None else Path(store),
            keep_store=store is not None,
            replace=replace,
        )
        return run_audit(request, watch or SilentWatch()).audit


def _each(given: str | Path | Sequence[str | Path]) -> tuple[str, ...]:
    """Return what is given as texts; a text by itself is one, not its letters."""
    several = (given,) if isinstance(given, str | Path) else given
    return tuple(str(one) for one in several)


def finding_kinds() -> Mapping[str, FindingKind]:
    """Return every kind of finding by its code."""
    return dict(KINDS)


def frame_rows(audit: Audit) -> list[dict[str, Cell]]:
    """Return one row a frame: identity, exposure, shares, stops, verdict, finding codes."""
    return [_frame_row(frame) for frame in audit.frames]


def channel_rows(audit: Audit) -> list[dict[str, Cell]]:
    """Return one row a colour plane of a measured frame: every figure but the histogram."""
    return [row for frame in audit.frames for row in _channel_rows(frame)]


def sibling_rows(audit: Audit) -> list[dict[str, Cell]]:
    """Return one row a pair of a short frame and its filtered sibling."""
    return [_sibling_row(pair) for pair in audit.siblings]


def _frame_row(frame: FrameResult) -> dict[str, Cell]:
    exposure = frame.exposure
    return {
        "frame": frame.id,
        "status": frame.status,
        "error": None if frame.error is None else frame.error.code,
        "body": frame.camera.body,
        "lens": frame.lens.model,
        "focal_mm": frame.lens.focal_mm,
        "captured_at": frame.captured_at,
        "time_s": exposure.time_s,
        "f_number": exposure.f_number,
        "iso": exposure.iso,
        "ev100": exposure.ev100,
        "layout": frame.layout,
        "blown_fraction": frame.blown_fraction,
        "blown_all_fraction": frame.blown_all_fraction,
        "blocked_fraction": frame.blocked_fraction,
        "tone_range_stops": frame.tone_range_stops,
        "headroom_stops": frame.headroom_stops,
        "preview_early_stops": None if frame.preview is None else frame.preview.early_stops,
        "hot_per_megapixel": None if frame.hot_pixels is None else frame.hot_pixels.per_megapixel,
        "sharpness": frame.sharpness,
        "verdict": frame.verdict,
        "findings": " ".join(finding.code for finding in frame.findings),
    }


_CHANNEL_FIGURES = (
    "black_dn",
    "black_source",
    "saturation_dn",
    "saturation_source",
    "read_noise_dn",
    "gain_dn_per_e",
    "noise_floor_dn",
    "noise_source",
    "blown_fraction",
    "blocked_fraction",
    "zero_fraction",
    "headroom_stops",
    "shadow_room_stops",
    "median_stops",
    "mean_stops",
    "dynamic_range_stops",
)


def _channel_rows(frame: FrameResult) -> Iterator[dict[str, Cell]]:
    for channel in frame.channels:
        row: dict[str, Cell] = {"frame": frame.id, "channel": channel.name}
        row.update({figure: getattr(channel, figure) for figure in _CHANNEL_FIGURES})
        yield row


def _sibling_row(pair: SiblingPair) -> dict[str, Cell]:
    row: dict[str, Cell] = {
        "setup": pair.setup,
        "short": pair.short,
        "long": pair.long,
        "best": pair.best,
        "filter_stops": pair.filter_stops,
        "marking_stops": pair.nearest_marking.stops,
        "off_marking_stops": pair.off_marking_stops,
        "light_drift_stops": pair.light_drift_stops,
        "placement_difference_stops": pair.placement_difference_stops,
        "matched_time_s": pair.matched_time_s,
        "confidence": pair.confidence,
    }
    row.update({f"filter_stops_{name}": x for name, x in pair.filter_stops_by_channel.items()})
    row.update({f"cast_stops_{name}": x for name, x in pair.cast_stops.items()})
    return row
