"""The page: an audit in words, for every report that is read by people."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import TypeVar

from auditor.advise.outcomes import Outcome, largest_losses
from auditor.model.audit import Audit
from auditor.model.findings import FindingKind
from auditor.model.numbers import plural
from auditor.model.settings import Settings
from auditor.report.frame_names import plain_named, short_names
from auditor.report.page_frames import frame_sheets
from auditor.report.page_records import (
    LegendEntry,
    LessonSheet,
    LightMoment,
    Page,
    PlanSheet,
    SettingLine,
    Tally,
)
from auditor.report.page_setups import next_time_sheet, setup_sheets
from auditor.report.setup_records import PanoramaSheet
from auditor.words import values as words
from auditor.words.cautions import AUDIT, GROUND_IN_SHORT
from auditor.words.glossary import MEANINGS, definitions
from auditor.words.light import FORECAST_NOTE, forecast_lines
from auditor.words.next_time import FILTER_TIMES_NOTE, dark_frame_lines, iso_lines, next_times
from auditor.words.page import (
    OUTCOMES,
    light_text,
    made_text,
    note_lines,
    place_text,
    summary_lines,
    sun_line,
    when_text,
)
from auditor.words.setups import panorama_sentence

Code = TypeVar("Code", str, Outcome)
USUAL_FLOOR_STOPS = 12.0
"""Depth of the stops axis where no noise floor could be measured."""


MOST_FILTERS = 3
"""So many filters have a column on the first screen; each set-up tells the times of all."""


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
    frames, names = frame_sheets(audit, kinds), short_names(audit.frames)
    by_id = {frame.id: frame for frame in frames}
    floors = [frame.bar.floor_stops for frame in frames if frame.bar.floor_stops is not None]
    places = {place_text(day.latitude_deg, day.longitude_deg) for day in audit.sun_days}
    advised = [setup.next_time for setup in audit.setups]
    first = {id(one): number for number, one in reversed([*enumerate(advised, 1)])}
    told = {one.filter for advice in advised if advice for one in advice.behind}
    filters = [one.name for one in audit.filters if one.name in told][:MOST_FILTERS]
    return Page(
        title="Exposure audit",
        when=when_text(audit),
        made=made_text(audit),
        audit_made_at=audit.made_at,
        summary=tuple(summary_lines(audit)),
        tallies=_tallies([frame.verdict for frame in frames], words.VERDICTS),
        frames=frames,
        light=tuple(
            LightMoment(
                frame=point.frame,
                ev100=point.scene_ev100,
                sun_deg=point.sun_altitude_deg,
                filtered=point.filtered,
                text=light_text(point),
            )
            for point in audit.light
        ),
        sun_lines=tuple(map(sun_line, audit.sun_days)),
        lessons=tuple(
            LessonSheet(
                text=plain_named(lesson.text, names),
                evidence=plain_named(lesson.evidence, names),
                frames=lesson.frames,
                caution=words.plain(kinds[lesson.code].caution) if lesson.code in kinds else "",
            )
            for lesson in audit.lessons
        ),
        setups=setup_sheets(audit, by_id, names),
        panoramas=tuple(
            PanoramaSheet(
                title=f"Panorama {number}",
                sentence=panorama_sentence(run),
                frames=run.frames,
                notes=tuple(plain_named(note, names) for note in run.notes),
            )
            for number, run in enumerate(audit.panoramas, 1)
        ),
        legend=tuple(_legend(audit, kinds)),
        settings=tuple(_settings(audit.settings)),
        definitions=definitions(audit.settings.judge),
        cautions=AUDIT,
        ground_caution=GROUND_IN_SHORT,
        notes=tuple(note_lines(audit)),
        floor_stops=float(math.ceil(max(floors, default=USUAL_FLOOR_STOPS))),
        by_id=by_id,
        outcomes=_tallies([frame.outcome for frame in frames], OUTCOMES),
        losses=largest_losses(audit),
        where=places.pop() if len(places) == 1 else "",
        inputs=audit.inputs,
        next_times=tuple(
            next_time_sheet(setups, first[id(advice)], advice, names, filters)
            for setups, advice in next_times(audit.setups)
        ),
        filters=tuple(map(words.plain, filters)),
        filter_times=FILTER_TIMES_NOTE if any(one and one.behind for one in advised) else "",
        plans=tuple(_plans(audit, names)),
    )


def _tallies(found: Sequence[str], texts: Mapping[Code, str]) -> tuple[Tally, ...]:
    """Count what the frames came to, in the order of the texts; what none came to is left out."""
    counts = Counter(found)
    return tuple(
        Tally(
            verdict=str(code),
            text=plural(counts[code], text) if text.endswith("frame") else text,
            count=counts[code],
        )
        for code, text in texts.items()
        if counts[code]
    )


def _legend(audit: Audit, kinds: Mapping[str, FindingKind]) -> Iterator[LegendEntry]:
    """Explain every kind of finding, with the number of frames that it was found on."""
    found = Counter(code for frame in audit.frames for code in {f.code for f in frame.findings})
    for kind in kinds.values():
        yield LegendEntry(
            code=kind.code,
            title=words.name(kind.title),
            severity=kind.severity.value,
            severity_text=words.SEVERITIES[kind.severity],
            meaning=words.plain(kind.meaning),
            measured=words.plain(kind.measured),
            next_time=words.plain(kind.next_time),
            caution=words.plain(kind.caution),
            count=found[kind.code],
        )


def _settings(settings: Settings) -> Iterator[SettingLine]:
    """Tell every setting with its value and what it does."""
    for section in fields(settings):
        table = getattr(settings, section.name)
        for entry in fields(table):
            name, value = f"{section.name}.{entry.name}", getattr(table, entry.name)
            parts = value if isinstance(value, tuple) else (value,)
            yield SettingLine(
                name=name,
                value=", ".join(map(words.setting_value, parts)),
                meaning=MEANINGS.get(name, ""),
            )


def _plans(audit: Audit, names: Mapping[str, str]) -> Iterator[PlanSheet]:
    """Yield what there is to plan from; a plan without a line is left out."""
    for title, lines, note in (
        ("The day after, at the same place", forecast_lines(audit), FORECAST_NOTE),
        ("Dark frames", dark_frame_lines(audit.dark_frames), ""),
        ("What each ISO holds", iso_lines(audit.isos), ""),
    ):
        told = tuple(plain_named(line, names) for line in lines)
        if told:
            yield PlanSheet(title=title, lines=told, note=note)
