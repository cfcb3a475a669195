"""The HTML report in memory: the page in one piece, and what lies beside it."""

from __future__ import annotations

from typing import Any, NamedTuple

from auditor.report.html import PAGE, html_files


class HtmlReport(NamedTuple):
    html: bytes
    beside: dict[str, bytes]


def build_html(*handed: Any, **asked: Any) -> HtmlReport:
    made = {
        name: parts if isinstance(parts, bytes) else b"".join(parts)
        for name, parts in html_files(*handed, **asked)
    }
    return HtmlReport(made.pop(PAGE), made)
