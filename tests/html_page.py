"""Reports in words, in memory: the page in one piece and what lies beside it, and Markdown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from auditor.model.audit import Audit
from auditor.model.findings import FindingKind
from auditor.model.shoot import MeasurementSource
from auditor.report.html import PAGE, html_files
from auditor.report.markdown_report import markdown_parts
from auditor.report.page import build_page


class HtmlReport(NamedTuple):
    html: bytes
    beside: dict[str, bytes]


def build_html(
    audit: Audit,
    measurements: MeasurementSource,
    kinds: Mapping[str, FindingKind],
    **asked: Any,
) -> HtmlReport:
    page = build_page(audit, kinds)
    made = {
        name: parts if isinstance(parts, bytes) else b"".join(parts)
        for name, parts in html_files(audit, page, measurements, **asked)
    }
    return HtmlReport(made.pop(PAGE), made)


def as_markdown(audit: Audit, kinds: Mapping[str, FindingKind]) -> str:
    return b"".join(markdown_parts(audit, build_page(audit, kinds))).decode("utf-8")
