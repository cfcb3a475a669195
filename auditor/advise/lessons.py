"""The lines that end an audit: what is worth knowing of the whole shoot, five at the most.

In this order: what may be lost for good, what the filters did, the long frame that did not match,
the exposure habit, the preview; then whatever else is at risk. Mistakes that were put right at
once, frames of a bracket, glitter and the sun take no line.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from auditor.advise.limits import MARGIN_STOPS
from auditor.figures.loss import GRAVE
from auditor.history.retakes import RETAKE_S, retaken
from auditor.model.advice import FilterVerdict
from auditor.model.audit import FrameResult, Lesson
from auditor.model.errors import FailureKind
from auditor.model.facts import FileFacts
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.grouping import Grouping
from auditor.model.numbers import counted
from auditor.words import lessons as words
from auditor.words.next_time import next_times

MOST = 5

DAMAGE = (FindingCode.DAMAGED_DATA, FindingCode.MAY_BE_DAMAGED, FindingCode.COPIES_DIFFER)
"""What another copy may put right: told first, while the card is still there."""

AT_RISK = (
    FindingCode.BRACKET_GAP, FindingCode.TRIPOD_MOVED, FindingCode.PANORAMA_UNEVEN,
    FindingCode.HOT_PIXELS,
)  # fmt: skip
"""What takes a line where the first kinds leave one free."""

A_THIRD_STOPS = MARGIN_STOPS + 0.02
"""Settings nearer than this to those for next time were right."""

Found = Sequence[tuple[FrameResult, Finding]]


def draw_lessons(
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    filters: Sequence[FilterVerdict] = (),
) -> tuple[Lesson, ...]:
    """Return at most five lines, each with names, figures and times.

    Parameters
    ----------
    results : mapping of frame id to FrameResult
        With their findings.
    grouping : Grouping
        With the settings for next time.
    filters : sequence of FilterVerdict
    """
    once = {result.id: result for result in _measured_once(results.values())}
    found: dict[str, list[tuple[FrameResult, Finding]]] = defaultdict(list)
    for result in once.values():
        for finding in result.findings:
            found[finding.code].append((result, finding))
    unread = [result for result in results.values() if _is_unread(result)]
    lines = [
        *_unreadable(unread),
        *(line for code in DAMAGE for line in _plain(found[code])),
        *_lost(once, grouping),
        *_filters(filters, grouping),
        *_match(once, grouping, found[FindingCode.PLACEMENT_OFF]),
        *_habit(once, grouping, found[FindingCode.HEADROOM_LEFT]),
        *_preview(found[FindingCode.PREVIEW_EARLY], found[FindingCode.PREVIEW_HIDES], len(once)),
        *(line for code in AT_RISK for line in _plain(found[code])),
    ]
    return tuple(lines[:MOST])


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


def _lost(results: Mapping[str, FrameResult], grouping: Grouping) -> Iterator[Lesson]:
    """Yield what was lost for good: no bracket held it, and nothing was taken again at once."""
    meant = {frame for bracket in grouping.brackets for frame in bracket.frames}
    meant |= retaken(list(results.values()))
    rest = [frame for frame in results.values() if frame.id not in meant]
    areas = sorted(
        (frame for frame in rest if frame.loss in GRAVE), key=lambda f: -(f.blown_fraction or 0.0)
    )
    blocked = [
        frame
        for frame in rest
        if frame.verdict in ("blocked", "both") and not _lit_again(frame, results, grouping)
    ]
    if areas or blocked:
        code = FindingCode.BLOWN_AREA if areas else FindingCode.BLOCKED_AREA
        yield Lesson(
            text=words.lost_text(areas, blocked),
            evidence=f"{len({f.id for f in (*areas, *blocked)})} of {len(results)} frames",
            frames=tuple(dict.fromkeys(frame.id for frame in (*areas, *blocked))),
            code=code,
        )


def _lit_again(dark: FrameResult, results: Mapping[str, FrameResult], grouping: Grouping) -> bool:
    """Whether another frame of its set-up, taken about then, holds both ends."""
    own = next((setup.frames for setup in grouping.setups if dark.id in setup.frames), ())
    at = FileFacts(captured_at=dark.captured_at).clock_s
    for name in own:
        other = results.get(name)
        if other is None or other.verdict != "held" or at is None:
            continue
        then = FileFacts(captured_at=other.captured_at).clock_s
        if then is not None and abs(then - at) <= RETAKE_S:
            return True
    return False


def _filters(filters: Sequence[FilterVerdict], grouping: Grouping) -> Iterator[Lesson]:
    if filters or grouping.grads:
        pairs = sum(one.pairs for one in filters)
        frames = [frame for one in filters for frame in one.frames]
        frames += [grad.with_ for grad in grouping.grads]
        told = [counted(pairs, "pair")] if pairs else []
        grads = len(grouping.grads)
        told += [counted(grads, "graduated filter")] if grads else []
        yield Lesson(
            text=words.filters_text(filters, grouping.grads),
            evidence=f"measured on {words.listed(told)}",
            frames=tuple(dict.fromkeys(frames)),
            code=FindingCode.FILTER_OFF_MARKING,
        )


def _match(results: Mapping[str, FrameResult], grouping: Grouping, off: Found) -> Iterator[Lesson]:
    ids = {frame.id for frame, _ in off}
    pairs = sorted(
        (pair for pair in grouping.siblings if pair.best and pair.long in ids),
        key=lambda pair: -abs(pair.placement_difference_stops),
    )
    if pairs:
        every = sum(pair.best for pair in grouping.siblings)
        yield Lesson(
            text=words.match_text(pairs, dict(results)),
            evidence=f"{len(pairs)} of {counted(every, 'filtered frame')}",
            frames=tuple(pair.long for pair in pairs),
            code=FindingCode.PLACEMENT_OFF,
        )


def _habit(
    results: Mapping[str, FrameResult], grouping: Grouping, spare: Found
) -> Iterator[Lesson]:
    told = next_times(grouping.setups)
    off = words.setups_off(told, A_THIRD_STOPS)
    longs = {pair.long for pair in grouping.siblings if pair.best}
    dark = [frame for frame, _ in spare if frame.id in longs]
    if told or dark:
        yield Lesson(
            text=words.habit_text([advice for _, advice in told], off, dark, len(longs)),
            evidence=counted(len(results), "frame"),
            frames=tuple([advice.frame for _, advice in off] + [frame.id for frame in dark]),
            code=FindingCode.HEADROOM_LEFT,
        )


def _preview(early: Found, hides: Found, frames: int) -> Iterator[Lesson]:
    values = [finding.value for _, finding in early if finding.value is not None]
    if values or hides:
        concerned = dict.fromkeys(frame.id for frame, _ in (*hides, *early))
        yield Lesson(
            text=words.preview_text(values, [frame.id for frame, _ in hides]),
            evidence=f"{len(concerned)} of {frames} frames",
            frames=tuple(concerned),
            code=FindingCode.PREVIEW_EARLY if values else FindingCode.PREVIEW_HIDES,
        )


def _plain(found: Found) -> Iterator[Lesson]:
    """Yield a finding as it is told at its frame, that of the greatest value for all."""
    told = [one for one in found if one[1].severity is not Severity.NOTE]
    if told:
        worst, finding = max(told, key=lambda one: one[1].value or 0.0)
        ids = tuple(dict.fromkeys(frame.id for frame, _ in told))
        more = f" {len(ids) - 1} more." if len(ids) > 1 else ""
        yield Lesson(
            text=f"{worst.id}: {finding.text}{more}",
            evidence=counted(len(ids), "frame"),
            frames=ids,
            code=finding.code,
        )


NOT_READ = {
    "another copy": (
        "{files} could not be read. Copy from the card again before the card is formatted."
    ),
    "unsupported": "{files} could not be read here and may be whole. Keep them.",
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
            text=NOT_READ[helps].format(files=words.files_text([result.id for result in results])),
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
