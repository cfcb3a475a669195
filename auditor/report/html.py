"""The HTML report: one file that opens from disk and asks nothing of any network."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from auditor.model.audit import Audit
from auditor.model.findings import FindingKind
from auditor.model.shoot import MeasurementSource
from auditor.report.bundle import bundle
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
from auditor.report.page import build_page
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

SMALL_PICTURE_BYTES = 5200
"""Of a small picture in the page: in base64 a third more, so that with all that is told of it a
frame takes less than 10 kB."""

ROOMY_UP_TO = 100
"""Up to so many frames, small pictures stay as they were stored, and the camera's own previews
lie in the page too; from there on previews are files beside it."""


@dataclass(frozen=True, slots=True)
class HtmlReport:
    """The report, and the files that must lie beside it (relative name to content)."""

    html: bytes
    beside: dict[str, bytes] = field(default_factory=dict)


def build_html(
    audit: Audit,
    measurements: MeasurementSource,
    kinds: Mapping[str, FindingKind],
    *,
    files: Mapping[str, PictureFiles] | None = None,
    small: bool = True,
    roomy_up_to: int = ROOMY_UP_TO,
) -> HtmlReport:
    """Write a whole audit as one HTML page.

    Parameters
    ----------
    audit : Audit
    measurements : MeasurementSource
        Asked once for each measured frame, in the page's order.
    kinds : mapping of str to FindingKind
        The registry of findings, by code.
    files : mapping of frame id to PictureFiles
        Large pictures that lie beside the page.
    small : bool
        Whether small pictures are shown.
    roomy_up_to : int
        See :data:`ROOMY_UP_TO`.

    Returns
    -------
    HtmlReport
    """
    page = build_page(audit, kinds)
    numbers = {frame.id: number for number, frame in enumerate(page.frames)}
    roomy = len(page.frames) <= roomy_up_to
    chunks, beside = _chunks(audit, page, measurements, files or {}, small=small, roomy=roomy)
    setups = [record_data(setup, numbers, without=AT_ONCE) for setup in page.setups]
    script, style = page_script(), page_style(STYLES)
    # this very script and style, and pictures that need no network; nothing else
    outside = " 'self' file:" if beside or files else ""
    html = page_template("report.html.j2").render(
        page=page,
        number=numbers.get,
        patterns=PAGE_PATTERNS,
        data=Markup(as_json(page_data(page, numbers))),
        chunks=chunks,
        setups=[packed(setups[start : start + CHUNK]) for start in range(0, len(setups), CHUNK)],
        outcomes=[(text, OUTCOME_MEANINGS[outcome]) for outcome, text in OUTCOMES.items()],
        script=Markup(script),
        style=Markup(style),
        policy=f"default-src 'none'; script-src {digest(script)}; style-src {digest(style)}; "
        f"img-src data:{outside}; base-uri 'none'; form-action 'none'",
    )
    return HtmlReport(html.encode("utf-8", "replace"), beside)


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


def _chunks(
    audit: Audit,
    page: Page,
    measurements: MeasurementSource,
    files: Mapping[str, PictureFiles],
    *,
    small: bool,
    roomy: bool,
) -> tuple[list[tuple[str, Markup]], dict[str, bytes]]:
    """Return details and small pictures, :data:`CHUNK` frames at a time, and previews beside.

    Details are text that packs well. Pictures are packed already, and are needed while scrolling:
    they stay as they are.
    """
    results = {frame.id: frame for frame in audit.frames}
    chunks: list[tuple[str, Markup]] = []
    beside: dict[str, bytes] = {}
    for start in range(0, len(page.frames), CHUNK):
        details, addresses = [], []
        for number, sheet in enumerate(page.frames[start : start + CHUNK], start + 1):
            found = frame_pictures(results[sheet.id], measurements)
            details.append(detail_data(sheet, found, files.get(sheet.id)))
            address: dict[str, str | None] = {"small": None, "preview": None}
            if found is not None and small:
                thumb = found.thumb if roomy else fitted(found.thumb, SMALL_PICTURE_BYTES)
                address["small"] = data_address(thumb)
                if found.preview is not None and roomy:
                    address["preview"] = data_address(found.preview)
                elif found.preview is not None:
                    name = f"{PICTURES_FOLDER}/preview-{number:06d}.jpg"
                    address["preview"], beside[name] = name, found.preview
            addresses.append(address)
        chunks.append((packed(details), Markup(as_json(addresses))))
    return chunks, beside


def data_address(jpeg: bytes) -> str:
    """Return the address of a picture that lies within the page."""
    return "data:image/jpeg;base64," + b64encode(jpeg).decode("ascii")
