"""The few things worth knowing of a whole shoot, each with its evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from statistics import median

from auditor.group.grouping import Grouping
from auditor.judge.findings import KINDS
from auditor.model.audit import FrameResult, Lesson
from auditor.model.findings import Finding, Severity
from auditor.model.numbers import share_text, stops_text

MOST = 5

WEIGHT = {Severity.LOST: 6.0, Severity.RISK: 3.0, Severity.NOTE: 1.0}
"""How much one frame's finding counts towards being told."""

URGENCY = {
    "damaged-data": 40.0,
    "preview-hides": 3.0,
    "spare-light": 2.0,
    "preview-early": 1.5,
    "filter-off-marking": 4.0,
    "placement-off": 3.0,
    "filter-cast": 1.5,
    "hot-pixels": 0.2,
    "dark-frame": 0.0,
    "noise-unknown": 0.0,
    "exposure-unknown": 0.0,
    "copy-elsewhere": 0.0,
    "blown-points": 0.1,
    "black-disagrees": 0.0,
    "white-level-tag": 0.5,
    "range-too-long": 0.5,
}
"""Weight of what can be acted on, over the plain count of frames."""

MEANT = {"blown-area", "blown-channel", "blocked-area", "range-too-long", "spare-light"}
"""What the frames of a bracket are taken for: told at the frame, but no lesson."""

Told = Sequence[tuple[FrameResult, Finding]]


def draw_lessons(results: Mapping[str, FrameResult], grouping: Grouping) -> tuple[Lesson, ...]:
    """Return at most five lessons, the one that touches most first."""
    by_code: dict[str, list[tuple[FrameResult, Finding]]] = defaultdict(list)
    bracketed = {frame for bracket in grouping.brackets for frame in bracket.frames}
    for result in results.values():
        for finding in result.findings:
            if finding.code not in MEANT or result.id not in bracketed:
                by_code[finding.code].append((result, finding))
    ranked = sorted(by_code.items(), key=lambda item: (-_weight(item[0], item[1]), item[0]))
    lessons = [_lesson(code, told, len(results)) for code, told in ranked if _weight(code, told)]
    unreadable = [result for result in results.values() if result.status == "unreadable"]
    if unreadable:
        lessons.insert(0, _unreadable(unreadable))
    return tuple(lessons[:MOST])


def _weight(code: str, told: Told) -> float:
    return URGENCY.get(code, 1.0) * sum(WEIGHT[finding.severity] for _, finding in told)


def _lesson(code: str, told: Told, frames: int) -> Lesson:
    kind = KINDS[code]
    ids = tuple(dict.fromkeys(result.id for result, _ in told))
    sentence = SENTENCES.get(code, _plain)(told)
    return Lesson(
        text=f"{sentence} {kind.next_time}",
        evidence=f"{len(ids)} of {frames} frames",
        frames=ids,
        code=code,
    )


def _unreadable(unreadable: Sequence[FrameResult]) -> Lesson:
    return Lesson(
        text=f"{_count(len(unreadable), 'file')} could not be read. Copy from the card again "
        "before the card is formatted.",
        evidence=", ".join(result.error.message for result in unreadable[:1] if result.error),
        frames=tuple(result.id for result in unreadable),
        code="unreadable",
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _values(told: Told) -> list[float]:
    return [finding.value for _, finding in told if finding.value is not None]


def _frames(told: Told) -> str:
    return _count(len({result.id for result, _ in told}), "frame")


def _plain(told: Told) -> str:
    return f"{KINDS[told[0][1].code].title}: {_frames(told)}."


def _blown(told: Told) -> str:
    worst = max(told, key=lambda item: item[1].value or 0.0)
    channels = sorted({finding.channel for _, finding in told if finding.channel})
    return (
        f"{_frames(told)} lost an area to clipping (in {', '.join(channels)}), at worst "
        f"{share_text(worst[1].value or 0.0)} of {worst[0].id}."
    )


def _blocked(told: Told) -> str:
    worst = max(told, key=lambda item: item[1].value or 0.0)
    return (
        f"{_frames(told)} blocked up, at worst {share_text(worst[1].value or 0.0)} of "
        f"{worst[0].id}."
    )


def _spare(told: Told) -> str:
    return (
        f"{_frames(told)} could have taken more light: {stops_text(median(_values(told)))} stops "
        "in the middle of them."
    )


def _preview(told: Told) -> str:
    return (
        f"The preview clips {stops_text(median(_values(told)))} stops before the sensor does "
        f"(middle of {_frames(told)})."
    )


def _filter(told: Told) -> str:
    off, more = _off(_values(told), "more", "less")
    return f"Filters held back {off:.2f} stops {more} than marked ({_frames(told)})."


def _placement(told: Told) -> str:
    off, where = _off(_values(told), "above", "below")
    return (
        f"{_frames(told)} behind a filter landed {stops_text(off)} stops {where} the short sibling."
    )


def _off(values: Sequence[float], over: str, under: str) -> tuple[float, str]:
    """Return the middle distance and its side; some to each side must not cancel out."""
    sides = [word for word, there in ((over, max(values) > 0), (under, min(values) < 0)) if there]
    return median(abs(value) for value in values), " or ".join(sides)


SENTENCES: dict[str, Callable[[Told], str]] = {
    "blown-area": _blown,
    "blocked-area": _blocked,
    "spare-light": _spare,
    "preview-early": _preview,
    "filter-off-marking": _filter,
    "placement-off": _placement,
}
"""Sentences of their own for what is told most; others say how many frames."""
