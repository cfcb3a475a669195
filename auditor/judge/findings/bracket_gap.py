"""A bracket that does not cover the scene."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.audit import Bracket
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

LIMIT_SHARE = 0.005

KIND = FindingKind(
    code="bracket-gap",
    title="Bracket leaves a part out",
    severity=Severity.RISK,
    meaning="A part of the scene is recorded between floor and saturation by no frame of the "
    "bracket.",
    measured="Share of the scene that every frame has lost: a plane blown there, or all planes "
    "under their floors.",
    next_time="Extend the bracket at the end that is lost.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of brackets that leave out more than the limit, at their first frame."""
    for bracket in view.grouping.brackets:
        lost = 1.0 - bracket.covered_fraction
        if lost < LIMIT_SHARE:
            continue
        yield (
            bracket.frames[0],
            finding(
                KIND,
                f"The bracket of {len(bracket.frames)} leaves {share_text(lost)} of the scene "
                f"unrecorded, {_where(bracket)}.",
                lost,
                limit=LIMIT_SHARE,
                unit="share of the scene",
            ),
        )


def _where(bracket: Bracket) -> str:
    bright, dark = bracket.lost_bright_fraction, bracket.lost_dark_fraction
    if bright and dark:
        return "at both ends"
    if not bright and not dark:
        return "where no single frame holds both ends"
    return "at the bright end" if bright else "at the dark end"
