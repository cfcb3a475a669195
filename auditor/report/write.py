"""Write the reports: one reporter a format, each file whole or not at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePosixPath

from auditor.files.atomic import write_bytes
from auditor.model.audit import Audit, FrameResult
from auditor.model.errors import AuditorError, CannotWrite
from auditor.model.faults import keep_trace, please_report, trace_of
from auditor.model.findings import FindingKind, Severity
from auditor.model.gallery import Gallery
from auditor.model.text import visible
from auditor.report.csv_report import build_csv
from auditor.report.json_report import build_json
from auditor.report.markdown_report import build_markdown
from auditor.report.style import SOFTWARE

SHEETS = "sheets"
LONGEST_NAME = 80
FLAGGED = (Severity.LOST, Severity.RISK)


@dataclass(frozen=True, slots=True)
class ReportJob:
    """What every reporter is handed."""

    audit: Audit
    gallery: Gallery
    kinds: Mapping[str, FindingKind]


@dataclass(frozen=True, slots=True)
class ReportFile:
    """One file to come.

    Parameters
    ----------
    name : str
        Path relative to the reports' folder, "/"-separated.
    make : callable
        Makes the content when its turn comes.
    """

    name: str
    make: Callable[[], bytes]


def write_reports(
    audit: Audit,
    gallery: Gallery,
    kinds: Mapping[str, FindingKind],
    formats: Sequence[str],
    out: Path,
    *,
    look: Callable[[Path], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Write the audit in each format into ``out``.

    A file that cannot be made or written costs only itself: the others are written first.

    Parameters
    ----------
    formats : sequence of str
        Names in :data:`REPORTERS`.
    look : callable
        Is shown each path before it is written; an AuditorError that it raises keeps the file
        from being made.

    Returns
    -------
    tuple of Path
        The files written, in order.

    Raises
    ------
    CannotWrite
        Some file could not be made or written; the message names each.
    """
    job = ReportJob(audit, gallery, kinds)
    written: list[Path] = []
    troubles: list[str] = []
    for name in formats:
        before = len(troubles)
        files = _written(REPORTERS[name](job), name, _Place(out, look), troubles)
        written += files
        if name == "png" and len(troubles) == before:
            remove_stale(out, files)
    if troubles:
        raise CannotWrite("Not every report could be written. " + " ".join(troubles))
    return tuple(written)


@dataclass(frozen=True, slots=True)
class _Place:
    """The reports' folder, and who looks at each path before it is written."""

    out: Path
    look: Callable[[Path], None]


def _written(
    files: Iterator[ReportFile], name: str, place: _Place, troubles: list[str]
) -> list[Path]:
    written: list[Path] = []
    try:
        for file in files:
            _write_one(file, place, written, troubles)
    except Exception as error:  # a fault in one reporter must not cost the others their files
        troubles.append(_told(name, error))
    return written


def _write_one(file: ReportFile, place: _Place, written: list[Path], troubles: list[str]) -> None:
    try:
        path = place.out.joinpath(*_inside(file.name))
        place.look(path)
        write_bytes(path, file.make())
    except AuditorError as error:
        troubles.append(str(error))
    except Exception as error:  # as above
        troubles.append(_told(file.name, error))
    else:
        written.append(path)


def _inside(name: str) -> tuple[str, ...]:
    parts = PurePosixPath(name).parts
    if not parts or any(part in ("/", "..") or "\\" in part for part in parts):
        raise ValueError("the name leads out of the reports' folder")
    return parts


def _told(name: str, error: Exception) -> str:
    keep_trace(name, trace_of(error))
    return f"{visible(name)}: could not be made. {visible(please_report(error))}"


def _html(job: ReportJob) -> Iterator[ReportFile]:
    # The template engine takes a while to load, and only this format needs it.
    from auditor.report.html import build_html  # noqa: PLC0415

    report = build_html(job.audit, job.gallery, job.kinds)
    for name, content in report.beside.items():
        yield ReportFile(name, partial(bytes, content))
    yield ReportFile("report.html", partial(bytes, report.html))


def _json(job: ReportJob) -> Iterator[ReportFile]:
    yield ReportFile("audit.json", partial(build_json, job.audit))


def _csv(job: ReportJob) -> Iterator[ReportFile]:
    yield ReportFile("frames.csv", partial(build_csv, job.audit))


def _markdown(job: ReportJob) -> Iterator[ReportFile]:
    yield ReportFile("report.md", partial(build_markdown, job.audit, job.kinds))


def _png(job: ReportJob) -> Iterator[ReportFile]:
    # The drawing libraries are slow to load: only when pictures are asked for.
    from auditor.report.png_contact import draw_page, planned_pages  # noqa: PLC0415
    from auditor.report.png_frame import build_frame_sheet  # noqa: PLC0415

    for page in planned_pages(job.audit):
        yield ReportFile(page.name, partial(draw_page, job.audit, job.gallery, page))
    frames = {frame.id: frame for frame in job.audit.frames}
    for frame_id, name in sheet_names(job.audit).items():
        sheet = partial(_sheet, build_frame_sheet, frames[frame_id], job)
        yield ReportFile(f"{SHEETS}/{name}", sheet)


def _sheet(build: Callable[..., bytes], frame: FrameResult, job: ReportJob) -> bytes:
    return build(frame, job.gallery.measurement(frame.id), job.kinds)


REPORTERS: Mapping[str, Callable[[ReportJob], Iterator[ReportFile]]] = {
    "html": _html,
    "png": _png,
    "json": _json,
    "csv": _csv,
    "md": _markdown,
}
"""One line a format."""


def is_flagged(frame: FrameResult) -> bool:
    """Whether a frame gets a sheet of its own: measured, and something lost or at risk."""
    return frame.status == "measured" and any(f.severity in FLAGGED for f in frame.findings)


def sheet_names(audit: Audit) -> dict[str, str]:
    """Return the file name of the sheet of each flagged frame, by frame id; all different."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for frame in audit.frames:
        if not is_flagged(frame):
            continue
        stem, number = safe_name(frame.id), 1
        name = f"{stem}.png"
        while name.casefold() in taken:
            number += 1
            name = f"{stem}-{number}.png"
        taken.add(name.casefold())
        names[frame.id] = name
    return names


def safe_name(frame_id: str) -> str:
    """Return a file name, without its ending, that every file system takes.

    Letters and digits of ASCII, dot, hyphen and underscore stay; all else becomes a hyphen.
    """
    kept = re.sub(r"[^A-Za-z0-9._-]+", "-", frame_id).strip("-.")
    kept = kept[-LONGEST_NAME:].strip("-.") or "frame"
    return f"_{kept}" if _RESERVED.match(kept) else kept


_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
"""Names of devices on one family of systems, whatever ending follows."""


def remove_stale(out: Path, written: Sequence[Path]) -> None:
    """Remove pages and sheets of an earlier audit that this one does not have.

    Only pictures that say inside that this program made them are touched; one that cannot be
    read or removed stays, and so does one with its figures beside it: that is the sheet of one
    frame that was asked for by itself.
    """
    new = {path.name.casefold() for path in written}
    old = [*out.glob("contact-sheet-*.png"), *(out / SHEETS).glob("*.png")]
    for path in old:
        if path.name.casefold() not in new:
            with suppress(OSError):
                _remove_if_ours(path)


def _remove_if_ours(path: Path) -> None:
    if path.is_file() and not path.with_suffix(".json").exists():
        with path.open("rb") as stream:
            ours = b"Software\x00" + SOFTWARE.encode() in stream.read(200)
        if ours:
            path.unlink(missing_ok=True)
