"""The HTML report: one file that opens from disk and asks nothing of any network."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.outcome import Engine
from auditor.model.shoot import Fetching, MeasurementSource, done_with_frames
from auditor.report.bundle import bundle
from auditor.report.frame_records import FrameSheet
from auditor.report.html_data import (
    AT_ONCE,
    CHUNK,
    as_json,
    detail_data,
    packed,
    page_data,
    record_data,
    unbroken,
)
from auditor.report.page_pictures import fitted, frame_pictures
from auditor.report.page_records import Page
from auditor.report.picture_files import PICTURES_FOLDER, PictureFiles
from auditor.report.style import PAGE_PATTERNS, palette_css
from auditor.words.page import OUTCOME_MEANINGS, OUTCOMES

STYLES = (
    "base.css",
    "shell.css",
    "overview.css",
    "frames.css",
    "closeup.css",
    "setups.css",
    "paper.css",
)

PAGE = "report.html"

SMALL_PICTURE_BYTES = 5200
"""Of a small picture in the page: in base64 a third more, so that with all that is told of it a
frame takes less than 10 kB."""

ROOMY_UP_TO = 100
"""Up to so many frames, small pictures stay as they were stored, and the camera's own previews
lie in the page too; from there on previews are files beside it."""


def html_files(
    audit: Audit,
    page: Page,
    measurements: MeasurementSource,
    *,
    files: Mapping[str, PictureFiles] | None = None,
    small: bool = True,
    roomy_up_to: int = ROOMY_UP_TO,
    engine: Engine | None = None,
) -> Iterator[tuple[str, bytes | Iterable[bytes]]]:
    """Yield the pictures that lie beside the page, then the page, whole in one file, in pieces.

    No memory holds the pictures of all frames, nor the page as one text.

    Parameters
    ----------
    audit : Audit
    page : Page
        The audit in words.
    measurements : MeasurementSource
        Asked once for each measured frame, in the page's order.
    files : mapping of frame id to PictureFiles
        Large pictures that lie beside the page.
    small : bool
        Whether small pictures are shown.
    roomy_up_to : int
        See :data:`ROOMY_UP_TO`.
    engine : Engine, optional
        Packs what is shown of frames; without one that is done here.
    """
    numbers = {frame.id: number for number, frame in enumerate(page.frames)}
    setups = [record_data(setup, numbers, without=AT_ONCE) for setup in page.setups]
    script, style = page_script(), page_style(STYLES)
    results, many = {frame.id: frame for frame in audit.frames}, len(page.frames)
    work: list[Fetching[_Packed]] = []
    for start in range(0, many, CHUNK):
        sheets = page.frames[start : start + CHUNK]
        own = [results[sheet.id] for sheet in sheets]
        beside = {one.id: files[one.id] for one in own if one.id in files} if files else {}
        shown = _Shown(start + 1, sheets, own, beside)
        pack = partial(shown.packed, small=small, roomy=many <= roomy_up_to)
        measured = [one.id for one in own if one.status == FrameStatus.MEASURED]
        given = partial(partial[_Packed], pack)
        work.append(Fetching(given=given, measurements=measurements, frame_ids=measured))
    chunks: dict[int, tuple[str, Markup]] = {}
    some_beside = False
    for place, told in done_with_frames(engine, work):
        chunks[place] = told.details, Markup(told.addresses)
        some_beside = some_beside or bool(told.beside)
        yield from told.beside
    # this very script and style, and pictures that need no network; nothing else
    outside = " 'self' file:" if some_beside or files else ""
    pieces = page_template("report.html.j2").generate(
        page=page,
        number=numbers.get,
        patterns=PAGE_PATTERNS,
        data=Markup(as_json(page_data(page, numbers))),
        chunks=[chunks[place] for place in range(len(chunks))],
        setups=[packed(setups[start : start + CHUNK]) for start in range(0, len(setups), CHUNK)],
        outcomes=[(text, OUTCOME_MEANINGS[outcome]) for outcome, text in OUTCOMES.items()],
        script=Markup(script),
        style=Markup(style),
        policy=f"default-src 'none'; script-src {digest(script)}; style-src {digest(style)}; "
        f"img-src data:{outside}; base-uri 'none'; form-action 'none'",
    )
    yield PAGE, (piece.encode("utf-8", "replace") for piece in pieces)


@cache
def page_template(name: str) -> Template:
    """Return a page's template, compiled."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters.update(unbroken=unbroken, address=data_address)
    return environment.from_string(_part(name))


def _part(name: str) -> str:
    return files("auditor.report").joinpath("templates", name).read_text(encoding="utf-8")


@cache
def page_script() -> str:
    """Return the page's one script, joined from its modules."""
    return bundle("main.js", lambda name: _part(f"script/{name}"))


@cache
def page_style(names: Sequence[str]) -> str:
    """Return one style sheet: the palette, then the parts of that name."""
    return palette_css() + "\n".join(_part(f"style/{name}") for name in names)


def digest(text: str) -> str:
    """Return what a content policy knows a script or a style by."""
    found = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{b64encode(found).decode('ascii')}'"


@dataclass(frozen=True, slots=True)
class _Packed:
    """What is shown of some frames, as it stands in the page.

    Parameters
    ----------
    details, addresses : str
        Of the frames; where their pictures are found.
    beside : sequence of (str, bytes)
        Previews that lie beside the page.
    """

    details: str
    addresses: str
    beside: Sequence[tuple[str, bytes]]


@dataclass(frozen=True, slots=True)
class _Shown:
    """Some frames that follow one another, the first of them of that number."""

    first: int
    sheets: Sequence[FrameSheet]
    results: Sequence[FrameResult]
    files: Mapping[str, PictureFiles]

    def packed(self, measurements: MeasurementSource, *, small: bool, roomy: bool) -> _Packed:
        """Pack what is shown of them one by one: details, which pack well, and pictures, packed.

        Pictures are needed while scrolling: they stay as they are.
        """
        details, addresses, beside = [], [], []
        frames = zip(self.sheets, self.results, strict=True)
        for number, (sheet, frame) in enumerate(frames, self.first):
            found = frame_pictures(frame, measurements)
            details.append(detail_data(sheet, found, self.files.get(sheet.id)))
            address: dict[str, str | None] = {"small": None, "preview": None}
            addresses.append(address)
            if found is None or not small:
                continue
            thumb = found.thumb if roomy else fitted(found.thumb, SMALL_PICTURE_BYTES)
            address["small"] = data_address(thumb)
            if found.preview is not None and roomy:
                address["preview"] = data_address(found.preview)
            elif found.preview is not None:
                name = address["preview"] = f"{PICTURES_FOLDER}/preview-{number:06d}.jpg"
                beside.append((name, found.preview))
        return _Packed(packed(details), as_json(addresses), beside)


def data_address(jpeg: bytes) -> str:
    """Return the address of a picture that lies within the page."""
    return "data:image/jpeg;base64," + b64encode(jpeg).decode("ascii")
