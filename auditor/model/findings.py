"""What a finding is. The findings live with their subject; :mod:`auditor.rules` lists them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters to the picture."""

    LOST = "lost"
    """Something in the picture cannot be had back."""
    RISK = "risk"
    """Something is near its limit, or a measure cannot be trusted."""
    NOTE = "note"
    """Worth knowing."""


@dataclass(frozen=True, slots=True)
class FindingKind:
    """One kind of finding: legend, ``explain`` and docs are made from this.

    Parameters
    ----------
    code : str
        In the trade's words, lower case, hyphens: "blown-area".
    title : str
        A few words.
    severity : Severity
    meaning : str
        What it means for the picture.
    measured : str
        How it is measured, with the formula where there is one.
    next_time : str
        What to do differently next time.
    caution : str
        The usual caution where the advice touches sun, tides or dark ground; may be empty.
    """

    code: str
    title: str
    severity: Severity
    meaning: str
    measured: str
    next_time: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding on one frame (or on a pair or group, told at the frame it concerns).

    Parameters
    ----------
    value, limit : float or None
        The figure and the limit it crossed, in ``unit``.
    text : str
        A whole sentence with the figure in it.
    """

    code: str
    severity: Severity
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    channel: str | None = None
