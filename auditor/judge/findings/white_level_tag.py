"""A file that claims another clipping level than its sensor has."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.audit import ChannelFigures
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, stops_between

LIMIT_STOPS = 0.03

KIND = FindingKind(
    code="white-level-tag",
    title="Clipping level is not the claimed one",
    severity=Severity.NOTE,
    meaning="The sensor clips at another level than the file claims: whoever trusts the claim "
    "misses blown pixels, or sees too many.",
    measured="Pile-up at the top of the histogram over all frames of the body at this ISO and bit "
    "depth, against the white level in the file.",
    next_time="Nothing: every figure here is told against the level found.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once for each body, at the first frame that shows it."""
    told: set[str] = set()
    for result in view.results.values():
        if result.camera.body in told:
            continue
        for channel in result.channels:
            if channel.white_tag_dn <= 0:
                continue
            off = stops_between(
                channel.white_tag_dn - channel.black_dn, channel.saturation_dn - channel.black_dn
            )
            if off is not None and abs(off) >= LIMIT_STOPS:
                told.add(result.camera.body)
                yield (
                    result.id,
                    finding(
                        KIND,
                        f"{channel.name} {_found(channel)} {channel.saturation_dn:.0f} DN, "
                        f"{counted_stops(abs(off), digits=2)} {'below' if off > 0 else 'above'} "
                        f"the {channel.white_tag_dn:.0f} that the file claims. Told once for this "
                        "body.",
                        off,
                        limit=LIMIT_STOPS,
                        unit="stops",
                        channel=channel.name,
                    ),
                )
                break


def _found(channel: ChannelFigures) -> str:
    """Say what is known of the level: data beyond the claim do not tell where they clip."""
    return "clips at" if channel.blown_from_dn <= channel.saturation_dn else "records up to"
