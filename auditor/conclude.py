"""Floor 4: from measurements to opinions. Nothing is decoded here, and nothing is kept.

Settle where each channel clips, judge each frame, group the frames, choose, and sum up.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from auditor.advise.blend import with_blends
from auditor.advise.dark_frames import dark_frame_needs
from auditor.advise.filters import filter_verdicts
from auditor.advise.isos import iso_figures
from auditor.advise.keepers import choose_keepers, look_at_kinds, with_moved
from auditor.advise.lessons import draw_lessons
from auditor.advise.next_time import with_next_time
from auditor.clipping.growth import with_growth
from auditor.clipping.settle import (
    LevelHistory,
    settle_levels,
)
from auditor.defects.lasting import with_lasting_hot_pixels
from auditor.engine.worker import give_back
from auditor.evidence import Evidence, gather_evidence, settle_evidence, without_copies
from auditor.figures.frame import unreadable_frame
from auditor.group.grouping import group_shoot
from auditor.history.evenings import with_evenings
from auditor.history.filters import filters_of
from auditor.history.rows import sensor_rows
from auditor.history.shots import Shot, gather, sensor_of
from auditor.light.curve import chained, light_points
from auditor.light.forecast import forecasts
from auditor.light.sun import sun_days
from auditor.model.advice import DarkFrameNeed, FilterVerdict, IsoFigures, LightForecast
from auditor.model.audit import (
    Audit,
    FrameResult,
    Keeper,
    LastingHotPixels,
    Lesson,
    LightPoint,
    PrintFit,
    SunDay,
)
from auditor.model.errors import FrameFailure
from auditor.model.facts import CardFile, Position
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter, SensorRow
from auditor.model.settings import Settings
from auditor.model.shoot import MeasurementSource, ShootFrame
from auditor.model.text import visible
from auditor.print.fit import print_fits
from auditor.rules import frame_view, with_frame_findings, with_shoot_findings
from auditor.spread import EveningHands, evening_hands
from auditor.words import remarks
from auditor.words.findings import with_sentences
from auditor.words.keepers import keeper_of
from auditor.words.lessons import lesson_of
from auditor.words.light import sun_day_with_words
from auditor.words.optics import print_notes


@dataclass(frozen=True, slots=True)
class Past:
    """What earlier shoots taught, as far as it helps to judge this one."""

    levels: LevelHistory = field(default_factory=LevelHistory)
    filters: tuple[KnownFilter, ...] = ()
    sensors: tuple[SensorRow, ...] = ()

    @classmethod
    def of(cls, levels: LevelHistory, shoots: Iterable[Audit]) -> Past:
        """Return what the levels of earlier frames and earlier shoots taught."""
        counted = gather(shoots)
        return cls(levels, filters_of(counted.pairs), sensor_rows(counted.shots))


@dataclass(frozen=True, slots=True)
class Conclusions:
    """All opinions on one shoot."""

    frames: tuple[FrameResult, ...]
    grouping: Grouping
    keepers: tuple[Keeper, ...]
    light: tuple[LightPoint, ...]
    lessons: tuple[Lesson, ...]
    prints: tuple[PrintFit, ...]
    sun_days: tuple[SunDay, ...]
    lasting_hot_pixels: tuple[LastingHotPixels, ...]
    filters: tuple[FilterVerdict, ...]
    forecast: tuple[LightForecast, ...]
    dark_frames: tuple[DarkFrameNeed, ...]
    isos: tuple[IsoFigures, ...]


def conclude(
    files: Sequence[CardFile],
    failures: Mapping[str, FrameFailure],
    measurements: MeasurementSource,
    settings: Settings,
    *,
    past: Past | None = None,
    place: Position | None = None,
    workers: int = 1,
) -> Conclusions:
    """Judge a measured shoot.

    Parameters
    ----------
    files : sequence of CardFile
        Every file of the shoot.
    failures : mapping of frame id to FrameFailure
        The files that could not be measured; all others are in the source.
    place : Position, optional
        Where the pictures were taken, for files that hold no position.
    workers : int
        Processes of this machine that a large shoot may take.
    """
    past = past or Past()
    with evening_hands(len(files), settings, workers) as hands:
        known = settle_evidence(gather_evidence(files, failures, measurements, hands.spread))
        frames, judged, grouping = _judged_and_grouped(known, settings, past, hands)
        once = without_copies(frames)
        looks = look_at_kinds(once, judged, grouping, hands.spread)
        give_back()  # the images that were grouped by: reports have no use for their room
        grouping = with_blends(grouping, once, settings.judge.clean_snr, hands.spread)
        _tell(frames, grouping)
        sensors = {name: sensor_of(result) for name, result in judged.items()}
        judged, lasting = with_lasting_hot_pixels(judged, once, known.hot, grouping.setups, sensors)
        isos = iso_figures(
            sensor_rows(Shot(judged[one.id], 0, settings.judge) for one in once), past.sensors
        )
        judged = with_shoot_findings(judged, grouping, settings, isos)
        judged = {name: with_sentences(result) for name, result in judged.items()}
        filters = filter_verdicts(grouping.siblings)
        grouping = with_next_time(judged, grouping, filters, past.filters)
        grouping = remarks.with_sentences(grouping)
        choices = choose_keepers(once, judged, grouping, settings.judge, looks)
        grouping, keepers = with_moved(grouping, choices), tuple(map(keeper_of, choices))
        by_id, chosen = {one.id: one for one in once}, dict.fromkeys(one.frame for one in keepers)
        fits = print_fits(
            [judged[name] for name in chosen],
            [by_id[name] for name in chosen],
            settings.print,
            hands.spread,
        )
    for file in files:
        if file.id not in judged:
            result = unreadable_frame(file, failures[file.id])
            found = with_frame_findings(frame_view(result, None, settings))
            judged[file.id] = with_sentences(found)
    results = {file.id: judged[file.id] for file in files}
    points = light_points(
        [judged[frame.id] for frame in once],
        siblings=grouping.siblings,
        grads=grouping.grads,
        drifts=grouping.drifts,
        place=place,
    )
    light = with_evenings(chained(points, grouping))
    return Conclusions(
        frames=tuple(results.values()),
        grouping=grouping,
        keepers=keepers,
        light=light,
        lessons=tuple(map(lesson_of, draw_lessons(results, grouping, filters))),
        sun_days=_sun_days(once, place),
        prints=tuple(replace(fit, notes=print_notes(judged[fit.frame])) for fit in fits),
        lasting_hot_pixels=lasting,
        filters=filters,
        forecast=forecasts(grouping.setups, light, judged, place),
        isos=isos,
        dark_frames=dark_frame_needs([judged[frame.id] for frame in once], known.hot),
    )


def _tell(frames: Sequence[ShootFrame], grouping: Grouping) -> None:
    """Tell where each plane of each frame clips, which were taken together, and which pairs."""
    log = logging.getLogger("auditor.settle")
    for frame in frames if log.isEnabledFor(logging.DEBUG) else ():
        told = (f"{level.saturation_dn:.0f} ({level.source})" for level in frame.levels)
        log.debug("%s clips at %s", visible(frame.id), ", ".join(told))
    log = logging.getLogger("auditor.group")
    for setup in grouping.setups:
        log.debug("set-up %s: %s", setup.id, visible(", ".join(setup.frames)))
    for pair in grouping.siblings:
        log.debug(
            "%s behind a filter of %.2f stops against %s, confidence %.2f",
            visible(pair.long), pair.filter_stops, visible(pair.short), pair.confidence,
        )  # fmt: skip
    for bracket in grouping.brackets:
        log.debug("bracket: %s, needed %s", visible(", ".join(bracket.frames)), bracket.needed)


def _judged_and_grouped(
    known: Evidence, settings: Settings, past: Past, hands: EveningHands
) -> tuple[list[ShootFrame], dict[str, FrameResult], Grouping]:
    """Settle, judge and group; once more where a set-up tells of where its longer frames clip."""
    while True:
        frames = known.settled(settle_levels(known.evidence, past.levels))
        hands.frames, hands.judged = frames, {}
        grouping = group_shoot(without_copies(frames), settings.group, past.filters, hands)
        judged = {frame.id: hands.judged[frame.id] for frame in frames}
        if known.grown:
            return frames, judged, grouping
        setups = [setup.frames for setup in grouping.setups]
        grown = with_growth(known.evidence, {frame.id: frame for frame in frames}, setups)
        if not grown:
            return frames, judged, grouping
        known = replace(known, evidence={**known.evidence, **grown}, grown=True)


def _sun_days(frames: Sequence[ShootFrame], place: Position | None) -> tuple[SunDay, ...]:
    """Return the days of the shoot where a place is known: the first file's own, or the given."""
    own = next((f.facts.position for f in frames if f.facts.position is not None), None)
    where = own or place
    if where is None:
        return ()
    days = sun_days([f.facts.opened for f in frames if f.facts.opened is not None], where)
    return tuple(map(sun_day_with_words, days))
