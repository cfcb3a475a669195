"""Texts from files, made fit for a column."""

from __future__ import annotations


def storable(text: str | None) -> str:
    """Make any text from a file fit a column: lone surrogates have no encoding."""
    return (text or "").encode("utf-8", errors="replace").decode("utf-8")
