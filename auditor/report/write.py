"""Write the reports: one reporter a format, each file whole or not at all."""

from __future__ import annotations

import hashlib
import json
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.files.program import program_digest
from auditor.findings.extension import format_extensions
from auditor.model.audit import Audit, FrameResult, SkyBalance
from auditor.model.codes import FrameStatus
from auditor.model.errors import CannotWrite
from auditor.model.findings import FindingKind, Severity
from auditor.model.large import LARGE, KeptPicture
from auditor.model.outcome import Engine
from auditor.model.shoot import MeasurementSource
from auditor.report.csv_report import csv_parts
from auditor.report.desk import Desk, Drawing, ReportFile
from auditor.report.frame_names import file_stems
from auditor.report.json_report import build_frame_json, json_parts
from auditor.report.picture_files import PictureFiles, all_sources, picture_files
from auditor.report.record import Left, digest
from auditor.report.style import SOFTWARE
from auditor.report.tables import build_parquet
from auditor.words import calls

if TYPE_CHECKING:
    from auditor.report.page_records import Page
    from auditor.report.png_contact import PlannedPage

SHEETS = "sheets"
LOST = Severity.LOST

APART_FROM = 2000
"""Fewer frames are written by this process: to start others takes as long as some 1,000 of them."""


@dataclass(frozen=True)
class ReportJob:
    """What every reporter is handed.

    Parameters
    ----------
    contents : mapping of frame id to str
        What each frame was measured from, so that unchanged pictures need not be drawn again.
    sheets : str
        Which frames get a sheet: of :data:`SHEETS_OF`.
    large : mapping of frame id to sequence of KeptPicture
        Large pictures that are laid beside the page.
    small : bool
        Whether small pictures lie in the page.
    """

    audit: Audit
    measurements: MeasurementSource
    kinds: Mapping[str, FindingKind]
    contents: Mapping[str, str] = field(default_factory=dict)
    sheets: str = "lost"
    large: Mapping[str, Sequence[KeptPicture]] = field(default_factory=dict)
    small: bool = True
    _timeless: list[str] = field(default_factory=list, init=False)
    """The digest of ``audit.json`` but for the moment, once that was written."""

    @cached_property
    def pictures(self) -> dict[str, PictureFiles]:
        """The files of the large pictures, by frame id."""
        return picture_files([frame.id for frame in self.audit.frames], self.large)

    @cached_property
    def page(self) -> Page:
        """The audit in words, for all formats that show them."""
        from auditor.report.page import build_page  # noqa: PLC0415 - figures alone need none

        return build_page(self.audit, self.kinds)

    def as_json(self, engine: Engine | None = None) -> Iterator[bytes]:
        """Yield the audit as ``audit.json``, piece by piece."""
        timeless, moment = hashlib.sha256(), json.dumps(self.audit.made_at).encode("ascii")
        for piece in json_parts(self.audit, engine):
            if piece != moment:
                timeless.update(piece)
            yield piece
        self._timeless[:] = [timeless.hexdigest()]

    @cached_property
    def made_of(self) -> str:
        """A digest of all that a report tells but the moment; empty where contents are unknown."""
        if not self.contents:
            return ""
        if not self._timeless:  # it was not written
            deque(self.as_json(), maxlen=0)
        shown = [(frame_id, one.large, one.crops) for frame_id, one in self.pictures.items()]
        told = [sorted(self.contents.items()), self.small, shown]
        return digest(program_digest(), *self._timeless, repr(told))

    def frame_made_of(self, frame: FrameResult) -> str:
        """Return a digest of all that a frame's sheet tells; empty where it is unknown."""
        content = self.contents.get(frame.id, "")
        told = build_frame_json(frame), repr(self.skies.get(frame.id))
        return content and digest(program_digest(), *told, content)

    @cached_property
    def skies(self) -> dict[str, SkyBalance]:
        """How the sky of each frame stands, of which something is said, by frame id."""
        return {sky.frame: sky for sky in reversed(self.audit.skies)}


def write_reports(job: ReportJob, formats: Sequence[str], desk: Desk) -> None:
    """Write an audit in each format into the folder of the desk's record.

    A file that cannot be made or written costs only itself: the others are written first, and
    pictures come last, so that no page waits for them. Without a large picture the page shows a
    small one, so that one which cannot be laid beside it is a remark, and no trouble.

    Parameters
    ----------
    formats : sequence of str
        Names in :data:`MAIN_FILES`.

    Raises
    ------
    CannotWrite
        Some file could not be made or written; the message names each.
    """
    record = desk.record
    for name in formats:
        # noted before it is written: a run that is killed leaves nothing that nobody knows
        record.files.setdefault(MAIN_FILES.get(name, name), Left(name))
    for name, _ in all_sources(job.pictures):
        record.files.setdefault(name, Left(LARGE))
    record.save()
    try:
        # figures first: what the page is made of is told while they are written
        for name in sorted(formats, key=lambda name: (name in DRAWN, name != "json")):
            _write_format(job, name, desk)
        desk.lay_beside(dict(all_sources(job.pictures)), LARGE)
    finally:
        record.save()
    if desk.troubles:
        raise CannotWrite(calls.NOT_ALL_WRITTEN + " ".join(desk.troubles))


def _write_format(job: ReportJob, form: str, desk: Desk) -> None:
    before = len(desk.troubles)
    known = [name for name, left in desk.record.files.items() if left.format == form]
    made_of = job.made_of if form in SLOW else ""
    if known and all(desk.record.still_holds(name, made_of) for name in known):
        for name in known:
            desk.keep(name)
        return
    names: set[str] = set()
    drawings: list[Drawing] = []
    with desk.noting(form):
        for file in _drawings(job) if form in DRAWN else _files(form, job, desk.engine):
            names.add(file.name)
            if isinstance(file, ReportFile):
                desk.write(file.name, form, file.make, made_of, lasting=file.lasting)
            elif desk.record.still_holds(file.name, file.made_of):
                desk.keep(file.name)
            else:
                drawings.append(file)
    desk.draw(drawings, form)
    if len(desk.troubles) == before:
        desk.drop_stale(form, names)
        if form in DRAWN:
            remove_stale(desk.record.folder, desk.written)


def _files(form: str, job: ReportJob, engine: Engine | None) -> Iterator[ReportFile | Drawing]:
    """Yield the files of one format; what takes a while to load is loaded for its format alone."""
    hands = engine if len(job.audit.frames) >= APART_FROM else None
    match form:
        case "html":
            from auditor.report.html import PAGE, html_files  # noqa: PLC0415

            handed = (job.audit, job.page, job.measurements)
            for name, parts in html_files(
                *handed, files=job.pictures, small=job.small, engine=hands
            ):
                make = partial(bytes, parts) if isinstance(parts, bytes) else partial(iter, parts)
                yield ReportFile(name, make, lasting=name == PAGE)
        case "json":
            yield ReportFile("audit.json", partial(job.as_json, hands))
        case "csv":
            yield ReportFile("frames.csv", partial(csv_parts, job.audit, hands))
        case "md":
            from auditor.report.markdown_report import markdown_parts  # noqa: PLC0415

            yield ReportFile("report.md", partial(markdown_parts, job.audit, job.page))
        case "pdf":
            from auditor.report.answer_pdf import build_answer  # noqa: PLC0415

            handed = (job.audit, job.page, job.measurements)
            yield ReportFile("answer.pdf", partial(build_answer, *handed))
        case "parquet":
            for name, content in build_parquet(job.audit):
                yield ReportFile(name, partial(bytes, content))
        case _:
            extension = format_extensions()[form]
            yield ReportFile(extension.file, partial(extension.build, job.audit))


def _drawings(job: ReportJob) -> Iterator[Drawing]:
    """Yield the contact sheet's pages and the frames' sheets; each fetches what it draws."""
    from auditor.report.png_contact import draw_page, planned_pages, thumbs_of  # noqa: PLC0415
    from auditor.report.png_frame import build_frame_sheet  # noqa: PLC0415

    def page_task(page: PlannedPage) -> Callable[[], bytes]:
        return partial(draw_page, page, thumbs_of(job.audit, job.measurements, page))

    def sheet_task(frame: FrameResult) -> Callable[[], bytes]:
        kinds = {one.code: job.kinds[one.code] for one in frame.findings if one.code in job.kinds}
        measured = job.measurements.measurement(frame.id)
        return partial(build_frame_sheet, frame, measured, kinds, job.skies.get(frame.id))

    for page in planned_pages(job.audit):
        yield Drawing(page.name, partial(page_task, page), job.made_of)
    frames = {frame.id: frame for frame in job.audit.frames}
    for frame_id, name in sheet_names(job.audit, job.sheets).items():
        task = partial(sheet_task, frames[frame_id])
        yield Drawing(f"{SHEETS}/{name}", task, job.frame_made_of(frames[frame_id]))


OWN_FILES: Mapping[str, str] = {
    "html": "report.html",
    "png": "contact-sheet.png",
    "json": "audit.json",
    "csv": "frames.csv",
    "md": "report.md",
    "pdf": "answer.pdf",
    "parquet": "frames.parquet",
}
"""The formats of this program, each with the file by which it is known in a folder."""

MAIN_FILES: Mapping[str, str] = {
    **OWN_FILES,
    **{name: one.file for name, one in format_extensions().items()},
}
"""The same with the formats of other packages."""

SLOW = frozenset({"html"})
"""Formats that are left as they are, moment and all, while nothing has changed that they tell."""

DRAWN = frozenset({"png"})
"""Formats of pictures: drawn by workers, after all others."""

SHEETS_OF = ("all", "lost", "none")
"""Which frames get a sheet: every measured one, those that lost something, or none."""


def is_flagged(frame: FrameResult) -> bool:
    """Whether a frame was measured and lost something: that is what a sheet is looked at for."""
    return frame.status == FrameStatus.MEASURED and any(f.severity is LOST for f in frame.findings)


def sheet_names(audit: Audit, sheets: str = "lost") -> dict[str, str]:
    """Return the file name of the sheet of each frame that gets one, by frame id; all different.

    Parameters
    ----------
    sheets : str
        Of :data:`SHEETS_OF`.
    """
    wanted = [
        frame.id
        for frame in audit.frames
        if {"all": frame.status == FrameStatus.MEASURED, "lost": is_flagged(frame)}.get(
            sheets, False
        )
    ]
    return {frame_id: f"{stem}.png" for frame_id, stem in file_stems(wanted, [".png"]).items()}


def remove_stale(out: Path, written: Sequence[Path]) -> None:
    """Remove pages and sheets of an earlier audit that this one does not have.

    Only pictures that say inside that this program made them are touched; one that cannot be
    read or removed stays, and so does one with its figures beside it: that is the sheet of one
    frame that was asked for by itself.
    """
    new = {path.name.casefold() for path in written}
    old = [*out.glob("contact-sheet-*.png"), *(out / SHEETS).glob("*.png")]
    for path in old:
        asked_for = path.with_suffix(".json").exists()
        if path.name.casefold() in new or asked_for or not path.is_file():
            continue
        with suppress(OSError):
            with path.open("rb") as stream:
                ours = b"Software\x00" + SOFTWARE.encode() in stream.read(200)
            if ours:
                path.unlink(missing_ok=True)
