"""The HTML report: one file that opens from disk and asks nothing of any network."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from auditor.model.audit import Audit
from auditor.model.findings import FindingKind
from auditor.model.gallery import Gallery
from auditor.report.html_data import (
    CHUNK,
    as_json,
    bracket_data,
    detail_data,
    grad_data,
    page_data,
    pair_data,
    picture_link,
    unbroken,
)
from auditor.report.page import build_page
from auditor.report.page_pictures import FramePictures, frame_pictures
from auditor.report.page_records import Page

SCRIPTS = (
    "core.js",
    "draw.js",
    "pictures.js",
    "glance.js",
    "setups.js",
    "marks.js",
    "cards.js",
    "choose.js",
    "detail.js",
    "main.js",
)
"""Joined in this order into the one script of the page."""

PREVIEWS_UP_TO = 400
"""In larger reports the camera's own previews are left out, for the file's sake."""

BESIDE_FROM = 3000
"""From this many frames on the thumbnails lie in a folder beside the file."""

BESIDE_FOLDER = "report-pictures"


@dataclass(frozen=True, slots=True)
class HtmlReport:
    """The report, and the files that must lie beside it (relative name to content)."""

    html: bytes
    beside: dict[str, bytes] = field(default_factory=dict)


def build_html(
    audit: Audit,
    gallery: Gallery,
    kinds: Mapping[str, FindingKind],
    *,
    beside_from: int = BESIDE_FROM,
) -> HtmlReport:
    """Write a whole audit as one HTML page.

    Parameters
    ----------
    audit : Audit
    gallery : Gallery
        Asked once for each measured frame, in the page's order.
    kinds : mapping of str to FindingKind
        The registry of findings, by code.
    beside_from : int
        From this many frames on, thumbnails are returned as files of their own.

    Returns
    -------
    HtmlReport
    """
    page = build_page(audit, kinds)
    numbers = {frame.id: number for number, frame in enumerate(page.frames)}
    beside: dict[str, bytes] = {}
    outside = len(page.frames) >= beside_from
    chunks = list(_chunks(audit, page, gallery, beside if outside else None))
    script, style = _script(), _part("report.css")
    html = (
        _environment(numbers)
        .from_string(_part("report.html.j2"))
        .render(
            page=page,
            number=numbers.get,
            data=Markup(as_json(page_data(page, numbers))),
            chunks=chunks,
            script=Markup(script),
            style=Markup(style),
            policy=_policy(script, style, outside=outside),
        )
    )
    return HtmlReport(html.encode("utf-8", "replace"), beside)


def _environment(numbers: Mapping[str, int]) -> Environment:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters.update(
        bracket=bracket_data, grad=grad_data, pair=pair_data, unbroken=unbroken
    )
    environment.tests["known"] = numbers.__contains__
    return environment


def _part(name: str) -> str:
    return files("auditor.report").joinpath("templates", name).read_text(encoding="utf-8")


def _script() -> str:
    return '(() => {\n"use strict";\n' + "\n".join(_part(name) for name in SCRIPTS) + "\n})();"


def _policy(script: str, style: str, *, outside: bool) -> str:
    """Allow this very script and style, and pictures that need no network; nothing else."""
    beside = " 'self' file:" if outside else ""
    return (
        f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; "
        f"img-src data:{beside}; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{b64encode(digest).decode('ascii')}'"


def _chunks(
    audit: Audit, page: Page, gallery: Gallery, beside: dict[str, bytes] | None
) -> Iterator[Markup]:
    """Yield the details of the frames as JSON, :data:`CHUNK` frames at a time."""
    results = {frame.id: frame for frame in audit.frames}
    link = _linker(len(page.frames), beside)
    for start in range(0, len(page.frames), CHUNK):
        details = []
        for number, sheet in enumerate(page.frames[start : start + CHUNK], start):
            pictures = frame_pictures(results[sheet.id], gallery)
            details.append(detail_data(sheet, pictures, link(number, pictures)))
        yield Markup(as_json(details))


Link = Callable[[int, FramePictures | None], list[str | None]]


def _linker(count: int, beside: dict[str, bytes] | None) -> Link:
    def inside(_: int, pictures: FramePictures | None) -> list[str | None]:
        if pictures is None:
            return [None, None]
        preview = pictures.preview if count <= PREVIEWS_UP_TO else None
        return [picture_link(pictures.thumb), picture_link(preview)]

    def outside(number: int, pictures: FramePictures | None) -> list[str | None]:
        if pictures is None or beside is None:
            return [None, None]
        name = f"{BESIDE_FOLDER}/{number + 1:06d}.jpg"
        beside[name] = pictures.thumb
        return [name, None]

    return inside if beside is None else outside
