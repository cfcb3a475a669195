"""Measurements and figures of simulated frames, worked out from their own pixels."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from auditor.model.arrays import F64
from auditor.model.audit import ChannelFigures, Patch, PreviewStory, StopHistogram, ThirdsShare
from auditor.model.codes import BlackSource, Layout, LevelSource, NoiseSource, PlaneName
from auditor.model.facts import FileFacts
from auditor.model.measurement import (
    FrameMeasurement,
    Histogram,
    HotPixels,
    MosaicMeasurement,
    NoiseEstimate,
    Pictures,
    PileUp,
    PlaneMeasurement,
    PreviewMeasurement,
    TileMaps,
)
from tests.built_scene import (
    BLACK_DN,
    CLIP_DN,
    GAIN_DN,
    READ_DN,
    SENSOR_H,
    SENSOR_W,
    TILE,
    TILE_PX,
    WHITE_TAG_DN,
    Exposed,
)

NAMES = ("R", "G1", "G2", "B")
BLOWN_FROM_DN = CLIP_DN - 4
NOISE = NoiseEstimate(READ_DN, GAIN_DN, NoiseSource.BORDER_TRANSFER)
PIXELS = SENSOR_W * SENSOR_H // 4
STEP = 0.125


def tiles(plane: F64) -> F64:
    """Means over tiles, shape (rows, cols)."""
    rows, cols = plane.shape[0] // TILE, plane.shape[1] // TILE
    means: F64 = plane.reshape(rows, TILE, cols, TILE).mean(axis=(1, 3))
    return means


def maps_of(shot: Exposed) -> TileMaps:
    over = shot.dn >= BLOWN_FROM_DN
    peak = shot.dn.reshape(4, shot.dn.shape[1] // TILE, TILE, -1, TILE).max(axis=(2, 4))
    return TileMaps(
        TILE_PX,
        np.stack([tiles(p - BLACK_DN) for p in shot.dn]).astype(np.float32),
        peak.astype(np.uint16),
        np.stack([tiles(p.astype(float)) for p in over]).astype(np.float32),
        tiles(over.any(axis=0).astype(float)).astype(np.float32),
        tiles(over.all(axis=0).astype(float)).astype(np.float32),
        np.ones((shot.dn.shape[1] // TILE, shot.dn.shape[2] // TILE), dtype=np.float32),
    )


def measurement_of(shot: Exposed, facts: FileFacts, *, turned: bool) -> FrameMeasurement:
    return replace(_measurement(shot, turned), facts=facts)


@lru_cache(maxsize=256)
def _measurement(shot: Exposed, turned: bool) -> FrameMeasurement:
    size = (240, 360) if turned else (360, 240)
    mosaic = MosaicMeasurement(
        Layout.BAYER, SENSOR_W, SENSOR_H, 14,
        tuple(_plane(name, dn) for name, dn in zip(NAMES, shot.dn, strict=True)),
        maps_of(shot), HotPixels(41, 1.9, np.zeros((0, 2), np.uint32)), (), 2.4,
    )  # fmt: skip
    return FrameMeasurement(
        FileFacts(),
        mosaic,
        _preview(shot),
        Pictures(shot.thumb, shot.preview, *size),
        "invented 1.0",
    )


def _plane(name: str, dn: F64) -> PlaneMeasurement:
    whole = dn.astype(np.int64).ravel()
    first = int(whole.min())
    counts = (np.bincount(whole - first) * (PIXELS // dn.size)).astype(np.uint32)
    share = float((dn >= BLOWN_FROM_DN).mean())
    heap = PileUp(CLIP_DN, int(BLOWN_FROM_DN), 1.2, share) if share > 1e-4 else None
    return PlaneMeasurement(
        name, PIXELS, BLACK_DN, BlackSource.MASKED_BORDER, WHITE_TAG_DN, None,
        Histogram(first, counts), heap, NOISE, BLOWN_FROM_DN, np.zeros(0, np.uint16), 10,
        BLACK_DN, BLACK_DN, 0.02,
    )  # fmt: skip


def _preview(shot: Exposed) -> PreviewMeasurement:
    codes = shot.preview_codes
    counts = {
        name: tuple(int(n) for n in np.histogram(codes[:, :, i], 64, (0, 256))[0])
        for i, name in enumerate("RGB")
    }
    return PreviewMeasurement(
        1620, 1080, float((codes >= 254).any(axis=2).mean()),
        float((codes <= 1).all(axis=2).mean()),
        {"R": 6700.0, "G": 12000.0, "B": 8100.0}, {}, counts,
    )  # fmt: skip


@lru_cache(maxsize=256)
def channels_of(shot: Exposed) -> tuple[ChannelFigures, ...]:
    return tuple(_channel(name, dn) for name, dn in zip(NAMES, shot.dn, strict=True))


def _channel(name: str, dn: F64) -> ChannelFigures:
    full, floor = CLIP_DN - BLACK_DN, NOISE.floor_dn or 0.0
    signal = dn - BLACK_DN
    inside = signal[signal > 0]
    bright, dark = np.quantile(signal, 1 - 1e-4), np.quantile(tiles(signal), 0.01)
    blown = float((dn >= BLOWN_FROM_DN).mean())
    stops = np.log2(full / inside) if inside.size else np.zeros(0)
    counts = np.histogram(stops, np.arange(0, 14 + STEP, STEP))[0] * (PIXELS // dn.size)
    return ChannelFigures(
        name=PlaneName(name), black_dn=BLACK_DN, black_source=BlackSource.MASKED_BORDER,
        saturation_dn=CLIP_DN,
        saturation_source=LevelSource("measured" if blown > 1e-4 else "shoot"),
        blown_from_dn=BLOWN_FROM_DN,
        read_noise_dn=READ_DN, gain_dn_per_e=GAIN_DN, noise_floor_dn=floor,
        noise_source=NOISE.source, blown_fraction=blown,
        blocked_fraction=float((tiles(signal) < floor).mean()),
        zero_fraction=float((signal <= 0).mean()),
        headroom_stops=None if bright <= 0 else float(np.log2(full / bright)),
        shadow_room_stops=None if dark <= 0 else float(np.log2(dark / floor)),
        median_stops=_under(float(np.median(signal)), full),
        mean_stops=_under(float(signal.mean()), full),
        dynamic_range_stops=float(np.log2(full / floor)),
        blown_one_stop_less=float((signal >= 2 * full).mean()),
        blocked_one_stop_more=float((tiles(signal) < floor / 2).mean()),
        histogram=StopHistogram(0.0, STEP, tuple(int(n) for n in counts)),
        white_tag_dn=WHITE_TAG_DN,
    )  # fmt: skip


def _under(signal: float, full: float) -> float | None:
    return None if signal <= 0 else float(np.log2(full / signal))


def story_of(shot: Exposed, channels: tuple[ChannelFigures, ...]) -> PreviewStory:
    measured = _preview(shot)
    early = {"R": 1.2, "G": 0.36, "B": 0.92}
    return PreviewStory(
        1620, 1080, measured.blown_share, measured.blocked_share, early, 0.36,
        {"R": 0.86, "G": 0.0, "B": 0.56}, measured.counts,
        f"The preview clips 0.4 stop before {channels[1].name} does.",
    )  # fmt: skip


def patch_of(bad: F64, where: str) -> Patch | None:
    """The whole bad area taken as one patch, its box true."""
    if not bad.any():
        return None
    rows, cols = np.nonzero(bad)
    height, width = bad.shape
    box = (cols.min() / width, rows.min() / height, (cols.max() + 1) / width,
           (rows.max() + 1) / height)  # fmt: skip
    centre = (float(cols.mean()) / width, float(rows.mean()) / height)
    left, top, right, bottom = (float(edge) for edge in box)
    return Patch(float(bad.mean()), centre, (left, top, right, bottom), where)


def thirds_of(blown: F64, blocked: F64) -> ThirdsShare:
    upper, middle, lower = (float(part.mean()) for part in np.array_split(blown, 3))
    dark = [float(part.mean()) for part in np.array_split(blocked, 3)]
    return ThirdsShare((upper, middle, lower), (dark[0], dark[1], dark[2]))


def as_other_body(facts: FileFacts, model: str) -> FileFacts:
    return replace(facts, camera=replace(facts.camera, model=model, serial="F24-000318"))
