"""What a rule sees and how it speaks; and what files say of themselves: copies, exposure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditor.model.audit import ChannelFigures, FrameResult, Patch
from auditor.model.codes import BlackSource, FrameStatus, Verdict
from auditor.model.errors import FailureKind
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Figure, Finding, FindingCode, Severity
from auditor.model.settings import Settings

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.model.advice import IsoFigures
    from auditor.model.grouping import Grouping
    from auditor.model.measurement import DamageSign


@dataclass(frozen=True, slots=True)
class FrameView:
    """One judged frame, with the few facts of its measurement that a rule may need.

    Parameters
    ----------
    result : FrameResult
        The frame as judged; its findings are not there yet.
    settings : Settings
        Those of the audit.
    damage : tuple of DamageSign
        Traces of data lost without an error.

    Examples
    --------
    >>> from auditor.api import FrameView
    >>> def is_dark(view: FrameView) -> bool:
    ...     return view.result.verdict == Verdict.DARK_FRAME
    """

    result: FrameResult
    settings: Settings
    damage: tuple[DamageSign, ...] = ()
    masked_black: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Plane name to (tag black, the one used) where the border or dark frames won."""
    black_source: BlackSource = BlackSource.METADATA
    """What told the one used."""


@dataclass(frozen=True, slots=True)
class ShootView:
    """The whole shoot, grouped and judged."""

    results: Mapping[str, FrameResult]
    grouping: Grouping
    settings: Settings
    isos: Sequence[IsoFigures] = ()


FrameRule = Callable[[FrameView], Iterator[Finding]]
ShootRule = Callable[[ShootView], Iterator[tuple[str, Finding]]]


def finding(
    code: str,
    severity: Severity,
    value: float | None = None,
    *,
    limit: float | None = None,
    unit: str = "",
    channel: str | None = None,
    **figures: Figure,
) -> Finding:
    """Make a finding of its figures; words are put to it when all is judged."""
    return Finding(
        code=code,
        severity=severity,
        value=value,
        limit=limit,
        unit=unit,
        channel=channel,
        figures=figures,
    )


def worst_channel(result: FrameResult) -> ChannelFigures:
    """Return the plane with the largest blown share."""
    return max(result.channels, key=lambda channel: channel.blown_fraction)


SUN_MOST_SHARE = 2e-3
"""Of the frame. The sun's disk of half a degree covers 0.04 % of a frame at 70 mm (35 mm
equivalent) and 0.3 % at 200 mm; its glare adds to it."""

SUN_LEAST_ALL = 0.5
"""Lost in every channel, of the patch: a colour that clips alone is no sun."""


def may_be_sun(blown: float, blown_all: float, patch: Patch | None) -> bool:
    """Whether all that is blown is one small patch lost in every channel, as the sun leaves it.

    It may as well be a lamp or foam: nothing but the photographer's eye can tell.

    Parameters
    ----------
    blown, blown_all : float
        Share of the frame where any channel is blown; where all are.
    patch : Patch or None
        The largest connected one.
    """
    return (
        patch is not None and blown <= SUN_MOST_SHARE and blown_all >= SUN_LEAST_ALL * patch.share
    )


def is_lit(result: FrameResult) -> bool:
    """Whether the frame was measured and shows more than the inside of a lens cap."""
    return result.status == FrameStatus.MEASURED and result.verdict != Verdict.DARK_FRAME


def find_copy_elsewhere(view: FrameView) -> Iterator[Finding]:
    """Tell where the copy lies."""
    if view.result.also_at:
        yield finding(FindingCode.COPY_ELSEWHERE, Severity.NOTE, places=view.result.also_at)


_STATE = {True: "whole", False: "damaged", None: "unread"}


def find_copies_differ(view: FrameView) -> Iterator[Finding]:
    """Tell which of the copies is whole."""
    result = view.result
    if result.differing_copies:
        whole = None if result.error else not view.damage
        if result.error and result.error.kind is FailureKind.DAMAGED:
            whole = False
        copies = (DifferingCopy(result.id, result.input + 1, whole), *result.differing_copies)
        yield finding(
            FindingCode.COPIES_DIFFER,
            Severity.RISK,
            copies=tuple(copy.id for copy in copies),
            cards=tuple(str(copy.card) for copy in copies),
            state=tuple(_STATE[copy.whole] for copy in copies),
        )


def find_exposure_unknown(view: FrameView) -> Iterator[Finding]:
    """Tell which of the three is absent."""
    if view.result.status != FrameStatus.MEASURED:
        return
    exposure = view.result.exposure
    parts = {"shutter time": exposure.time_s, "aperture": exposure.f_number, "ISO": exposure.iso}
    absent = tuple(name for name, value in parts.items() if value is None)
    if absent:
        yield finding(FindingCode.EXPOSURE_UNKNOWN, Severity.NOTE, absent=absent)
