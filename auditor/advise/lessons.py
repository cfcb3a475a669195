"""What the lines that end an audit are made from: what is worth knowing of the whole shoot.

Five at the most; :mod:`auditor.words.lessons` says them.

In this order: what may be lost for good, what the filters did, the long frame that did not match,
the exposure habit, the preview; then whatever else is at risk. Mistakes that were put right at
once, frames of a bracket, glitter and the sun take no line.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from auditor.advise.graduated import UsedGrad, used_grads
from auditor.advise.limits import MARGIN_STOPS, SAME_FILTER_STOPS, SMOOTHED_STOPS
from auditor.advise.next_time import next_times
from auditor.history.limits import RETAKE_S
from auditor.history.shots import retaken
from auditor.model.advice import FilterVerdict, NextTime
from auditor.model.audit import FrameResult, SiblingPair
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.errors import FailureKind
from auditor.model.facts import FileFacts
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode

DAMAGE = (FindingCode.DAMAGED_DATA, FindingCode.MAY_BE_DAMAGED, FindingCode.COPIES_DIFFER)
"""What another copy may put right: told first, while the card is still there."""

AT_RISK = (
    FindingCode.BRACKET_GAP, FindingCode.TRIPOD_MOVED, FindingCode.PANORAMA_UNEVEN,
    FindingCode.HOT_PIXELS,
)  # fmt: skip
"""What takes a line where the first kinds leave one free."""

Found = Sequence[tuple[FrameResult, Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """Frames that lost an area, or shadows, for good; ``of`` so many."""

    areas: Sequence[FrameResult]
    blocked: Sequence[FrameResult]
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """What filters and graduated filters measured."""

    filters: Sequence[FilterVerdict]
    grads: Sequence[UsedGrad]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmatched:
    """Filtered frames that came out otherwise than their short ones, the worst first.

    Parameters
    ----------
    worst : FrameResult or None
        The long frame of the first pair.
    of : int
        How many filtered frames there are.
    """

    pairs: Sequence[SiblingPair]
    worst: FrameResult | None
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """How the set-ups were exposed without a filter, and the frames behind one.

    Parameters
    ----------
    advised, good : int
        Set-ups that settings for next time are told for; those of them that were placed so.
    off : sequence of (numbers of set-ups, NextTime)
        Those that ask for more or less light, the most first.
    high_iso : sequence of (ISO used, ISO advised)
        One a set-up that was taken at twice the ISO that a tripod asks for, or more.
    dark : sequence of FrameResult
        Frames behind a filter, matched, that could have taken a stop more or still more: more than
        their short ones by half a stop.
    filtered, of : int
        How many frames there were behind a filter, and in all.
    """

    advised: int
    good: int
    off: Sequence[tuple[tuple[int, ...], NextTime]]
    high_iso: Sequence[tuple[float, float]]
    dark: Sequence[FrameResult]
    filtered: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewOff:
    """How far the preview is from the raw data (early, in stops), and where it hid a loss."""

    early: Sequence[float]
    hid: Sequence[str]
    frames: Sequence[str]
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """A finding as it is told at its frame, for all frames that have it."""

    frame: str
    finding: Finding
    frames: Sequence[str]


class Helps(StrEnum):
    """What may help where files were not measured; never to copy what is whole."""

    ANOTHER_COPY = "another copy"
    ANOTHER_PROGRAM = "another program"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """Files that were not measured, for which the same may help."""

    helps: Helps
    results: Sequence[FrameResult]


LessonFacts = Lost | Filters | Unmatched | Placement | PreviewOff | Worst | Unread


def draw_lessons(
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    filters: Sequence[FilterVerdict] = (),
) -> tuple[LessonFacts, ...]:
    """Return what at most five lines are made from.

    Parameters
    ----------
    results : mapping of frame id to FrameResult
        With their findings.
    grouping : Grouping
        With the settings for next time.
    filters : sequence of FilterVerdict
    """
    once: dict[str, FrameResult] = {}
    for result in results.values():
        # the first of copies stands for all: a copy is no second frame
        if result.status == FrameStatus.MEASURED and once.keys().isdisjoint(result.also_at):
            once[result.id] = result
    found: dict[str, list[tuple[FrameResult, Finding]]] = defaultdict(list)
    for result in once.values():
        for finding in result.findings:
            found[finding.code].append((result, finding))
    lost, grads = list(_lost(once, grouping)), used_grads(grouping, results)
    early, hides = found[FindingCode.PREVIEW_EARLY], found[FindingCode.PREVIEW_HIDES]
    preview = PreviewOff(
        early=[finding.value for _, finding in early if finding.value is not None],
        hid=[frame.id for frame, _ in hides],
        frames=tuple(dict.fromkeys(frame.id for frame, _ in (*hides, *early))),
        of=len(once),
    )
    lines = [
        *_unreadable(results.values()),
        *(line for code in DAMAGE for line in _plain(found[code])),
        *lost,
        *([Filters(filters=filters, grads=grads)] if filters or grads else []),
        *_match(once, grouping, found[FindingCode.PLACEMENT_OFF]),
        *_habit(
            once,
            grouping,
            found[FindingCode.HEADROOM_LEFT],
            [frame.id for one in lost for frame in one.areas],
        ),
        *([preview] if preview.early or preview.hid else []),
        *(line for code in AT_RISK for line in _plain(found[code])),
    ]
    return tuple(lines[:5])


def _lost(results: Mapping[str, FrameResult], grouping: Grouping) -> Iterator[Lost]:
    """Yield what was lost for good: no bracket held it, and nothing was taken again at once."""
    meant = {frame for bracket in grouping.brackets for frame in bracket.frames}
    meant |= retaken(list(results.values()))
    rest = [frame for frame in results.values() if frame.id not in meant]
    areas = sorted(
        (frame for frame in rest if frame.verdict.lost_highlights),
        key=lambda f: -(f.blown_fraction or 0.0),
    )
    homes = {frame: setup.frames for setup in grouping.setups for frame in setup.frames}
    blocked = []
    for dark in rest:
        if not dark.verdict.lost_shadows:
            continue
        # unless another frame of its set-up, taken about then, holds both ends
        others = (results[name] for name in homes.get(dark.id, ()) if name in results)
        times = [_start_s(other) for other in others if other.verdict == Verdict.HELD]
        at = _start_s(dark)
        if at is None or all(then is None or abs(then - at) > RETAKE_S for then in times):
            blocked.append(dark)
    if areas or blocked:
        yield Lost(areas=areas, blocked=blocked, of=len(results))


def _start_s(frame: FrameResult) -> float | None:
    return FileFacts(captured_at=frame.captured_at, exposure=frame.exposure).start_s


def _match(
    results: Mapping[str, FrameResult], grouping: Grouping, off: Found
) -> Iterator[LessonFacts]:
    """Yield the filtered frames that missed their siblings, but for those tried again at once."""
    ids = {frame.id for frame, _ in off}
    best = [pair for pair in grouping.siblings if pair.best]
    matched = [pair for pair in best if pair.long not in ids]
    starts = {pair.long: _times(results.get(pair.long))[0] for pair in matched}
    pairs = []
    for pair in (one for one in best if one.long in ids):
        end_s = _times(results.get(pair.long))[1]
        again = [
            start_s
            for other in matched
            if other.setup == pair.setup
            and abs(other.filter_stops - pair.filter_stops) <= SAME_FILTER_STOPS
            and (start_s := starts[other.long]) is not None
            and end_s is not None
            and 0.0 <= start_s - end_s <= RETAKE_S
        ]
        pairs += [] if again else [pair]
    pairs.sort(key=lambda pair: -abs(pair.placement_difference_stops))
    if pairs:
        yield Unmatched(pairs=pairs, worst=results.get(pairs[0].long), of=len(best))


def _times(frame: FrameResult | None) -> tuple[float, float] | tuple[None, None]:
    """Return when the shutter opened and when it closed, seconds of the clock."""
    if frame is None:
        return None, None
    start_s = FileFacts(captured_at=frame.captured_at, exposure=frame.exposure).start_s
    if start_s is None:
        return None, None
    return start_s, start_s + (frame.exposure.time_s or 0.0)


def _habit(
    results: Mapping[str, FrameResult], grouping: Grouping, spare: Found, lost: Collection[str]
) -> Iterator[LessonFacts]:
    told = next_times(grouping.setups)
    off = [one for one in told if not _third(one[1].change_stops)]
    pairs = {pair.long: pair for pair in grouping.siblings if pair.best}
    dark = []
    for frame, pair in ((one, pairs[one.id]) for one, _ in spare if one.id in pairs):
        short = results.get(pair.short)
        gained = (frame.headroom_stops or 0.0) - ((short and short.headroom_stops) or 0.0)
        if gained >= SMOOTHED_STOPS and _third(pair.placement_difference_stops):
            dark.append(frame)
    high_iso = [
        (one.number("before"), one.number("iso"))
        for numbers, advice in told
        for one in advice.remarks
        if one.code == RemarkCode.LOWER_ISO and one.number("before") >= 2.0 * one.number("iso")
        for _ in numbers
    ]
    # placed as advised: no area lost, and not merely where the dial ends
    good = [
        numbers
        for numbers, one in told
        if {*lost}.isdisjoint(one.joint)
        and _third(one.change_stops)
        and _third(one.headroom_stops - MARGIN_STOPS)
    ]
    found = Placement(
        advised=sum(len(numbers) for numbers, _ in told),
        good=sum(map(len, good)),
        off=sorted(off, key=lambda one: -abs(one[1].change_stops)),
        high_iso=high_iso,
        dark=dark,
        filtered=len(pairs),
        of=len(results),
    )
    if found.good or found.off or found.high_iso or found.dark:
        yield found


def _third(stops: float) -> bool:
    """Whether settings so far apart are within a third of a stop."""
    # a dial's third is 1.26 times or 1.25 times, and what it says is rounded
    return abs(stops) <= MARGIN_STOPS + 0.02


def _plain(found: Found) -> Iterator[LessonFacts]:
    """Yield a finding as it is told at its frame, that of the greatest value for all."""
    told = [one for one in found if one[1].severity is not Severity.NOTE]
    if told:
        worst, finding = max(told, key=lambda one: one[1].value or 0.0)
        ids = tuple(dict.fromkeys(frame.id for frame, _ in told))
        yield Worst(frame=worst.id, finding=finding, frames=ids)


_HELPS = {
    FailureKind.MEDIUM: Helps.ANOTHER_COPY,
    FailureKind.DAMAGED: Helps.ANOTHER_COPY,
    FailureKind.UNSUPPORTED: Helps.ANOTHER_PROGRAM,
    FailureKind.OURS: Helps.NOTHING,
}


def _unreadable(results: Iterable[FrameResult]) -> list[LessonFacts]:
    """Return a lesson for each thing that may help, that for damaged files first.

    A file that was not reached may well be read.
    """
    told: dict[Helps, list[FrameResult]] = {helps: [] for helps in Helps}
    for result in results:
        reached = result.error is None or result.error.code != "interrupted"
        if result.status == FrameStatus.UNREADABLE and reached:
            kind = FailureKind.DAMAGED if result.error is None else result.error.kind
            told[_HELPS[kind]].append(result)
    return [Unread(helps=helps, results=results) for helps, results in told.items() if results]
