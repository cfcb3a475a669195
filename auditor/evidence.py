"""Floor 4: what the frames of a shoot tell before they are held against each other.

Black and noise are settled here, for the evidence of clipping rests on them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain

from auditor.black.settle import DarkFrame, SettledBlacks, dark_frame, settle_blacks, unlit
from auditor.clipping.settle import clip_evidence, with_lent_noise
from auditor.defects.lasting import place_numbers
from auditor.group.shots import closing_stamps
from auditor.model.arrays import I64
from auditor.model.clip_evidence import ClipEvidence
from auditor.model.errors import FrameFailure
from auditor.model.facts import CardFile, FileFacts
from auditor.model.measurement import Level, NoiseEstimate
from auditor.model.remark import RemarkCode, remark
from auditor.model.shoot import Fetching, MeasurementSource, ShootFrame, Spread, without_maps
from auditor.noise.settle import over_black, settle_noise, true_isos

FrameTold = tuple[ClipEvidence, FileFacts, tuple[NoiseEstimate, ...], I64, DarkFrame | None]
Told = list[tuple[str, FrameTold]]

TOGETHER = 64
"""Frames whose evidence is gathered in one piece of work: some 0.2 s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What the frames tell before they are held against each other.

    A frame bears witness once, however many copies of it there are.

    Parameters
    ----------
    hot : mapping of str to array
        Each frame's hot pixels by the numbers of their places.
    darks : mapping of str to DarkFrame
        What frames without light tell of black.
    measurements : MeasurementSource
        With black as it was settled, once it is.
    grown : bool
        Longer frames of a set-up were held against shorter ones: sure of where more of it clips.
    """

    files: Sequence[CardFile]
    evidence: Mapping[str, ClipEvidence]
    facts: Mapping[str, FileFacts]
    noise: Mapping[str, tuple[NoiseEstimate, ...]]
    hot: Mapping[str, I64]
    darks: Mapping[str, DarkFrame]
    measurements: MeasurementSource
    grown: bool = False

    def settled(self, levels: Mapping[str, tuple[Level, ...]]) -> list[ShootFrame]:
        """Join the frames with their levels; copies share what their first one is settled to."""
        first = first_of_copies(self.files)
        return [
            ShootFrame(
                source=file,
                facts=self.facts[own],
                levels=levels[own],
                noise=self.noise[own],
                measurements=self.measurements,
            )
            for file in self.files
            for own in [first[file.content_key]]
        ]


def told_by(frame_ids: Sequence[str], measurements: MeasurementSource) -> Told:
    """Return what each of some frames tells by itself, and of unlit ones their own darkness."""
    told: Told = []
    for frame_id in frame_ids:
        measured = without_maps(measurements, frame_id)
        planes, dark = measured.mosaic.planes, None
        if unlit(planes):
            whole = measurements.measurement(frame_id)
            dark = dark_frame(whole, measured.facts.exposure.time_s)
        noise = tuple(plane.noise for plane in planes)
        hot = place_numbers(measured.mosaic.hot.positions)
        told.append((frame_id, (clip_evidence(measured), measured.facts, noise, hot, dark)))
    return told


def gather_evidence(
    files: Sequence[CardFile],
    failures: Mapping[str, FrameFailure],
    measurements: MeasurementSource,
    spread: Spread,
) -> Evidence:
    """Gather what each frame tells by itself.

    Parameters
    ----------
    spread : Spread
        Does the work, here or elsewhere.
    """
    readable = [file for file in files if file.id not in failures]
    first = first_of_copies(readable)
    own = [file.id for file in readable if first[file.content_key] == file.id]
    parts = [own[start : start + TOGETHER] for start in range(0, len(own), TOGETHER)]
    work = [
        Fetching(given=partial(partial, told_by, part), measurements=measurements, frame_ids=part)
        for part in parts
    ]
    evidence: dict[str, ClipEvidence] = {}
    facts: dict[str, FileFacts] = {}
    noise: dict[str, tuple[NoiseEstimate, ...]] = {}
    hot: dict[str, I64] = {}
    darks: dict[str, DarkFrame] = {}
    answers = spread(work)
    for name, told in chain.from_iterable(answers):
        evidence[name], facts[name], noise[name], hot[name], dark = told
        darks |= {} if dark is None else {name: dark}
    return Evidence(
        files=readable,
        evidence=evidence,
        facts=facts,
        noise=noise,
        hot=hot,
        darks=darks,
        measurements=measurements,
    )


def settle_evidence(known: Evidence) -> Evidence:
    """Settle black, ISOs and noise over the shoot, and renew the evidence that rests on them."""
    evidence, noise, measurements = dict(known.evidence), dict(known.noise), known.measurements
    times_s = {name: own.exposure.time_s for name, own in known.facts.items()}
    if moved := settle_blacks(evidence, times_s, known.darks):
        first = first_of_copies(known.files)
        copies = {file.id: first[file.content_key] for file in known.files}
        measurements = SettledBlacks(
            measurements, {name: moved[own] for name, own in copies.items() if own in moved}
        )
        for name in moved:
            evidence[name] = clip_evidence(without_maps(measurements, name))
            noise[name] = tuple(
                over_black(own, by, unlit=name in known.darks)
                for own, by in zip(noise[name], moved[name], strict=True)
            )
    baselines = {
        name: stops
        for name, own in known.facts.items()
        if (stops := own.exposure.baseline_exposure_stops) is not None
    }
    isos = true_isos(evidence, noise, baselines)
    lent = settle_noise(evidence, noise)
    for name, estimates in lent.items():
        if estimates != noise[name]:
            measured = without_maps(measurements, name)
            evidence[name] = with_lent_noise(evidence[name], measured, estimates)
    return replace(
        known,
        evidence=evidence,
        facts=_told_by_shoot(known.facts, closing_stamps(known.files, known.facts), isos),
        noise=lent,
        measurements=measurements,
    )


def _told_by_shoot(
    facts: Mapping[str, FileFacts],
    late: Collection[str],
    isos: Mapping[str, tuple[float, RemarkCode]],
) -> dict[str, FileFacts]:
    """Add what only the shoot tells of its files: stamps of the closing, and ISOs of the gain."""
    told = dict(facts)
    for name, (iso, code) in isos.items():
        own = facts[name]
        other = remark(code, named=own.exposure.iso, iso=iso)
        exposure = replace(own.exposure, gain_iso=iso)
        told[name] = replace(own, exposure=exposure, remarks=(*own.remarks, other))
    for name in late:
        told[name] = replace(told[name], exposure=replace(told[name].exposure, stamp_at_end=True))
    return told


def without_copies(frames: Sequence[ShootFrame]) -> list[ShootFrame]:
    """Keep each frame once, so that a copy on a second card pairs with nothing."""
    first = first_of_copies([frame.source for frame in frames])
    return [frame for frame in frames if first[frame.source.content_key] == frame.source.id]


def first_of_copies(files: Sequence[CardFile]) -> dict[str, str]:
    """Return the id of the first file of each content."""
    return {file.content_key: file.id for file in reversed(files)}
