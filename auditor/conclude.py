"""Floor 4: from measurements to opinions. Nothing is decoded here, and nothing is kept.

Settle where each channel clips, judge each frame, group the frames, choose, and sum up.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from functools import partial

from auditor.advise.blend import with_blends
from auditor.advise.dark_frames import dark_frame_needs
from auditor.advise.filters import filter_verdicts
from auditor.advise.isos import iso_figures
from auditor.advise.keepers import choose_keepers, with_moved
from auditor.advise.lessons import draw_lessons
from auditor.advise.next_time import with_next_time
from auditor.black.settle import DarkFrame, SettledBlacks, dark_frame, settle_blacks, unlit
from auditor.clipping.growth import with_growth
from auditor.clipping.settle import (
    LevelHistory,
    clip_evidence,
    settle_levels,
    with_lent_noise,
)
from auditor.defects.lasting import place_numbers, with_lasting_hot_pixels
from auditor.engine.spread import spread
from auditor.engine.worker import give_back
from auditor.figures.frame import judge_frame, unreadable_frame
from auditor.files.spool import Spool
from auditor.group.grouping import group_shoot
from auditor.group.shots import closing_stamps
from auditor.group.tile_image import TileImage, TilePixels, reduced
from auditor.history.evenings import with_evenings
from auditor.history.filters import filters_of
from auditor.history.rows import sensor_rows
from auditor.history.shots import Shot, gather
from auditor.light.curve import chained, light_points
from auditor.light.forecast import forecasts
from auditor.light.optics import frame_optics
from auditor.light.sun import sun_days
from auditor.model.advice import DarkFrameNeed, FilterVerdict, IsoFigures, LightForecast
from auditor.model.arrays import I64
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
from auditor.model.clip_evidence import ClipEvidence
from auditor.model.errors import FrameFailure
from auditor.model.facts import CardFile, FileFacts, Position
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter, SensorRow
from auditor.model.measurement import Level, NoiseEstimate
from auditor.model.outcome import Engine, Spread, in_turn
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import Settings
from auditor.model.shoot import MeasurementSource, ShootFrame, without_maps
from auditor.model.text import visible
from auditor.noise.settle import over_black, settle_noise, true_isos
from auditor.print.fit import print_fit
from auditor.rules import frame_view, with_frame_findings, with_shoot_findings
from auditor.words import remarks
from auditor.words.findings import with_sentences
from auditor.words.keepers import keeper_of
from auditor.words.lessons import lesson_of
from auditor.words.light import sun_day_with_words
from auditor.words.optics import print_notes

IN_MEMORY = 500
"""Images of so many frames are kept in memory, 75 KB each; those of more lie in a file."""

WORTH_SPREADING = 5_000
"""From so many frames on workers are asked for their set-ups. For fewer it does not pay on two
cores: 1,000 frames took 63 s with workers and 40 s without, 62 and 12 ms of processor time a
frame beside the parent's 17 and 20."""


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
    engine: Engine | None = None,
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
    engine : Engine, optional
        Of this machine; its workers do the set-ups of many frames, and conclude the same.
    """
    past = past or Past()
    told_aloud = logging.getLogger("auditor.group").isEnabledFor(logging.DEBUG)
    many = engine is not None and len(files) >= WORTH_SPREADING and not told_aloud
    way = partial(spread, engine) if engine is not None and many else in_turn
    known, hot, measurements = _known(files, failures, measurements)
    frames = known.settled(settle_levels(known.evidence, past.levels), measurements)
    judged, grouping = _judged_and_grouped(frames, settings, past, way)
    setups = [setup.frames for setup in grouping.setups]
    grown = with_growth(known.evidence, {frame.id: frame for frame in frames}, setups)
    if grown:  # sure of where more of it clips
        known = replace(known, evidence={**known.evidence, **grown})
        frames = known.settled(settle_levels(known.evidence, past.levels), measurements)
        judged, grouping = _judged_and_grouped(frames, settings, past, way)
    give_back()  # the images that were grouped by: reports have no use for their room
    once = _without_copies(frames)
    grouping = with_blends(grouping, once, settings.judge.clean_snr)
    _tell(frames, grouping)
    judged, lasting = with_lasting_hot_pixels(judged, once, hot, grouping.setups)
    isos = iso_figures(
        sensor_rows(Shot(judged[one.id], 0, settings.judge) for one in once), past.sensors
    )
    judged = with_shoot_findings(judged, grouping, settings, isos)
    judged = {name: with_sentences(result) for name, result in judged.items()}
    filters = filter_verdicts(grouping.siblings)
    grouping = with_next_time(judged, grouping, filters, past.filters)
    grouping = remarks.with_sentences(grouping)
    choices = choose_keepers(once, judged, grouping, settings.judge)
    grouping, keepers = with_moved(grouping, choices), tuple(map(keeper_of, choices))
    results = {file.id: judged.get(file.id) or _unread(file, failures, settings) for file in files}
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
        prints=_prints(keepers, once, judged, settings),
        lasting_hot_pixels=lasting,
        filters=filters,
        forecast=forecasts(grouping.setups, light, judged, place),
        isos=isos,
        dark_frames=dark_frame_needs([judged[frame.id] for frame in once], hot),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the frames tell before they are held against each other.

    A frame bears witness once, however many copies of it there are.
    """

    files: Sequence[CardFile]
    evidence: Mapping[str, ClipEvidence]
    facts: Mapping[str, FileFacts]
    noise: Mapping[str, tuple[NoiseEstimate, ...]]

    def settled(
        self, levels: Mapping[str, tuple[Level, ...]], measurements: MeasurementSource
    ) -> list[ShootFrame]:
        """Join the frames with their levels; copies share what their first one is settled to."""
        first = _first_of_copies(self.files)
        return [
            ShootFrame(
                source=file,
                facts=self.facts[own],
                levels=levels[own],
                noise=self.noise[own],
                measurements=measurements,
            )
            for file in self.files
            for own in [first[file.content_key]]
        ]


def _known(
    files: Sequence[CardFile], failures: Mapping[str, FrameFailure], measurements: MeasurementSource
) -> tuple[_Known, dict[str, I64], MeasurementSource]:
    """Gather the evidence with black and noise settled over the shoot, and hot pixels by number.

    Also returns the source with that black.
    """
    evidence: dict[str, ClipEvidence] = {}
    facts: dict[str, FileFacts] = {}
    noise: dict[str, tuple[NoiseEstimate, ...]] = {}
    hot: dict[str, I64] = {}
    darks: dict[str, DarkFrame] = {}
    readable = [file for file in files if file.id not in failures]
    first = _first_of_copies(readable)
    for file in readable:
        if first[file.content_key] == file.id:
            measured = without_maps(measurements, file.id)
            evidence[file.id], facts[file.id] = clip_evidence(measured), measured.facts
            noise[file.id] = tuple(plane.noise for plane in measured.mosaic.planes)
            hot[file.id] = place_numbers(measured.mosaic.hot.positions)
            if unlit(measured.mosaic.planes):
                whole = measurements.measurement(file.id)
                dark = dark_frame(whole, measured.facts.exposure.time_s)
                darks |= {} if dark is None else {file.id: dark}
    times_s = {name: own.exposure.time_s for name, own in facts.items()}
    if moved := settle_blacks(evidence, times_s, darks):
        copies = {file.id: first[file.content_key] for file in readable}
        measurements = SettledBlacks(
            measurements, {name: moved[own] for name, own in copies.items() if own in moved}
        )
        for name in moved:
            evidence[name] = clip_evidence(without_maps(measurements, name))
            noise[name] = tuple(
                over_black(own, by, unlit=name in darks)
                for own, by in zip(noise[name], moved[name], strict=True)
            )
    facts = _told_by_shoot(facts, closing_stamps(readable, facts), true_isos(evidence, noise))
    lent = settle_noise(evidence, noise)
    for frame_id, estimates in lent.items():
        if estimates != noise[frame_id]:
            measured = without_maps(measurements, frame_id)
            evidence[frame_id] = with_lent_noise(evidence[frame_id], measured, estimates)
    return _Known(files=readable, evidence=evidence, facts=facts, noise=lent), hot, measurements


def _told_by_shoot(
    facts: Mapping[str, FileFacts], late: Collection[str], isos: Mapping[str, float]
) -> dict[str, FileFacts]:
    """Add what only the shoot tells of its files: stamps of the closing, and ISOs of the gain."""
    told = dict(facts)
    for name, iso in isos.items():
        own = facts[name]
        other = remark(RemarkCode.ISO_OF_GAIN, named=own.exposure.iso, iso=iso)
        exposure = replace(own.exposure, gain_iso=iso)
        told[name] = replace(own, exposure=exposure, remarks=(*own.remarks, other))
    for name in late:
        told[name] = replace(told[name], exposure=replace(told[name].exposure, stamp_at_end=True))
    return told


def _judged_and_grouped(
    frames: Sequence[ShootFrame], settings: Settings, past: Past, way: Spread
) -> tuple[dict[str, FrameResult], Grouping]:
    """Judge and group; each whole measurement is fetched once for both."""
    once = _without_copies(frames)
    firsts = {frame.id for frame in once}
    judged: dict[str, FrameResult] = {}
    images: dict[str, TileImage] = {}
    spool: Spool[TilePixels] = Spool()
    with closing(spool):
        for frame in frames:
            settled = frame.settled()
            result = judge_frame(frame.source, settled, settings.judge)
            result = replace(result, optics=frame_optics(result, settings.print.viewing_diagonals))
            view = frame_view(result, settled.measurement, settings)
            judged[frame.id] = with_frame_findings(view)
            if frame.id in firsts:
                images[frame.id] = image = reduced(settled)
                if len(once) > IN_MEMORY and (laid := spool.lay(image.pixels.whole)):
                    images[frame.id] = replace(image, pixels=laid)
        return judged, group_shoot(once, settings.group, past.filters, images, way)


def _unread(
    file: CardFile, failures: Mapping[str, FrameFailure], settings: Settings
) -> FrameResult:
    result = unreadable_frame(file, failures[file.id])
    return with_sentences(with_frame_findings(frame_view(result, None, settings)))


def _without_copies(frames: Sequence[ShootFrame]) -> list[ShootFrame]:
    """Keep each frame once, so that a copy on a second card pairs with nothing."""
    first = _first_of_copies([frame.source for frame in frames])
    return [frame for frame in frames if first[frame.source.content_key] == frame.source.id]


def _first_of_copies(files: Sequence[CardFile]) -> dict[str, str]:
    """Return the id of the first file of each content."""
    return {file.content_key: file.id for file in reversed(files)}


def _sun_days(frames: Sequence[ShootFrame], place: Position | None) -> tuple[SunDay, ...]:
    """Return the days of the shoot where a place is known: the first file's own, or the given."""
    own = next((f.facts.position for f in frames if f.facts.position is not None), None)
    where = own or place
    if where is None:
        return ()
    days = sun_days([f.facts.opened for f in frames if f.facts.opened is not None], where)
    return tuple(map(sun_day_with_words, days))


def _prints(
    keepers: Sequence[Keeper],
    frames: Sequence[ShootFrame],
    judged: Mapping[str, FrameResult],
    settings: Settings,
) -> tuple[PrintFit, ...]:
    by_id = {frame.id: frame for frame in frames}
    chosen = dict.fromkeys(keeper.frame for keeper in keepers)
    return tuple(
        replace(
            print_fit(judged[name], by_id[name].settled(), settings.print),
            notes=print_notes(judged[name]),
        )
        for name in chosen
    )
