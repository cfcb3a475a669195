"""Measure one mosaic: one pass over the pixels in stripes, then each quantity from its sums.

A new quantity is one file beside this one, and one line in :func:`measure_mosaic`; one that must
see every pixel gets its line in :func:`_one_pass` as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from auditor.black.border import BorderLevel, border_levels
from auditor.black.levels import PlaneBlack, plane_black
from auditor.clipping.counts import over_shares
from auditor.clipping.pile_up import find_pile_ups
from auditor.defects.damage import DamageView, find_damage
from auditor.defects.hot_pixels import (
    HotCandidates,
    HotFound,
    confirm_hot,
    hot_summary,
    hot_values_dn,
    joined_hot,
)
from auditor.detail.texture import GreenView, detail_map, detail_plane, sharpness
from auditor.measures.tiles import CELLS_PER_TILE, cell_signals_dn, tile_means_dn, tile_tops_dn
from auditor.model.arrays import F32, I64, U8
from auditor.model.measurement import (
    Histogram,
    MosaicMeasurement,
    PileUp,
    PlaneMeasurement,
    TileMaps,
)
from auditor.model.mosaic import Layout, Mosaic
from auditor.model.settings import MeasureSettings
from auditor.noise.estimate import NoiseModel, PlaneView, measure_noises
from auditor.pictures.render import render_cells
from auditor.sensor.cells import Cells, CellSummer, no_cells
from auditor.sensor.histogram import HistogramCounter
from auditor.sensor.lattice import Sheet, cell_size_px, sheets_of, stripes_of

CANDIDATE_SIGMAS = 8.0
CANDIDATE_LEAST_DN = 6
CANDIDATE_RANGE_SHARE = 1e-3
"""Threshold of hot candidates where no masked border tells the noise."""


@dataclass(frozen=True, slots=True, eq=False)
class MosaicPicture:
    """A measured mosaic, with a small picture of it.

    Parameters
    ----------
    measurement : MosaicMeasurement
    rgb : array of uint8, shape (rows, cols, 3)
        Sensor orientation, at most 384 pixels on the longer side.
    """

    measurement: MosaicMeasurement
    rgb: U8


@dataclass(frozen=True, slots=True, eq=False)
class _Counted:
    """What one pass over the pixels gives."""

    histograms: tuple[Histogram, ...]
    cells: Cells
    hot_candidates: tuple[tuple[I64, I64], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Planes:
    """What is settled plane by plane before the maps are made."""

    blacks: tuple[PlaneBlack, ...]
    noises: tuple[NoiseModel, ...]
    heaps: tuple[PileUp | None, ...]
    cuts_dn: tuple[float, ...]


def measure_mosaic(mosaic: Mosaic, settings: MeasureSettings) -> MosaicPicture:
    """Measure everything that the pixels of one mosaic tell.

    Parameters
    ----------
    mosaic : Mosaic
        Its pixels are only read, and nothing of them is kept.
    settings : MeasureSettings
    """
    sheets = sheets_of(mosaic)
    borders = border_levels(mosaic)
    counted = _one_pass(mosaic, sheets, borders)
    planes = _settle_planes(mosaic, sheets, borders, counted)
    hot = joined_hot(
        [
            confirm_hot(sheet, found, planes.noises, [b.mean_dn for b in planes.blacks])
            for sheet, found in zip(sheets, counted.hot_candidates, strict=True)
        ]
    )
    mean_dn, thumb = _means_and_thumb(mosaic, sheets, counted.cells, planes, hot)
    maps = _tile_maps(mosaic, sheets, counted.cells, planes, mean_dn)
    measurement = MosaicMeasurement(
        layout=mosaic.layout,
        width=mosaic.width,
        height=mosaic.height,
        bit_depth=mosaic.bit_depth,
        planes=_plane_records(mosaic, counted, planes, hot),
        maps=maps,
        hot=hot_summary(hot, mosaic.height, mosaic.width),
        damage=find_damage(_damage_view(mosaic, sheets, counted, planes)),
        sharpness=sharpness(maps.detail, maps.any_over_share == 0),
        notes=mosaic.notes,
    )
    return MosaicPicture(measurement, thumb)


def _one_pass(
    mosaic: Mosaic, sheets: tuple[Sheet, ...], borders: dict[int, BorderLevel]
) -> _Counted:
    cell_px = cell_size_px(mosaic)
    cells = no_cells(len(mosaic.plane_names), mosaic.height, mosaic.width, cell_px)
    histograms: dict[int, Histogram] = {}
    candidates = []
    for sheet in sheets:
        summer, counter = CellSummer(sheet, cells), HistogramCounter(sheet)
        hot = HotCandidates(sheet, _candidate_dn(mosaic, borders))
        for stripe in stripes_of(sheet, cell_px):
            top_dn = summer.take(stripe)
            counter.take(stripe, top_dn)
            hot.take(stripe, top_dn)
        summer.finish()
        histograms |= counter.finish()
        candidates.append(hot.finish())
    ordered = tuple(histograms[plane] for plane in sorted(histograms))
    return _Counted(ordered, cells, tuple(candidates))


def _candidate_dn(mosaic: Mosaic, borders: dict[int, BorderLevel]) -> int:
    if borders:
        sigma = math.sqrt(max(border.variance_dn2 for border in borders.values()))
        return max(CANDIDATE_LEAST_DN, round(CANDIDATE_SIGMAS * sigma))
    return max(CANDIDATE_LEAST_DN, round(CANDIDATE_RANGE_SHARE * max(mosaic.white_dn)))


def _settle_planes(
    mosaic: Mosaic,
    sheets: tuple[Sheet, ...],
    borders: dict[int, BorderLevel],
    counted: _Counted,
) -> _Planes:
    of_plane = {plane: sheet for sheet in sheets for plane in sheet.planes}
    views = []
    for plane, name in enumerate(mosaic.plane_names):
        border, sheet = borders.get(plane), of_plane[plane]
        black = plane_black(mosaic, sheet, plane, border)
        profile, white_dn = mosaic.noise_profile.get(name), mosaic.white_dn[plane]
        histogram, linear = counted.histograms[plane], mosaic.layout is Layout.LINEAR
        views.append(PlaneView(sheet, plane, black, histogram, border, profile, white_dn, linear))
    noises = measure_noises(views)
    heaps = find_pile_ups(views, noises, mosaic.bit_depth)
    cuts = (
        white if heap is None else float(heap.from_dn)
        for white, heap in zip(mosaic.white_dn, heaps, strict=True)
    )
    return _Planes(tuple(view.black for view in views), noises, heaps, tuple(cuts))


def _tile_maps(
    mosaic: Mosaic, sheets: tuple[Sheet, ...], cells: Cells, planes: _Planes, mean_dn: F32
) -> TileMaps:
    tile_px = CELLS_PER_TILE * cells.cell_px
    tops_dn = tile_tops_dn(cells.tops)
    over = over_shares(sheets, tops_dn, planes.cuts_dn, tile_px)
    green = detail_plane(mosaic.layout)
    green_sheet = next(sheet for sheet in sheets if green in sheet.planes)
    black, noise = planes.blacks[green], planes.noises[green]
    detail = detail_map(GreenView(green_sheet, green, black, noise, mean_dn[green], tile_px))
    return TileMaps(
        tile_px=tile_px,
        mean_dn=mean_dn,
        max_dn=tops_dn,
        over_share=over.planes,
        any_over_share=over.any_plane,
        all_over_share=over.every_plane,
        detail=np.where(over.planes[green] > 0, np.float32(np.nan), detail),
    )


def _damage_view(
    mosaic: Mosaic, sheets: tuple[Sheet, ...], counted: _Counted, planes: _Planes
) -> DamageView:
    return DamageView(
        sheets=sheets,
        histograms=counted.histograms,
        cells=counted.cells,
        blacks_dn=[black.mean_dn for black in planes.blacks],
        noises=planes.noises,
        cuts_dn=planes.cuts_dn,
        bit_depth=mosaic.bit_depth,
    )


def _plane_records(
    mosaic: Mosaic, counted: _Counted, planes: _Planes, hot: HotFound
) -> tuple[PlaneMeasurement, ...]:
    pixels = mosaic.plane_pixels()
    limits = mosaic.linear_limit_dn
    records = []
    for plane, name in enumerate(mosaic.plane_names):
        black = planes.blacks[plane]
        hot_dn, hot_count = hot_values_dn(hot, plane)
        records.append(
            PlaneMeasurement(
                name=name,
                pixels=pixels[plane],
                black_dn=black.mean_dn,
                black_source=black.source,
                white_dn=mosaic.white_dn[plane],
                linear_limit_dn=None if limits is None else limits[plane],
                histogram=counted.histograms[plane],
                pile_up=planes.heaps[plane],
                noise=planes.noises[plane].estimate,
                cut_dn=planes.cuts_dn[plane],
                hot_dn=hot_dn,
                hot_count=hot_count,
                black_tag_dn=black.tag_dn,
                masked_black_dn=black.masked_dn,
                masked_black_error_dn=black.masked_error_dn,
                notes=black.notes,
            )
        )
    return tuple(records)


def _means_and_thumb(
    mosaic: Mosaic, sheets: tuple[Sheet, ...], cells: Cells, planes: _Planes, hot: HotFound
) -> tuple[F32, U8]:
    """Return the mean signal per tile, and the thumb; the sums per cell are gone after that."""
    sums, counts = cell_signals_dn(cells, sheets, planes.blacks, hot)
    mean_dn = tile_means_dn(sums, counts)
    sums /= np.maximum(counts, np.float32(1.0))
    ranges = [cut - black.mean_dn for cut, black in zip(planes.cuts_dn, planes.blacks, strict=True)]
    return mean_dn, render_cells(sums, mosaic.layout, ranges, mosaic.white_balance)
