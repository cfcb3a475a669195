"""The words that a text may be, told beside its type."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, init=False)
class OneOf:
    """Says in a field's type which words it takes: ``Annotated[str, OneOf("short", "long")]``.

    The schema of ``audit.json`` and its reference are made from it.
    """

    words: tuple[str, ...]

    def __init__(self, *words: str) -> None:
        object.__setattr__(self, "words", words)
