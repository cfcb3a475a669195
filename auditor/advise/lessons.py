"""The few things worth knowing of a whole shoot, each with its evidence."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from statistics import median

from auditor.findings.base import may_be_sun
from auditor.model.audit import FrameResult, Lesson
from auditor.model.errors import FailureKind
from auditor.model.findings import Finding, Severity
from auditor.model.grouping import Grouping
from auditor.model.numbers import counted_stops, share_text
from auditor.words.filters import filter_words
from auditor.words.kinds import KINDS

MOST = 5

WEIGHT = {Severity.LOST: 6.0, Severity.RISK: 3.0, Severity.NOTE: 1.0}
"""How much one frame's finding counts towards being told."""

URGENCY = {
    "damaged-data": 40.0,
    "preview-hides": 3.0,
    "headroom-left": 2.0,
    "preview-early": 1.5,
    "filter-off-marking": 4.0,
    "placement-off": 3.0,
    "filter-cast": 1.5,
    "hot-pixels": 0.2,
    "dark-frame": 0.0,
    "noise-unknown": 0.0,
    "exposure-unknown": 0.0,
    "copy-elsewhere": 0.0,
    "blown-points": 0.0,
    "black-disagrees": 0.0,
    "white-level-tag": 0.0,
    "range-too-long": 0.5,
}
"""Weight of what can be acted on, over the plain count of frames; 0 where nothing is to be done."""

MEANT = {"blown-area", "blown-channel", "blocked-area", "range-too-long", "sky-brighter"}
"""What the frames of a bracket are taken for: told at the frame, but no lesson."""

BRACKETS, SUN = "in brackets", "with a small patch that may be the sun"
"""Why a frame is left aside."""

Told = Sequence[tuple[FrameResult, Finding]]


def draw_lessons(results: Mapping[str, FrameResult], grouping: Grouping) -> tuple[Lesson, ...]:
    """Return at most five lessons: what was lost first, then what touches most."""
    by_code: dict[str, list[tuple[FrameResult, Finding]]] = defaultdict(list)
    aside: dict[str, dict[str, str]] = defaultdict(dict)
    bracketed = {frame for bracket in grouping.brackets for frame in bracket.frames}
    once = _measured_once(results.values())
    for result in once:
        for finding in result.findings:
            reason = _left_aside(finding.code, result, bracketed)
            if reason:
                aside[finding.code][result.id] = reason
            else:
                by_code[finding.code].append((result, finding))
    ranked = sorted(by_code.items(), key=_rank)
    lessons = [
        _lesson(code, told, _evidence(told, len(once), aside[code]), grouping)
        for code, told in ranked
        if _weight(code, told)
    ]
    unread = [result for result in results.values() if _is_unread(result)]
    return tuple([*_unreadable(unread), *lessons][:MOST])


def _is_unread(result: FrameResult) -> bool:
    """Whether a file could not be read; one that was not reached may well be."""
    reached = result.error is None or result.error.code != "interrupted"
    return result.status == "unreadable" and reached


def _measured_once(results: Iterable[FrameResult]) -> list[FrameResult]:
    """Return what was measured, the first of copies for all: a copy is no second frame."""
    kept: dict[str, FrameResult] = {}
    for result in results:
        if result.status == "measured" and kept.keys().isdisjoint(result.also_at):
            kept[result.id] = result
    return list(kept.values())


def _left_aside(code: str, result: FrameResult, bracketed: set[str]) -> str | None:
    """Return why a frame's finding is no lesson: it was meant, or nothing could be done."""
    if code in MEANT and result.id in bracketed:
        return BRACKETS
    return SUN if code == "blown-area" and may_be_sun(result) else None


def _rank(item: tuple[str, Told]) -> tuple[bool, float, str]:
    code, told = item
    lost = any(finding.severity is Severity.LOST for _, finding in told)
    return not lost, -_weight(code, told), code


def _weight(code: str, told: Told) -> float:
    return URGENCY.get(code, 1.0) * sum(WEIGHT[finding.severity] for _, finding in told)


def _evidence(told: Told, frames: int, aside: Mapping[str, str]) -> str:
    """Count the frames, and those left aside, so that all of a kind add up."""
    reasons = list(aside.values())
    left = " and ".join(
        f"{reasons.count(reason)} {reason}" for reason in (BRACKETS, SUN) if reason in reasons
    )
    counted = f"{len({result.id for result, _ in told})} of {frames} frames"
    return f"{counted}; left aside: {left}" if left else counted


def _lesson(code: str, told: Told, evidence: str, grouping: Grouping) -> Lesson:
    sentence = SENTENCES[code](told, grouping) if code in SENTENCES else _plain(told)
    return Lesson(
        text=f"{sentence} {KINDS[code].next_time}",
        evidence=evidence,
        frames=tuple(dict.fromkeys(result.id for result, _ in told)),
        code=code,
    )


NOT_READ = {
    "another copy": (
        "{files} could not be read. Copy from the card again before the card is formatted."
    ),
    "unsupported": "{files} could not be read here, whole as they may be. Keep them.",
    "ours": (
        "{files} could not be measured, through a limit or a fault of this program. That says "
        "nothing of the files."
    ),
}
"""What is said of files that were not measured, by what may help; never to copy what is whole."""


def _unreadable(unread: Sequence[FrameResult]) -> list[Lesson]:
    """Return a lesson for each thing that may help, that for damaged files first."""
    told: dict[str, list[FrameResult]] = {helps: [] for helps in NOT_READ}
    for result in unread:
        kind = FailureKind.DAMAGED if result.error is None else result.error.kind
        told[kind if kind in told else "another copy"].append(result)
    return [
        Lesson(
            text=NOT_READ[helps].format(files=_count(len(results), "file")),
            evidence=", ".join(
                _without_copying(result.error.message) for result in results[:1] if result.error
            ),
            frames=tuple(result.id for result in results),
            code="unreadable",
        )
        for helps, results in told.items()
        if results
    ]


def _without_copying(message: str) -> str:
    """Leave out what the lesson itself says."""
    return re.sub(r"\W*\bcopy it from the card again\W*$", ".", message, flags=re.IGNORECASE)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _values(told: Told) -> list[float]:
    return [finding.value for _, finding in told if finding.value is not None]


def _frames(told: Told) -> str:
    return _count(len({result.id for result, _ in told}), "frame")


def _plain(told: Told) -> str:
    return f"{KINDS[told[0][1].code].title}: {_frames(told)}."


def _blown(told: Told, grouping: Grouping) -> str:
    worst = max((result for result, _ in told), key=lambda result: result.blown_fraction or 0.0)
    channels = sorted({finding.channel for _, finding in told if finding.channel})
    patch = worst.largest_blown_area
    most = f", {share_text(patch.share)} in one patch" if patch else ""
    return (
        f"{_frames(told)} lost an area to clipping (in {', '.join(channels)}): at worst "
        f"{share_text(worst.blown_fraction or 0.0)} of {worst.id} is blown{most}."
    )


def _blocked(told: Told, grouping: Grouping) -> str:
    worst = max(told, key=lambda item: item[1].value or 0.0)
    return (
        f"{_frames(told)} blocked up, at worst {share_text(worst[1].value or 0.0)} of "
        f"{worst[0].id}."
    )


def _spare(told: Told, grouping: Grouping) -> str:
    spare = counted_stops(median(_values(told)))
    if len(told) == 1:
        return f"1 frame could have taken {spare} more light."
    return f"{_frames(told)} could have taken more light, {spare} in the middle of them."


def _preview(told: Told, grouping: Grouping) -> str:
    frames = _frames(told) if len(told) == 1 else f"middle of {_frames(told)}"
    return (
        f"The preview clips {counted_stops(median(_values(told)))} before the sensor does "
        f"({frames})."
    )


def _filter(told: Told, grouping: Grouping) -> str:
    """Tell of each filter what it holds back."""
    ids = {result.id for result, _ in told}
    by_filter: dict[str, list[float]] = defaultdict(list)
    for pair in grouping.siblings:
        if pair.best and pair.long in ids:
            by_filter[filter_words(pair)].append(pair.filter_stops)
    held = (
        f"your {name} holds back {counted_stops(median(stops))}"
        for name, stops in by_filter.items()
    )
    text = ", ".join(held)
    return f"{text[:1].upper()}{text[1:]} ({_frames(told)})."


def _placement(told: Told, grouping: Grouping) -> str:
    off, where = _off(_values(told), "above", "below")
    sibling = "its short sibling" if len(told) == 1 else "their short siblings"
    return f"{_frames(told)} behind a filter landed {counted_stops(off)} {where} {sibling}."


def _off(values: Sequence[float], over: str, under: str) -> tuple[float, str]:
    """Return the middle distance and its side; some to each side must not cancel out."""
    sides = [word for word, there in ((over, max(values) > 0), (under, min(values) < 0)) if there]
    return median(abs(value) for value in values), " or ".join(sides)


def _sky(told: Told, grouping: Grouping) -> str:
    """Tell how far the skies stand above the ground, and which filters would have done."""
    ids = {result.id for result, _ in told}
    strengths = sorted(
        {sky.common_strength_stops or 0.0 for sky in grouping.skies if sky.frame in ids}
    )
    said = [f"{strength:g}" for strength in strengths[:-1]]
    said += [counted_stops(strength, digits=0) for strength in strengths[-1:]]
    return (
        f"{_frames(told)} lost an end under a sky {counted_stops(median(_values(told)))} above "
        f"the ground; a graduated filter of {' or '.join(said)} would have held it back."
    )


SENTENCES: dict[str, Callable[[Told, Grouping], str]] = {
    "blown-area": _blown,
    "blocked-area": _blocked,
    "headroom-left": _spare,
    "preview-early": _preview,
    "filter-off-marking": _filter,
    "placement-off": _placement,
    "sky-brighter": _sky,
}
"""Sentences of their own for what is told most; others say how many frames."""
