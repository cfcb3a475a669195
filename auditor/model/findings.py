"""What a finding is: a code, how much it matters, and its figures. Words are put to it last.

The rules live with their subject, :mod:`auditor.rules` lists them, and :mod:`auditor.words.kinds`
and :mod:`auditor.words.findings` say what a code means and what a finding tells.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters to the picture.

    Examples
    --------
    >>> from auditor.api import Severity
    >>> Severity("lost") is Severity.LOST
    True
    """

    LOST = "lost"
    """Something in the picture is lost for good."""
    RISK = "risk"
    """Something is near its limit, or a measure cannot be trusted."""
    NOTE = "note"
    """Worth knowing."""


class FindingCode(StrEnum):
    """Every finding of our own; an extension may bring more."""

    DAMAGED_DATA = "damaged-data"
    MAY_BE_DAMAGED = "may-be-damaged"
    BLOWN_AREA = "blown-area"
    BLOCKED_AREA = "blocked-area"
    RANGE_TOO_LONG = "range-too-long"
    BLOWN_CHANNEL = "blown-channel"
    MAY_BE_CLIPPED = "may-be-clipped"
    PREVIEW_HIDES = "preview-hides"
    HEADROOM_LEFT = "headroom-left"
    PREVIEW_EARLY = "preview-early"
    BLOWN_POINTS = "blown-points"
    LINEAR_LIMIT = "linear-limit"
    HOT_PIXELS = "hot-pixels"
    DARK_FRAME = "dark-frame"
    BLACK_DISAGREES = "black-disagrees"
    NOISE_UNKNOWN = "noise-unknown"
    EXPOSURE_UNKNOWN = "exposure-unknown"
    COPY_ELSEWHERE = "copy-elsewhere"
    COPIES_DIFFER = "copies-differ"
    TRIPOD_MOVED = "tripod-moved"
    BRACKET_GAP = "bracket-gap"
    PANORAMA_UNEVEN = "panorama-uneven"
    PLACEMENT_OFF = "placement-off"
    FILTER_OFF_MARKING = "filter-off-marking"
    FILTER_CAST = "filter-cast"
    LIGHT_CHANGED = "light-changed"
    BRACKET_LONGER = "bracket-longer"
    SKY_BRIGHTER = "sky-brighter"
    WHITE_LEVEL_TAG = "white-level-tag"
    ISO_COSTS = "iso-costs"


Figure = int | float | str | bool | None | tuple[str, ...]
"""What a sentence is made from: a number, a name, yes or no, or several names."""


class Figures:
    """Figures asked for by name and kind; what bears them has them under ``figures``."""

    __slots__ = ()
    figures: Mapping[str, Figure]

    def number(self, name: str) -> float:
        """Return a number; 0 where it is absent."""
        found = self.figures.get(name)
        return float(found) if isinstance(found, int | float) else 0.0

    def has(self, name: str) -> bool:
        """Whether a figure is there, and is not no."""
        return self.figures.get(name) not in (None, False)

    def name(self, name: str) -> str:
        """Return a word; empty where it is absent."""
        found = self.figures.get(name)
        return found if isinstance(found, str) else ""

    def names(self, name: str) -> tuple[str, ...]:
        """Return several words."""
        found = self.figures.get(name)
        return tuple(found) if isinstance(found, tuple | list) else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingKind:
    """One kind of finding in words: legend, ``explain`` and docs are made from this.

    Parameters
    ----------
    code : str
        In the trade's words, lower case, hyphens: "blown-area".
    title : str
        A few words.
    severity : Severity
        How much it matters to the picture.
    meaning : str
        What it means for the picture.
    measured : str
        How it is measured, with the formula where there is one.
    next_time : str
        What to do differently next time.
    caution : str
        The usual caution where the advice touches sun, tides or dark ground; may be empty.

    Examples
    --------
    >>> from auditor.api import finding_kinds
    >>> finding_kinds()["hot-pixels"].severity.value
    'note'
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
    """One finding on one frame (or on a pair or group, reported at the frame it concerns).

    Parameters
    ----------
    value, limit : float or None
        The figure and the limit it crossed, in ``unit``.
    figures : mapping of str to Figure
        All that its sentence is made from.
    text : str
        The sentence; empty until words are put to it.

    Examples
    --------
    >>> from auditor.api import Finding, Severity
    >>> Finding("no-lens", Severity.NOTE, "The file names no lens.").code
    'no-lens'
    """

    code: str
    """As 'auditor explain' knows it."""
    severity: Severity
    """lost: cannot be had back; risk: near a limit, or a measure not to be trusted; note: worth
    knowing."""
    text: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    """Unit of value and limit."""
    channel: str | None = None
    """The plane it concerns; null: the frame."""
    figures: Mapping[str, Figure] = field(default_factory=dict)
