"""The history as one page of HTML: no script, no network, the report's own style."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from auditor.model.history import History
from auditor.report.history_charts import charts_of
from auditor.report.history_page import history_page
from auditor.report.html import data_address, digest, page_style

STYLES = ("base.css", "shell.css", "booklet.css", "history.css")


def build_history_html(history: History) -> bytes:
    """Write the history as one HTML page, UTF-8.

    Parameters
    ----------
    history : History
        Every text in it is escaped.
    """
    page = history_page(history)
    style = page_style(STYLES)
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["address"] = data_address
    template = environment.from_string(
        files("auditor.report").joinpath("templates", "history.html.j2").read_text(encoding="utf-8")
    )
    text = template.render(
        page=page,
        charts=charts_of(page),
        style=Markup(style),
        policy=(
            f"default-src 'none'; style-src {digest(style)}; img-src data:; base-uri 'none'; "
            "form-action 'none'"
        ),
    )
    return text.encode("utf-8", "replace")
