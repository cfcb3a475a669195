"""What a rule sees, and how it speaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditor.model.audit import ChannelFigures, FrameResult
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.settings import Settings

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.group.grouping import Grouping
    from auditor.model.measurement import DamageSign


@dataclass(frozen=True, slots=True)
class FrameView:
    """One judged frame, with the few facts of its measurement that a rule may need."""

    result: FrameResult
    settings: Settings
    damage: tuple[DamageSign, ...] = ()
    masked_black: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Plane name to (tag black, masked border's black) where the border won."""


@dataclass(frozen=True, slots=True)
class ShootView:
    """The whole shoot, grouped and judged."""

    results: Mapping[str, FrameResult]
    grouping: Grouping
    settings: Settings


FrameRule = Callable[[FrameView], Iterator[Finding]]
ShootRule = Callable[[ShootView], Iterator[tuple[str, Finding]]]


def finding(
    kind: FindingKind,
    text: str,
    value: float | None = None,
    *,
    limit: float | None = None,
    unit: str = "",
    channel: str | None = None,
    severity: Severity | None = None,
) -> Finding:
    """Make a finding of a kind, in its own severity unless another is given."""
    return Finding(
        code=kind.code,
        severity=severity or kind.severity,
        text=text,
        value=value,
        limit=limit,
        unit=unit,
        channel=channel,
    )


def worst_channel(result: FrameResult) -> ChannelFigures:
    """Return the plane with the largest blown share."""
    return max(result.channels, key=lambda channel: channel.blown_fraction)


def is_lit(result: FrameResult) -> bool:
    """Whether the frame was measured and shows more than the inside of a lens cap."""
    return result.status == "measured" and result.verdict != "dark frame"
