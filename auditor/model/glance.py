"""Records that show themselves in a line, and in a notebook as a small table."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from auditor.model.text import visible


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
        """Show it as a table; what files and people named is escaped."""
        rows = "".join(
            f"<tr><th style='text-align:left'>{escape(visible(label))}</th>"
            f"<td style='text-align:left'>{escape(visible(text))}</td></tr>"
            for label, text in self.glance()
            if text
        )
        return f"<table><caption>{type(self).__name__}</caption>{rows}</table>"
