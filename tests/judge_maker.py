"""Small made-up measurements for the tests of judging."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.model import measurement as m
from auditor.model.codes import BlackSource, Layout, NoiseSource
from auditor.model.facts import CardFile, ExposureFacts, FileFacts
from auditor.model.remark import RemarkCode, remark
from auditor.model.settled import SettledFrame, settle

BLACK_DN = 512.0
WHITE_DN = 16383.0
CLIP_DN = 15800
SIDE_TILES = 12
TILE_PX = 20


def histogram(values_dn: np.ndarray) -> m.Histogram:
    counts = np.bincount(values_dn.astype(np.int64).ravel())
    first = int(np.flatnonzero(counts)[0])
    return m.Histogram(first, counts[first:].astype(np.uint32))


def plane(
    name: str,
    values_dn: np.ndarray,
    *,
    pile_up: m.PileUp | None = None,
    read_noise_dn: float | None = 3.0,
    gain: float | None = 2.0,
    hot_dn: tuple[int, ...] = (),
    clip_threshold_dn: float | None = None,
    white_dn: float = WHITE_DN,
) -> m.PlaneMeasurement:
    return m.PlaneMeasurement(
        name=name,
        pixels=int(values_dn.size),
        black_dn=BLACK_DN,
        black_source=BlackSource.METADATA,
        white_dn=white_dn,
        linear_limit_dn=None,
        histogram=histogram(values_dn),
        pile_up=pile_up,
        noise=m.NoiseEstimate(
            read_noise_dn,
            gain,
            NoiseSource.TRANSFER,
            () if gain else (remark(RemarkCode.FEW_LEVELS),),
        ),
        clip_threshold_dn=clip_threshold_dn or (pile_up.from_dn if pile_up else white_dn),
        hot_dn=np.array(hot_dn, dtype=np.uint16),
        hot_count=len(hot_dn),
    )


def settled(measured: m.FrameMeasurement, levels: Sequence[m.Level]) -> SettledFrame:
    """Join a measurement with levels, its noise as measured."""
    return settle(measured, levels, [plane.noise for plane in measured.mosaic.planes])


def pile_up_at(level_dn: int = CLIP_DN, share: float = 0.01) -> m.PileUp:
    return m.PileUp(level_dn=level_dn, from_dn=level_dn - 6, spread_dn=2.0, share=share)


def measured_mono(
    values_dn: np.ndarray, *, orientation: int | None = None, **options: object
) -> m.FrameMeasurement:
    """Measure a square mono picture of SIDE_TILES x TILE_PX pixels by plain arithmetic."""
    assert values_dn.shape == (SIDE_TILES * TILE_PX,) * 2
    made = plane("L", values_dn, **options)  # type: ignore[arg-type]
    tiles = values_dn.reshape(SIDE_TILES, TILE_PX, SIDE_TILES, TILE_PX)
    over = (tiles >= made.clip_threshold_dn).mean(axis=(1, 3)).astype(np.float32)
    maps = m.TileMaps(
        tile_px=TILE_PX,
        mean_dn=(tiles.mean(axis=(1, 3)) - BLACK_DN)[None].astype(np.float32),
        max_dn=tiles.max(axis=(1, 3))[None].astype(np.uint16),
        over_share=over[None],
        any_over_share=over,
        all_over_share=over,
        detail=np.ones((SIDE_TILES, SIDE_TILES), np.float32),
    )
    mosaic = m.MosaicMeasurement(
        layout=Layout.MONO,
        width=values_dn.shape[1],
        height=values_dn.shape[0],
        bit_depth=14,
        planes=(made,),
        maps=maps,
        hot=m.HotPixels(0, 0.0, np.zeros((0, 2), np.uint32)),
        damage=(),
        sharpness=None,
    )
    facts = FileFacts(
        exposure=ExposureFacts(time_s=1.0, f_number=11.0, iso=100.0), orientation=orientation
    )
    return m.FrameMeasurement(facts, mosaic, None, m.Pictures(b""))


def card_file(name: str = "A/ONE.DNG") -> CardFile:
    return CardFile(name, 0, name, name, "dng", 1, name)
