"""The figures of one colour plane, from its histogram, its tiles and its settled saturation."""

from __future__ import annotations

import math
from typing import TypedDict

import numpy as np

from auditor.figures.limits import DEEPEST_STOPS, NEAR_FLOOR
from auditor.model.arrays import F32, F64
from auditor.model.audit import ChannelFigures, StopHistogram
from auditor.model.codes import BlackSource, LevelSource, NoiseSource, PlaneName
from auditor.model.measurement import Histogram, Level, PlaneMeasurement
from auditor.model.numbers import stops_between
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.model.settings import JudgeSettings
from auditor.model.settled import SettledPlane

HISTOGRAM_STOPS = 18.0
"""Stops below saturation that a histogram over stops reaches down to."""


def channel_figures(
    plane: SettledPlane,
    local_mean_dn: F32,
    tile_weight: F64,
    settings: JudgeSettings,
) -> ChannelFigures:
    """Judge one plane and return its figures.

    Parameters
    ----------
    plane : SettledPlane
    local_mean_dn : array of float32, shape (rows, cols)
        Mean signal of each tile, by which it is held against the noise floor
        (:func:`~auditor.clipping.maps.local_means_dn`).
    tile_weight : array of float64, shape (rows, cols)
        Share of the frame that each tile covers; sums to 1.
    settings : JudgeSettings
    """
    histogram, black, floor = plane.measured.histogram, plane.measured.black_dn, plane.floor_dn
    span_dn = plane.level.saturation_dn - black
    bright_dn = bright_end_dn(plane.measured, settings.bright_share)
    dark_dn = dark_end_dn(plane, local_mean_dn, tile_weight, settings.dark_share)
    median_dn = quantile_dn(histogram, 0.5) - black
    total, half_dn = max(1, histogram.total), black + (plane.level.blown_from_dn - black) / 2
    blown = plane.blown_pixels / total
    return ChannelFigures(
        **_known_levels(plane),
        blown_fraction=blown,
        # pixels that clip tell nothing of how far they lie above: with less light all still count
        blown_one_stop_less=blown,
        blown_one_stop_more=histogram.at_or_above(half_dn) / total,
        blocked_one_stop_less=_share_under(local_mean_dn, tile_weight, floor, gain=0.5),
        blocked_one_stop_more=_share_under(local_mean_dn, tile_weight, floor, gain=2.0),
        blocked_fraction=_share_under(local_mean_dn, tile_weight, floor),
        zero_fraction=histogram.at_or_below(black) / total,
        headroom_stops=_headroom(bright_dn, plane.level, black),
        shadow_room_stops=_shadow_room(dark_dn, floor),
        median_stops=_below_saturation(median_dn, span_dn, floor),
        mean_stops=_below_saturation(mean_dn(histogram) - black, span_dn, floor),
        dynamic_range_stops=stops_between(span_dn, floor),
        histogram=stop_histogram(histogram, black, span_dn, settings.histogram_step_stops),
        remarks=_remarks(plane, bright_dn, dark_dn, median_dn),
    )


class _Levels(TypedDict):
    """What the figures are told against."""

    name: PlaneName
    black_dn: float
    black_source: BlackSource
    saturation_dn: float
    saturation_source: LevelSource
    blown_from_dn: float
    read_noise_dn: float | None
    gain_dn_per_e: float | None
    noise_floor_dn: float | None
    noise_source: NoiseSource | None
    white_tag_dn: float
    linear_limit_dn: float | None


def _known_levels(plane: SettledPlane) -> _Levels:
    measured, level, noise = plane.measured, plane.level, plane.noise
    return _Levels(
        name=PlaneName(plane.name),
        black_dn=measured.black_dn,
        black_source=measured.black_source,
        saturation_dn=level.saturation_dn,
        saturation_source=level.source,
        blown_from_dn=float(level.blown_from_dn),
        read_noise_dn=noise.read_noise_dn,
        gain_dn_per_e=noise.gain_dn_per_e,
        noise_floor_dn=noise.floor_dn,
        noise_source=noise.source,
        white_tag_dn=measured.white_dn,
        linear_limit_dn=min(
            (dn for dn in (measured.linear_limit_dn, level.bends_from_dn) if dn is not None),
            default=None,
        ),
    )


def bright_end_dn(plane: PlaneMeasurement, share: float) -> float:
    """Return the raw DN that all but ``share`` of the plane stays under, hot pixels left out."""
    histogram = plane.histogram
    hot = plane.hot_dn.astype(np.int64) - histogram.first_dn
    hot = hot[(hot >= 0) & (hot < len(histogram.counts))]
    allowed = math.floor(share * max(0, histogram.total - len(hot)))
    # below where it is with them nothing needs to be counted again without
    start = max(0, histogram.dn_with_above(allowed + len(hot)) - histogram.first_dn)
    counts = histogram.counts[start:].astype(np.int64)
    np.subtract.at(counts, hot[hot >= start] - start, 1)
    beyond = int(np.cumsum(counts[::-1]).searchsorted(allowed, side="right"))
    return float(histogram.last_dn - beyond)


def dark_end_dn(plane: SettledPlane, local_mean_dn: F32, tile_weight: F64, share: float) -> float:
    """Return the signal (black taken off) that all but ``share`` of the plane stays over.

    Near the noise floor it is taken from local means, so that noise alone darkens nothing.
    """
    by_pixel = quantile_dn(plane.measured.histogram, share) - plane.measured.black_dn
    floor = plane.floor_dn
    if floor is not None and by_pixel >= NEAR_FLOOR * floor:
        return by_pixel
    line, weights = local_mean_dn.ravel(), tile_weight.ravel()
    wanted = share * float(weights.sum())
    # a few times that share of the tiles hold the place: all of them are hardly ever sorted
    rank = min(len(line) - 1, int(4.0 * share * len(line)))
    low = line <= np.partition(line, rank)[rank]
    if float(weights[low].sum()) > wanted:
        line, weights = line[low], weights[low]
    order = np.argsort(line)
    reached = np.cumsum(weights[order])
    place = min(int(np.searchsorted(reached, wanted)), len(order) - 1)
    return max(by_pixel, float(line[order[place]]))


def quantile_dn(histogram: Histogram, share: float) -> float:
    """Return the raw DN at which ``share`` of the pixels lies, between bins by straight line."""
    if len(histogram.counts) == 0:
        return float(histogram.first_dn)
    below = histogram.below[1:]
    wanted = share * float(below[-1])
    bin_ = int(np.searchsorted(below, wanted, side="left"))
    before = float(below[bin_ - 1]) if bin_ else 0.0
    inside = (wanted - before) / max(1.0, float(histogram.counts[bin_]))
    return histogram.first_dn + bin_ - 0.5 + inside


def mean_dn(histogram: Histogram) -> float:
    """Return the mean raw DN."""
    above = histogram.total * len(histogram.counts) - int(histogram.below[1:].sum())
    return histogram.first_dn + above / max(1, histogram.total)


def stop_histogram(
    histogram: Histogram, black_dn: float, span_dn: float, step: float
) -> StopHistogram:
    """Gather a histogram over DN into fractions of a stop below saturation.

    Where a bin of one DN is wider than a step (deep shadows) its pixels are spread over the
    steps that it spans, so that the picture shows no comb that the sensor never made. Pixels at
    or under black have no stops and are left out.
    """
    edges_stop = np.arange(-1.0, HISTOGRAM_STOPS + step / 2, step)
    edges_dn = span_dn * np.exp2(-edges_stop)
    under = max(0, min(math.floor(black_dn) + 1 - histogram.first_dn, len(histogram.counts)))
    levels_dn = np.arange(histogram.first_dn + under, histogram.last_dn + 2)
    positions = np.maximum(levels_dn - 0.5 - black_dn, edges_dn[-1])
    below = histogram.below[under:] - histogram.below[under]
    at_edges = np.interp(edges_dn, positions, below)
    counts = np.rint(at_edges[:-1] - at_edges[1:]).astype(np.int64)
    filled = np.flatnonzero(counts)
    if len(filled) == 0:
        return StopHistogram(0.0, step, ())
    first, last = int(filled[0]), int(filled[-1])
    return StopHistogram(float(edges_stop[first]), step, tuple(counts[first : last + 1].tolist()))


def _headroom(bright_dn: float, level: Level, black_dn: float) -> float | None:
    if bright_dn >= level.blown_from_dn:
        return 0.0
    if level.may_clip or RemarkCode.LEVELS_DIFFER in {told.code for told in level.remarks}:
        return None
    if level.bends_from_dn is not None and bright_dn > level.bends_from_dn:
        return None
    room = stops_between(level.saturation_dn - black_dn, bright_dn - black_dn)
    return None if room is None else max(0.0, room)


def _shadow_room(dark_dn: float, floor_dn: float | None) -> float | None:
    room = stops_between(dark_dn, floor_dn)
    return None if room is None or room < -DEEPEST_STOPS else room


def _below_saturation(signal_dn: float, span_dn: float, floor_dn: float | None) -> float | None:
    """Return the stops of a tone under saturation; None where it cannot be told from black."""
    if floor_dn is not None and _shadow_room(signal_dn, floor_dn) is None:
        return None
    return stops_between(span_dn, signal_dn)


def _share_under(
    mean_dn: F32, tile_weight: F64, floor_dn: float | None, *, gain: float = 1.0
) -> float | None:
    if floor_dn is None:
        return None
    return min(1.0, float(tile_weight[mean_dn * gain < floor_dn].sum()))


def _remarks(
    plane: SettledPlane, bright_dn: float, dark_dn: float, median_dn: float
) -> tuple[Remark, ...]:
    floor, bend = plane.floor_dn, plane.level.bends_from_dn
    found = [*plane.measured.remarks, *plane.level.remarks]
    if floor is None:
        found.append(remark(RemarkCode.NO_FLOOR))
    elif _shadow_room(dark_dn, floor) is None:
        found.append(remark(RemarkCode.DARK_END_OPEN))
    if _below_saturation(median_dn, 1.0, floor) is None:
        found.append(remark(RemarkCode.MEDIAN_OPEN))
    found += plane.noise.remarks
    reasons = {
        RemarkCode.CLIPS_APART,
        RemarkCode.COARSE_TOP,
        RemarkCode.CROWDED_TOP,
        RemarkCode.FILLED_IN,
        RemarkCode.LEVELS_DIFFER,
    }
    if plane.level.may_clip and not reasons & {told.code for told in found}:
        found.append(remark(RemarkCode.MAY_BE_CLIPPED))
    if bend is not None and bright_dn > bend:
        found.append(remark(RemarkCode.BENDS, from_dn=bend))
    if plane.blown_pixels:
        found.append(remark(RemarkCode.UPPER_BOUND))
    return tuple(found)
