"""The tables of the history, row by row, and the curves of its sensors by EMVA 1288."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from statistics import fmean, median, stdev
from typing import Any

import numpy as np

from auditor.history.limits import LONG_S
from auditor.history.shots import Shot, sensor_of
from auditor.model.arrays import U32
from auditor.model.audit import ChannelFigures
from auditor.model.codes import LevelSource, Verdict
from auditor.model.history import ExposureRow, HotRow, PreviewRow, SensorRow, Spread
from auditor.model.measurement import NoiseEstimate
from auditor.model.numbers import stops_between


def spread_of(values: Iterable[float | None]) -> Spread | None:
    """Return count, mean, median and spread of the values that are there; None without any."""
    known = sorted(value for value in values if value is not None)
    if not known:
        return None
    return Spread(
        count=len(known),
        mean=fmean(known),
        median=median(known),
        spread=stdev(known) if len(known) > 1 else None,
        least=known[0],
        most=known[-1],
    )


def lower_quartile(values: Iterable[float]) -> float:
    """Return the value that three quarters lie at or above, interpolated; at least one value."""
    ordered = sorted(values)
    place = 0.25 * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


HotPlaces = Mapping[str, Sequence[tuple[int, U32]]]
"""Body to (shoot, rows and columns of hot pixels) of each exposure from STAYING_S on."""


def exposure_rows(shots: Sequence[Shot]) -> tuple[ExposureRow, ...]:
    """Sum up how frames were placed: all of them, by each heading, and by all headings."""
    placed = [shot for shot in shots if shot.placed]
    if not placed:
        return ()
    headings: tuple[Callable[[Shot], dict[str, Any]], ...] = (
        lambda shot: {},
        lambda shot: {"body": shot.body},
        lambda shot: {"lens": shot.lens},
        lambda shot: {"phase": shot.phase},
        lambda shot: {"filtered": shot.filtered},
        lambda shot: {
            "body": shot.body,
            "lens": shot.lens,
            "phase": shot.phase,
            "filtered": shot.filtered,
        },
    )
    rows: list[ExposureRow] = []
    for heading in headings:
        groups: dict[tuple[tuple[str, Any], ...], list[Shot]] = defaultdict(list)
        for shot in placed:
            told = heading(shot)
            if None not in told.values():
                groups[tuple(told.items())].append(shot)
        ordered = sorted(groups.items(), key=lambda group: str(group[0]))
        rows += [exposure_row(members, **dict(told)) for told, members in ordered]
    return tuple(rows)


def exposure_row(shots: Sequence[Shot], **heading: Any) -> ExposureRow:
    """Sum up how these frames were placed."""
    lost = [shot for shot in shots if shot.lost]
    channels = Counter(name for shot in lost for name in shot.lost_channels)
    return ExposureRow(
        frames=len(shots),
        spare=spread_of(shot.frame.headroom_stops for shot in shots if not shot.lost),
        lost=len(lost),
        lost_by_channel=dict(sorted(channels.items())),
        **heading,
    )


def preview_rows(shots: Iterable[Shot]) -> tuple[PreviewRow, ...]:
    """Sum up, body by body, how far the camera's own preview is from the raw truth."""
    groups: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        if shot.frame.preview is not None and shot.frame.verdict != Verdict.DARK_FRAME:
            groups[shot.body].append(shot)
    rows: list[PreviewRow] = []
    for body, members in sorted(groups.items()):
        stories = [shot.frame.preview for shot in members if shot.frame.preview is not None]
        early: dict[str, Spread] = {}
        for name in ("R", "G", "B"):
            told = spread_of(story.early_by_channel_stops.get(name) for story in stories)
            if told is not None:
                early[name] = told
        alarms = 0
        for shot, story in zip(members, stories, strict=True):
            blown, limit = shot.frame.blown_fraction or 0.0, shot.judged.blown_limit
            alarms += story.blown_fraction >= limit > blown
        neutral = spread_of(story.early_stops for story in stories)
        rows.append(PreviewRow(body, len(members), early, alarms, neutral))
    return tuple(rows)


def sensor_rows(shots: Iterable[Shot]) -> tuple[SensorRow, ...]:
    """Sum up saturation and noise of every channel of every body's every sensor at every ISO."""
    groups: dict[tuple[str, str, float, str], list[ChannelFigures]] = defaultdict(list)
    for shot in shots:
        if shot.frame.exposure.iso:
            for channel in shot.frame.channels:
                own = sensor_of(shot.frame)
                groups[(shot.body, own, shot.frame.exposure.iso, channel.name)].append(channel)
    # planes in the sensor's order: R, G1, G2, B
    ordered = sorted(groups, key=lambda key: (key[:3], "RGBL".find(key[3][:1]), key[3]))
    rows: list[SensorRow] = []
    for key in ordered:
        channels = groups[key]
        black = spread_of(channel.black_dn for channel in channels)
        assert black is not None, "a group has at least one channel"
        full = spread_of(
            channel.saturation_dn
            for channel in channels
            if channel.saturation_source == LevelSource.MEASURED
        )
        read = spread_of(channel.read_noise_dn for channel in channels)
        gain = spread_of(channel.gain_dn_per_e for channel in channels)
        signal_dn = None if full is None else full.mean - black.mean
        floor = NoiseEstimate(_mean(read), _mean(gain)).floor_dn
        rows.append(
            SensorRow(
                body=key[0],
                sensor=key[1],
                iso=key[2],
                channel=key[3],
                frames=len(channels),
                black_dn=black,
                saturation_dn=full,
                read_noise_dn=read,
                gain_dn_per_e=gain,
                full_well_e=_ratio(signal_dn, _mean(gain)),
                read_noise_e=_ratio(_mean(read), _mean(gain)),
                dynamic_range_stops=stops_between(signal_dn, floor),
            )
        )
    return tuple(rows)


def _mean(spread: Spread | None) -> float | None:
    return None if spread is None else spread.mean


def _ratio(upper: float | None, lower: float | None) -> float | None:
    return upper / lower if upper is not None and lower is not None and lower > 0 else None


def hot_rows(shots: Iterable[Shot], places: HotPlaces | None = None) -> tuple[HotRow, ...]:
    """Sum up hot pixels body by body; ``places`` tells which of them stay from shoot to shoot."""
    groups: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        if shot.frame.hot_pixels is not None:
            groups[shot.body].append(shot)
    rows: list[HotRow] = []
    for body, members in sorted(groups.items()):
        long = (shot for shot in members if (shot.frame.exposure.time_s or 0.0) >= LONG_S)
        known = (places or {}).get(body)
        staying = None if known is None else staying_pixels(known)
        if (densities := _hot_densities(members)) is not None:
            rows.append(HotRow(body, len(members), densities, _hot_densities(long), staying))
    return tuple(rows)


def _hot_densities(shots: Iterable[Shot]) -> Spread | None:
    hot = (shot.frame.hot_pixels for shot in shots)
    return spread_of(None if one is None else one.per_megapixel for one in hot)


def staying_pixels(frames: Sequence[tuple[int, U32]]) -> int | None:
    """Count the pixels hot in at least half of the frames of at least two shoots.

    Parameters
    ----------
    frames : sequence of (shoot, positions)
        Long exposures of one body; positions are (n, 2) rows and columns.

    Returns
    -------
    int or None
        None where fewer than two shoots are known.
    """
    by_shoot: dict[int, list[U32]] = defaultdict(list)
    for shoot, positions in frames:
        by_shoot[shoot].append(positions)
    if len(by_shoot) < 2:
        return None
    shoots: Counter[tuple[int, ...]] = Counter()
    for members in by_shoot.values():
        every = np.concatenate([np.unique(positions, axis=0) for positions in members])
        pixels, counts = np.unique(every, axis=0, return_counts=True)
        shoots.update(map(tuple, pixels[2 * counts >= len(members)].tolist()))
    return sum(count >= 2 for count in shoots.values())


def snr(signal_e: float, read_noise_e: float) -> float:
    """Return the signal-to-noise ratio of one pixel, ``u / sqrt(u + r²)``.

    Parameters
    ----------
    signal_e, read_noise_e : float
        Mean signal and read noise (rounding to whole DN included), electrons.
    """
    return signal_e / math.sqrt(signal_e + read_noise_e**2)


def snr_curve(read_noise_e: float, full_well_e: float) -> tuple[tuple[float, float], ...]:
    """Return the curve from one electron to the full well, both axes in stops, two points a stop.

    Returns
    -------
    tuple of (float, float)
        ``log2`` of the signal in electrons and ``log2`` of the signal-to-noise ratio.
    """
    top = math.log2(full_well_e)
    count = max(2, math.ceil(2.0 * top) + 1)
    places = (top * step / (count - 1) for step in range(count))
    return tuple((place, math.log2(snr(2.0**place, read_noise_e))) for place in places)
