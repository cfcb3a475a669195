"""What brackets, panned runs, skies and the tripod have to say."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from auditor.findings.base import ShootView, finding, may_be_sun
from auditor.group.likeness import SURE_CORRELATION
from auditor.light.cautions import EYES_IN_SHORT
from auditor.light.graduated import left_brighter
from auditor.model.audit import Bracket, FrameResult, Setup
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, share_text

BRACKET_GAP_LIMIT_SHARE = 0.005

BRACKET_GAP = FindingKind(
    code="bracket-gap",
    title="Bracket leaves a part out",
    severity=Severity.RISK,
    meaning="A part of the scene is recorded between floor and saturation by no frame of the "
    "bracket.",
    measured="Share of the scene that every frame has lost: a plane blown there, or all planes "
    "under their floors.",
    next_time="Extend the bracket at the end that is lost.",
)


def find_bracket_gap(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of brackets that leave out more than the limit, at their first frame."""
    for bracket in view.grouping.brackets:
        lost = 1.0 - bracket.covered_fraction
        if lost < BRACKET_GAP_LIMIT_SHARE:
            continue
        yield (
            bracket.frames[0],
            finding(
                BRACKET_GAP,
                f"The bracket of {len(bracket.frames)} leaves {share_text(lost)} of the scene "
                f"unrecorded, {_where(bracket)}.",
                lost,
                limit=BRACKET_GAP_LIMIT_SHARE,
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


BRACKET_LONGER = FindingKind(
    code="bracket-longer",
    title="Bracket longer than the scene",
    severity=Severity.NOTE,
    meaning="Fewer frames of the bracket already record all that the whole set records.",
    measured="The smallest set of frames whose tiles, between floor and saturation, cover what "
    "the whole bracket covers.",
    next_time="A shorter bracket, or a wider step, would have done.",
)


def find_bracket_longer(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once a bracket, at the first frame needed."""
    for bracket in view.grouping.brackets:
        if not bracket.not_needed or not bracket.needed:
            continue
        needed = ", ".join(bracket.needed)
        yield (
            bracket.needed[0],
            finding(
                BRACKET_LONGER,
                f"{len(bracket.needed)} of {len(bracket.frames)} frames would have done: {needed}.",
                float(len(bracket.not_needed)),
                unit="frames",
            ),
        )


PANORAMA_UNEVEN_LIMIT_STOPS = 0.1

PANORAMA_UNEVEN = FindingKind(
    code="panorama-uneven",
    title="Panned run not even",
    severity=Severity.RISK,
    meaning="Exposure or white balance changed inside a run of adjoining frames: the seams will "
    "show, or need work.",
    measured="Spread of the exposure as set, and of the as-shot white balance, over the run.",
    next_time="Set exposure, white balance and focus by hand before the first frame of a run.",
)


def find_panorama_uneven(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of runs with a spread or a note, at their first frame."""
    for run in view.grouping.panoramas:
        if run.exposure_spread_stops < PANORAMA_UNEVEN_LIMIT_STOPS and not run.notes:
            continue
        notes = " ".join(run.notes)
        yield (
            run.frames[0],
            finding(
                PANORAMA_UNEVEN,
                f"Exposure differs by {counted_stops(run.exposure_spread_stops)} over "
                f"{len(run.frames)} frames. {notes}".strip(),
                run.exposure_spread_stops,
                limit=PANORAMA_UNEVEN_LIMIT_STOPS,
                unit="stops",
            ),
        )


SKY_BRIGHTER = FindingKind(
    code="sky-brighter",
    title="Sky far above the ground",
    severity=Severity.NOTE,
    meaning="The sky stands so far above the ground that one exposure serves one of them.",
    measured="Median tone above the horizon over the median below it; told where the frame lost "
    "an end.",
    next_time="Hold the sky back with a graduated filter about a stop weaker than it stands "
    "over the ground, or take a bracket.",
    caution=EYES_IN_SHORT,
)


def find_sky_brighter(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of frames that lost an end and whose sky a common strength would balance."""
    for sky in view.grouping.skies:
        result = view.results[sky.frame]
        over, strength = sky.sky_over_ground_stops, sky.common_strength_stops
        if over is None or strength is None or not _lost_an_end(result):
            continue
        yield (
            sky.frame,
            finding(
                SKY_BRIGHTER,
                _text(over, strength, at_least=sky.at_least),
                over,
                unit="stops",
            ),
        )


def _lost_an_end(result: FrameResult) -> bool:
    """Whether a grad would have helped: none holds the sun itself."""
    if result.verdict == "blown":
        return not may_be_sun(result)
    return result.verdict not in ("held", "dark frame")


def _text(over: float, strength: float, *, at_least: bool) -> str:
    grad = f"a graduated filter of {counted_stops(strength, digits=0)}"
    if at_least:
        return (
            f"The sky stands at least {counted_stops(over)} over the ground; {grad} or more "
            "would have held it back."
        )
    return (
        f"The sky stands {counted_stops(over)} over the ground; {grad} would have left it "
        f"{left_brighter(over, strength)}."
    )


TRIPOD_MOVED_LIMIT_SHARE = 0.004
"""Of the picture's width: less is the measuring's own uncertainty."""

UNSURE_TIMES = 2.0
"""So many times as much is asked where the frames are little alike, as near the noise floor."""

TRIPOD_MOVED = FindingKind(
    code="tripod-moved",
    title="Tripod moved",
    severity=Severity.RISK,
    meaning="This frame lies shifted against the one before it in the same set-up: siblings and "
    "brackets must be aligned before they are put together.",
    measured="Phase correlation of the local tones with exposure divided out.",
    next_time="Fit filters with the other hand on the tripod, and check the frame afterwards.",
    caution="Sinking feet on wet sand mean a rising tide or soft ground: mind your way back first.",
)


def find_tripod_moved(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of each step between neighbouring frames above the limit."""
    for setup in view.grouping.setups:
        yield from _steps(setup, view)


def _steps(setup: Setup, view: ShootView) -> Iterator[tuple[str, Finding]]:
    alike = setup.shift_correlation or (None,) * len(setup.frames)
    placed = [
        (frame, shift, unlike)
        for frame, shift, unlike in zip(
            setup.frames, setup.shift_px, map(_unlike, alike), strict=True
        )
        if shift is not None
    ]
    for (_, before, unlike_before), (frame, after, unlike) in pairwise(placed):
        size = view.results[frame].size
        if size is None:
            continue
        right, down = after[0] - before[0], after[1] - before[1]
        limit = TRIPOD_MOVED_LIMIT_SHARE * max(size.width, size.height)
        limit *= UNSURE_TIMES if unlike or unlike_before else 1.0
        if max(abs(right), abs(down)) >= limit:
            yield frame, _moved(right, down, limit)


def _unlike(correlation: float | None) -> bool:
    return correlation is not None and correlation < SURE_CORRELATION


def _moved(right: float, down: float, limit: float) -> Finding:
    text = f"Shifted by {_px(right)} across and {_px(down)} down against the frame before."
    step = max(abs(right), abs(down))
    return finding(TRIPOD_MOVED, text, step, limit=limit, unit="pixels")


def _px(shift: float) -> str:
    """Print a signed shift with a true minus sign: ``+24 px``, ``−3 px``, ``0 px``."""
    whole = round(shift)
    sign = "−" if whole < 0 else "+" if whole > 0 else ""
    return f"{sign}{abs(whole)} px"
