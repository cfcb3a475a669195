"""Records that show themselves in a line, and in a notebook as a small table."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from auditor.model.text import visible

_LEFT = "style='text-align: left'"


class Glance:
    """Gives a record a short ``repr`` and a table for notebooks, from the same few lines."""

    __slots__ = ()

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield what is worth seeing at once: label and text.

        Yields
        ------
        tuple of str
            The first names the record.
        """
        raise NotImplementedError

    def __repr__(self) -> str:
        """Show it in one line."""
        lines = list(self.glance())
        told = "; ".join(f"{label}: {text}" if label else text for label, text in lines if text)
        return f"<{type(self).__name__} {visible(told)}>"

    def _repr_html_(self) -> str:
        """Show it as a table; what files and people named is escaped.

        It has no colours of its own, so that it is read on a light page and on a dark one.
        """
        lines = [(escape(visible(label)), escape(visible(text))) for label, text in self.glance()]
        name = " ".join((type(self).__name__, *(text for label, text in lines if not label)))
        rows = "".join(
            f"<tr><th {_LEFT}>{label}</th><td {_LEFT}>{text}</td></tr>"
            for label, text in lines
            if label and text
        )
        return f"<table><caption {_LEFT}>{name}</caption>{rows}</table>"
