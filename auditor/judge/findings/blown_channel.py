"""One channel is blown where the others hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit, worst_channel
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="blown-channel",
    title="One channel blown alone",
    severity=Severity.RISK,
    meaning="One colour clips where the others still record: the tone can often be rebuilt, but "
    "its colour shifts, as in a sunset that turns yellow.",
    measured="Blown share of each plane against that of the other colours.",
    next_time="Watch the single channels: with a warm sky red goes first, under a blue one blue. "
    "Give less light until that channel holds.",
)

LIMIT_SHARE = 1e-3
"""Of the plane: less is glitter."""

ALONE = 0.8
"""Most of the loss lies in one colour when all planes share less than this part of it."""


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a loss that is mostly one colour's."""
    result = view.result
    if not is_lit(result) or len(result.channels) < 3:
        return
    channel, limit = worst_channel(result), LIMIT_SHARE
    others = [c.blown_fraction for c in result.channels if c.name[0] != channel.name[0]]
    if channel.blown_fraction < limit or max(others) > (1 - ALONE) * channel.blown_fraction:
        return
    yield finding(
        KIND,
        f"{channel.name} is blown in {share_text(channel.blown_fraction)} of its pixels, the "
        f"other colours in {_at_most(max(others))}.",
        channel.blown_fraction,
        limit=limit,
        unit="share of the plane",
        channel=channel.name,
    )


def _at_most(share: float) -> str:
    """Bound the others' share, once: "under 0.01 %" is a bound of its own."""
    text = share_text(share)
    if share == 0:
        return "no pixel"
    return text.replace("<", "under") if text.startswith("<") else f"at most {text}"
