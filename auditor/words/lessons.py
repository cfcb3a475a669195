"""The lines that end an audit, each with names, figures and times."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from functools import singledispatch
from statistics import median

from auditor.advise.graduated import UsedGrad
from auditor.advise.lessons import (
    Filters,
    Helps,
    LessonFacts,
    Lost,
    Placement,
    PreviewOff,
    Unmatched,
    Unread,
    Worst,
)
from auditor.light.filters import filter_name
from auditor.light.graduated import grad_name, left_brighter
from auditor.light.nominal import dial_text, nominal_name
from auditor.model.advice import NextTime
from auditor.model.audit import Lesson
from auditor.model.codes import Loss
from auditor.model.findings import FindingCode
from auditor.model.numbers import counted, counted_stops, plural, share_text, whole_share_text
from auditor.model.remark import RemarkCode
from auditor.model.text import listed
from auditor.words.findings import colour_name
from auditor.words.next_time import setups_text
from auditor.words.unread import FAILURE_CODES

MOST_NAMED = 3

NOT_READ = {
    Helps.ANOTHER_COPY: (
        "{files} could not be read. Copy from the card again before the card is formatted."
    ),
    Helps.ANOTHER_PROGRAM: "{files} could not be read here and may be whole. Keep them.",
    Helps.NOTHING: (
        "{files} could not be measured, through a limit or a fault of this program. That says "
        "nothing of the files."
    ),
}
"""What is said of files that were not measured, by what may help."""


@singledispatch
def lesson_of(facts: LessonFacts) -> Lesson:
    """Say one of the lines that end an audit."""
    raise TypeError(f"no lesson is made from {type(facts).__name__}")


def files_text(names: Sequence[str]) -> str:
    """Say "A" or "3 files (A, B and C)"."""
    return names[0] if len(names) == 1 else f"{len(names)} files ({_named(names)})"


def _named(parts: Sequence[str]) -> str:
    more = len(parts) - MOST_NAMED
    return listed([*parts[:MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


@lesson_of.register
def _lost(facts: Lost) -> Lesson:
    """Say what was lost for good: where all channels are gone, where one is, what is too dark."""
    whole = [one for one in facts.areas if one.loss == Loss.ALL_CHANNELS]
    channel = [one for one in facts.areas if one.loss == Loss.CHANNEL]
    parts = []
    if whole:
        named = _named([f"{f.id} ({_share(f.blown_all_fraction)} of the frame)" for f in whole])
        parts.append(f"Highlights are lost in every channel of {named}.")
    if channel:
        told = []
        for frame in channel:
            most = max((c.blown_fraction for c in frame.channels), default=0.0)
            hit = [c.name for c in frame.channels if c.blown_fraction >= most / 2 > 0]
            colours = listed(list(dict.fromkeys(map(colour_name, hit)))) or "one channel"
            told.append(f"{frame.id} ({_share(frame.blown_fraction)}, {colours})")
        named = _named(told)
        parts.append(f"An area is blown, not in every channel, in {named}: it may be rebuilt.")
    if facts.blocked:
        dark = [f"{f.id} ({_share(f.blocked_fraction)} of the frame)" for f in facts.blocked]
        parts.append(f"Shadows are under the noise floor in {_named(dark)}.")
    frames = tuple(dict.fromkeys(frame.id for frame in (*facts.areas, *facts.blocked)))
    return Lesson(
        text=" ".join(parts),
        evidence=f"{len(frames)} of {counted(facts.of, 'frame')}",
        frames=frames,
        code=FindingCode.BLOWN_AREA if facts.areas else FindingCode.BLOCKED_AREA,
    )


def _share(share: float | None) -> str:
    return share_text(share or 0.0)


@lesson_of.register
def _filters(facts: Filters) -> Lesson:
    """Say what each filter measures, and what the graduated filter did."""
    parts = []
    if facts.filters:
        told = [
            f"{one.name}{' measures' if number == 0 else ''} {counted_stops(one.stops)}"
            f"{'' if one.cast == 'neutral' else f', {one.cast}'}"
            for number, one in enumerate(facts.filters)
        ]
        these = "this figure" if len(facts.filters) == 1 else "these figures"
        parts.append(f"Your {'; the '.join(told)}: calculate with {these}.")
    parts += map(_used, facts.grads[:MOST_NAMED])
    pairs = sum(one.pairs for one in facts.filters)
    measured = [counted(pairs, "pair")] if pairs else []
    measured += [counted(len(facts.grads), "graduated filter")] if facts.grads else []
    frames = [frame for one in facts.filters for frame in one.frames]
    frames += [frame for used in facts.grads for frame in used.frames]
    return Lesson(
        text=" ".join(parts),
        evidence=listed(measured),
        frames=tuple(dict.fromkeys(frames)),
        code=FindingCode.FILTER_OFF_MARKING,
    )


def _used(used: UsedGrad) -> str:
    """Say what a graduated filter measures, and where another strength would have served better."""
    grad, frame = used.grad, used.with_
    taken = f" ({dial_text(frame.exposure)})" if frame and len(used.frames) == 1 else ""
    measures = (
        f"The grad of {_named(used.frames)}{taken} measures {counted_stops(grad.stops_at_top)}"
    )
    if abs(used.off_stops) < 1.0 or used.before_stops is None:
        return f"{measures}, its edge {whole_share_text(grad.edge_at)} from the top."
    off, side = abs(used.off_stops), "strong" if used.off_stops > 0 else "weak"
    if used.after_stops is None:
        sky = f"the sky is {_stands(used.before_stops)} than the foreground without it"
    else:
        sky = f"it left the sky {_stands(used.after_stops)} than the foreground"
    better = "none was needed"
    if used.advised is not None:
        left = left_brighter(used.before_stops, used.advised.stops)
        better = f"a {grad_name(used.advised.stops, used.advised.kind)} leaves it {left}"
    return f"{measures}, {off:.0f} {plural(round(off), 'stop')} too {side}: {sky}; {better}."


def _stands(over_stops: float) -> str:
    return f"{counted_stops(abs(over_stops))} {'brighter' if over_stops >= 0 else 'darker'}"


@lesson_of.register
def _unmatched(facts: Unmatched) -> Lesson:
    """Say which filtered frame missed its sibling, the worst first, and what would have matched."""
    worst, *others = facts.pairs
    taken = f"{dial_text(facts.worst.exposure)}, " if facts.worst else ""
    matched = (
        f"{nominal_name(worst.matched_time_s)} would have matched"
        if worst.matched_time_s
        else "the light fell too fast for any time to match"
    )
    text = (
        f"{worst.long} ({taken}{filter_name(worst)}) came out "
        f"{_stands(worst.placement_difference_stops)} than {worst.short}: {matched}."
    )
    named = [f"{pair.long} ({_stands(pair.placement_difference_stops)})" for pair in others]
    return Lesson(
        text=f"{text} Also {_named(named)}." if named else text,
        evidence=f"{len(facts.pairs)} of {counted(facts.of, 'filtered frame')}",
        frames=tuple(pair.long for pair in facts.pairs),
        code=FindingCode.PLACEMENT_OFF,
    )


@lesson_of.register
def _placement(facts: Placement) -> Lesson:
    """Say how the set-ups were exposed without a filter, and how the frames behind one were."""
    parts = []
    if facts.good:
        of = f"{facts.good} of {facts.advised}"
        if facts.good == facts.advised:
            of = "both" if facts.good == 2 else f"all {facts.good}"
        where = f" in {of} set-ups" if facts.advised > 1 else ""
        parts.append(f"Exposure without a filter was within a third of a stop{where}.")
    if facts.off:
        parts.append(f"Next time: {_named([_change(*one) for one in facts.off])}.")
    if facts.high_iso:
        # a tripod lets them be taken at the base
        used = sorted({before for before, _ in facts.high_iso})
        isos = f"ISO {used[0]:.0f}" + (f" to {used[-1]:.0f}" if len(used) > 1 else "")
        gains = [math.log2(before / iso) for before, iso in facts.high_iso]
        base = min(iso for _, iso in facts.high_iso)
        parts.append(
            f"{isos} in {len(gains)} of {counted(facts.advised, 'set-up')}: at ISO {base:.0f} the "
            f"sensor takes {counted_stops(median(gains))} more light."
        )
    if facts.dark:
        rooms = [frame.headroom_stops or 0.0 for frame in facts.dark]
        parts.append(
            f"{len(facts.dark)} of {counted(facts.filtered, 'frame')} behind filters could take "
            f"{counted_stops(median(rooms))} more: smoothed water clips later."
        )
    frames = [advice.frame for _, advice in facts.off] + [frame.id for frame in facts.dark]
    return Lesson(
        text=" ".join(parts),
        evidence=(f"{len(frames)} of " if frames else "") + counted(facts.of, "frame"),
        frames=tuple(frames),
        code=FindingCode.HEADROOM_LEFT,
    )


def _change(setups: tuple[int, ...], advice: NextTime) -> str:
    """Say how much more or less light, where, and by which settings that change."""
    way = "more" if advice.change_stops > 0 else "less"
    stops = counted_stops(abs(advice.change_stops))
    where = setups_text(setups)
    codes = {one.code for one in advice.remarks}
    if RemarkCode.ALL_LOST in codes:
        stops = f"at least {stops}"
    settings = [nominal_name(advice.time_s)]
    settings += [f"f/{advice.f_number:g}"] if RemarkCode.WIDER in codes else []
    changed = not codes.isdisjoint({RemarkCode.LOWER_ISO, RemarkCode.HIGHER_ISO})
    settings += [f"ISO {advice.iso:.0f}"] if changed else []
    return f"{stops} {way} in {where[:1].lower()}{where[1:]} ({', '.join(settings)})"


@lesson_of.register
def _preview(facts: PreviewOff) -> Lesson:
    """Say how far the preview is from the raw data, and what it hid."""
    parts = []
    if facts.early:
        least, most = min(facts.early), max(facts.early)
        span = f", {least:.1f} to {counted_stops(most)}" if f"{least:.1f}" != f"{most:.1f}" else ""
        parts.append(
            f"The preview clips {counted_stops(median(facts.early))} before the raw data ("
            f"{'median of ' if facts.early[1:] else ''}{counted(len(facts.early), 'frame')}"
            f"{span}): a neutral picture style or, better, equal white-balance multipliers "
            "bring it nearer."
        )
    if facts.hid:
        parts.append(f"It hid blown highlights in {_named(facts.hid)}.")
    return Lesson(
        text=" ".join(parts),
        evidence=f"{len(facts.frames)} of {counted(facts.of, 'frame')}",
        frames=tuple(facts.frames),
        code=FindingCode.PREVIEW_EARLY if facts.early else FindingCode.PREVIEW_HIDES,
    )


@lesson_of.register
def _worst(facts: Worst) -> Lesson:
    more = f" {len(facts.frames) - 1} more." if len(facts.frames) > 1 else ""
    return Lesson(
        text=f"{facts.frame}: {facts.finding.text}{more}",
        evidence=counted(len(facts.frames), "frame"),
        frames=tuple(facts.frames),
        code=facts.finding.code,
    )


@lesson_of.register
def _unread(facts: Unread) -> Lesson:
    frames = tuple(result.id for result in facts.results)
    errors = [result.error for result in facts.results if result.error]
    reasons = Counter(FAILURE_CODES.get(error.code, error.message) for error in errors)
    each = [f"{counted(count, 'file')}: {why}" for why, count in reasons.most_common()]
    return Lesson(
        text=NOT_READ[facts.helps].format(files=files_text(frames)),
        evidence=next(iter(reasons)) if len(reasons) == 1 else " ".join(each),
        frames=frames,
        code="unreadable",
    )
