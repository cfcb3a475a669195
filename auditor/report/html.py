"""The HTML report: one file that opens from disk and asks nothing of any network."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from auditor.model.audit import Audit, FrameResult
from auditor.model.findings import FindingKind
from auditor.model.shoot import MeasurementSource
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
from auditor.report.page import build_page
from auditor.report.page_pictures import fitted, frame_pictures
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
    measurements: MeasurementSource,
    kinds: Mapping[str, FindingKind],
    *,
    files: Mapping[str, PictureFiles] | None = None,
    small: bool = True,
    roomy_up_to: int = ROOMY_UP_TO,
) -> Iterator[tuple[str, bytes | Iterable[bytes]]]:
    """Yield the pictures that lie beside the page, then the page, whole in one file, in pieces.

    No memory holds the pictures of all frames, nor the page as one text.

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
    """
    page = build_page(audit, kinds)
    numbers = {frame.id: number for number, frame in enumerate(page.frames)}
    setups = [record_data(setup, numbers, without=AT_ONCE) for setup in page.setups]
    script, style = page_script(), page_style(STYLES)
    results = {frame.id: frame for frame in audit.frames}
    shown = _Shown(measurements, files or {}, small=small, roomy=len(page.frames) <= roomy_up_to)
    chunks: list[tuple[str, Markup]] = []
    for start in range(0, len(page.frames), CHUNK):
        details, addresses = [], []
        for number, sheet in enumerate(page.frames[start : start + CHUNK], start + 1):
            detail, address, preview = shown.data(number, sheet, results[sheet.id])
            details.append(detail)
            addresses.append(address)
            if preview is not None and address["preview"] is not None:
                yield address["preview"], preview
        chunks.append((packed(details), Markup(as_json(addresses))))
    # this very script and style, and pictures that need no network; nothing else
    outside = " 'self' file:" if shown.some_beside or files else ""
    pieces = page_template("report.html.j2").generate(
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


@dataclass(slots=True)
class _Shown:
    """What is shown of frames one by one: details, which pack well, and pictures, packed already.

    Pictures are needed while scrolling: they stay as they are.
    """

    measurements: MeasurementSource
    files: Mapping[str, PictureFiles]
    small: bool
    roomy: bool
    some_beside: bool = False
    """Whether some preview lies beside the page."""

    def data(
        self, number: int, sheet: FrameSheet, frame: FrameResult
    ) -> tuple[dict[str, Any], dict[str, str | None], bytes | None]:
        """Return a frame's details, its pictures' addresses, and the preview to lay beside."""
        found = frame_pictures(frame, self.measurements)
        detail = detail_data(sheet, found, self.files.get(sheet.id))
        address: dict[str, str | None] = {"small": None, "preview": None}
        if found is None or not self.small:
            return detail, address, None
        thumb = found.thumb if self.roomy else fitted(found.thumb, SMALL_PICTURE_BYTES)
        address["small"] = data_address(thumb)
        if found.preview is not None and self.roomy:
            address["preview"] = data_address(found.preview)
        elif found.preview is not None:
            address["preview"] = f"{PICTURES_FOLDER}/preview-{number:06d}.jpg"
            self.some_beside = True
            return detail, address, found.preview
        return detail, address, None


def data_address(jpeg: bytes) -> str:
    """Return the address of a picture that lies within the page."""
    return "data:image/jpeg;base64," + b64encode(jpeg).decode("ascii")
