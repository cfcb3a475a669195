"""The page: an audit in words, for every report that is read by people."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from auditor.advise.outcomes import largest_losses
from auditor.model.advice import NextTime
from auditor.model.audit import Audit, FrameResult, Lesson, LightPoint, SunDay
from auditor.model.codes import FrameStatus
from auditor.model.findings import FindingKind
from auditor.model.numbers import stops_text
from auditor.model.text import listed
from auditor.report import words
from auditor.report.frame_names import short_names, with_short_names
from auditor.report.glossary import definitions, legend_entries, setting_lines
from auditor.report.page_frames import frame_sheets
from auditor.report.page_groups import next_time_sheet, panorama_sheets, setup_sheets
from auditor.report.page_plans import lasting_lines, plan_sheets
from auditor.report.page_records import FrameSheet, LessonSheet, LightMoment, Page, Tally
from auditor.words.cautions import AUDIT, GROUND_IN_SHORT
from auditor.words.light import light_lines
from auditor.words.next_time import next_times
from auditor.words.page import OUTCOMES, place_text

USUAL_FLOOR_STOPS = 12.0
"""Depth of the stops axis where no noise floor could be measured."""

MOST_BODIES = 4
"""Bodies named in the summary."""


def build_page(audit: Audit, kinds: Mapping[str, FindingKind]) -> Page:
    """Word a whole audit.

    Parameters
    ----------
    audit : Audit
    kinds : mapping of str to FindingKind
        The registry of findings, by code.

    Returns
    -------
    Page
        Every text safe to show, every figure honestly rounded.
    """
    frames = frame_sheets(audit, kinds)
    names = short_names(audit.frames)
    by_id = {frame.id: frame for frame in frames}
    return Page(
        title="Exposure audit",
        when=_when(audit),
        made=_made(audit),
        audit_made_at=audit.made_at,
        summary=tuple(_summary(audit, frames)),
        tallies=_tallies(frames),
        frames=frames,
        light=tuple(_light(point) for point in audit.light),
        sun_lines=tuple(_sun_day(day) for day in audit.sun_days),
        lessons=tuple(_lesson(lesson, kinds, names) for lesson in audit.lessons),
        setups=setup_sheets(audit, by_id, names),
        panoramas=panorama_sheets(audit, names),
        legend=legend_entries(audit, kinds),
        settings=setting_lines(audit.settings),
        definitions=definitions(audit.settings.judge),
        cautions=AUDIT,
        ground_caution=GROUND_IN_SHORT,
        notes=_notes(audit),
        floor_stops=_depth(frames),
        by_id=by_id,
        outcomes=_outcomes(frames),
        losses=largest_losses(audit),
        where=_place(audit),
        inputs=audit.inputs,
        next_times=tuple(
            next_time_sheet(setups, _first_of(audit, advice), advice, names)
            for setups, advice in next_times(audit.setups)
        ),
        plans=plan_sheets(audit, names),
    )


def _moments(audit: Audit) -> list[datetime]:
    """Camera clocks as they show, without their offsets, so that they can be compared."""
    found = (words.moment(frame.captured_at) for frame in audit.frames)
    return sorted(when.replace(tzinfo=None) for when in found if when)


def _when(audit: Audit) -> str:
    moments = _moments(audit)
    if not moments:
        return "No file tells when it was taken"
    first, last = moments[0], moments[-1]
    start, end = first.strftime("%H:%M"), last.strftime("%H:%M")
    if first.date() == last.date():
        return f"{words.day(first)}, {start} to {end}"
    return f"{words.day(first)}, {start}, to {words.day(last)}, {end}"


def _made(audit: Audit) -> str:
    made = words.moment(audit.made_at)
    told = f"{words.day(made)}, {made.strftime('%H:%M')}" if made else words.name(audit.made_at)
    return f"Made {told} by exposure-auditor {words.name(audit.tool_version)}"


def _summary(audit: Audit, frames: tuple[FrameSheet, ...]) -> list[str]:
    unreadable = sum(frame.status == FrameStatus.UNREADABLE for frame in frames)
    bodies = sorted({frame.camera for frame in frames if frame.camera})
    named = bodies[:MOST_BODIES]
    if len(bodies) > MOST_BODIES:
        named.append(f"{len(bodies) - MOST_BODIES} more")
    lines = [
        words.sentence(
            f"{_found(audit)}: {len(frames) - unreadable} measured, "
            f"{unreadable or 'none'} unreadable."
        ),
        f"Taken with {listed(named)}." if bodies else "",
        *light_lines(audit.light),
    ]
    return [line for line in lines if line]


def _found(audit: Audit) -> str:
    """Count the files, where they lay, and how many of them were there before."""
    copies = _copies(audit.frames)
    told = f", {copies} of them {'a copy' if copies == 1 else 'copies'}" if copies else ""
    return f"{words.counted(len(audit.frames), 'file')}{_where(audit)}{told}"


def _where(audit: Audit) -> str:
    """Count the cards where every file lay on one, told by the DCIM folder; else what was named."""
    tops = {_card(frame) for frame in audit.frames}
    if tops and None not in tops:
        return f" on {words.counted(len(tops), 'card')}"
    named = len(audit.inputs)
    return f" in {words.counted(named, 'place')}" if named > 1 else ""


def _card(frame: FrameResult) -> tuple[int, tuple[str, ...]] | None:
    """Return where the folder of pictures lies that DCF puts at the top of every card."""
    folders = frame.file.split("/")[:-1]
    found = [folder.upper() for folder in folders]
    return (frame.input, tuple(folders[: found.index("DCIM")])) if "DCIM" in found else None


def _copies(frames: Sequence[FrameResult]) -> int:
    """Count the files that a file before them holds too."""
    seen: set[str] = set()
    count = 0
    for frame in frames:
        count += not seen.isdisjoint(frame.also_at)
        seen.add(frame.id)
    return count


def _degrees(altitude: float) -> str:
    return f"{stops_text(altitude)}°"


def _tallies(frames: tuple[FrameSheet, ...]) -> tuple[Tally, ...]:
    counts = Counter(frame.verdict for frame in frames)
    return tuple(
        Tally(verdict, text, counts[verdict])
        for verdict, text in words.VERDICTS.items()
        if counts[verdict]
    )


def _outcomes(frames: tuple[FrameSheet, ...]) -> tuple[Tally, ...]:
    counts = Counter(frame.outcome for frame in frames)
    return tuple(
        Tally(outcome.value, _of_many(text, counts[outcome.value]), counts[outcome.value])
        for outcome, text in OUTCOMES.items()
        if counts[outcome.value]
    )


def _of_many(text: str, count: int) -> str:
    return f"{text}s" if text.endswith("frame") and count > 1 else text


def _first_of(audit: Audit, advice: NextTime) -> int:
    """Return the number of the first set-up with that advice."""
    return next(n for n, setup in enumerate(audit.setups, 1) if setup.next_time == advice)


def _place(audit: Audit) -> str:
    """Tell where the shoot was; empty where it is not known, or where it was at many places."""
    places = {place_text(day.latitude_deg, day.longitude_deg) for day in audit.sun_days}
    return places.pop() if len(places) == 1 else ""


def _light(point: LightPoint) -> LightMoment:
    parts = [f"scene EV {stops_text(point.scene_ev100)}"]
    if point.sun_altitude_deg is not None:
        parts.append(f"sun at {_degrees(point.sun_altitude_deg)}")
    if point.filtered:
        parts.append("behind a filter, given back")
    if point.moved_stops:
        parts.append(f"it {words.changed(point.moved_stops)} meanwhile")
    return LightMoment(
        point.frame, point.scene_ev100, point.sun_altitude_deg, point.filtered, ", ".join(parts)
    )


def _sun_day(day: SunDay) -> str:
    named = (
        ("sunrise", day.sunrise),
        ("sunset", day.sunset),
        ("end of civil dusk", day.civil_dusk),
        ("end of nautical dusk", day.nautical_dusk),
    )
    known = [(label, words.moment(when)) for label, when in named]
    half = timedelta(seconds=30)  # to the nearest minute: 06:59:48 is seven o'clock
    times = [f"{label} {(when + half).strftime('%H:%M')}" for label, when in known if when]
    reasons = [words.plain(reason) for reason in day.reasons.values()]
    parts = [listed(times), *reasons[:1], words.plain(day.assumption)]
    return " ".join(words.sentence(part) for part in parts if part)


def _lesson(
    lesson: Lesson, kinds: Mapping[str, FindingKind], names: Mapping[str, str]
) -> LessonSheet:
    kind = kinds.get(lesson.code)
    return LessonSheet(
        text=words.plain(with_short_names(lesson.text, names)),
        evidence=words.plain(with_short_names(lesson.evidence, names)),
        frames=lesson.frames,
        caution=words.plain(kind.caution) if kind else "",
    )


def _notes(audit: Audit) -> tuple[str, ...]:
    told = [words.plain(note) for note in audit.notes]
    if not audit.complete:
        told.insert(0, "This audit was stopped before its end: what stands here is a part.")
    if audit.passed_over:
        others = [f"{count} {words.name(suffix)}" for suffix, count in audit.passed_over.items()]
        told.append(f"Other files, passed over: {listed(others)}.")
    told += lasting_lines(audit)
    return tuple(told)


def _depth(frames: tuple[FrameSheet, ...]) -> float:
    floors = [frame.bar.floor_stops for frame in frames if frame.bar.floor_stops is not None]
    return float(math.ceil(max(floors, default=USUAL_FLOOR_STOPS)))
