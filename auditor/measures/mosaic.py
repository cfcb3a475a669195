"""Measure one mosaic: one pass over the pixels in stripes, then each quantity from its sums.

Nothing is worked out before it is asked for, so a measure that is wanted alone costs what it
needs and no more. One that must see every pixel gets its line in :attr:`MosaicView.counted`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from auditor.black.border import BorderLevel, border_levels
from auditor.black.levels import PlaneBlack, plane_black
from auditor.clipping.counts import OverShares, over_shares
from auditor.clipping.pile_up import find_pile_ups
from auditor.clipping.places import PlaneTop, clips_apart
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
from auditor.measures.tiles import (
    CELLS_PER_TILE,
    DETAIL_BITS,
    cell_signals_dn,
    rounded,
    tile_means_dn,
    tile_tops_dn,
)
from auditor.model.arrays import F32, I64, U8, U16
from auditor.model.codes import Layout
from auditor.model.measurement import (
    DamageSign,
    Histogram,
    HotPixels,
    MosaicMeasurement,
    PileUp,
    PlaneMeasurement,
    TileMaps,
)
from auditor.model.mosaic import Mosaic
from auditor.model.settings import MeasureSettings
from auditor.noise.estimate import NoiseModel, PlaneView, measure_noises
from auditor.pictures.large import DrawnPictures, LargeView, draw_large
from auditor.pictures.render import Rendering, render_cells, whites_dn
from auditor.sensor.cells import Cells, CellSummer, no_cells
from auditor.sensor.histogram import HistogramCounter
from auditor.sensor.lattice import cell_size_px, lattices_of, stripes_of

CANDIDATE_SIGMAS = 8.0
CANDIDATE_LEAST_DN = 6
CANDIDATE_RANGE_SHARE = 1e-3
"""Threshold of hot candidates where no masked border tells the noise."""


@dataclass(frozen=True, slots=True, eq=False)
class _Counted:
    """What one pass over the pixels gives."""

    histograms: tuple[Histogram, ...]
    cells: Cells
    hot_candidates: tuple[tuple[I64, I64], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Planes:
    """What is settled plane by plane before the maps are made."""

    views: tuple[PlaneView, ...]
    blacks: tuple[PlaneBlack, ...]
    noises: tuple[NoiseModel, ...]
    pile_ups: tuple[PileUp | None, ...]
    clip_thresholds_dn: tuple[float, ...]


class MosaicView:
    """One mosaic while it is measured: each quantity is worked out once, when asked for.

    Parameters
    ----------
    mosaic : Mosaic
        Its pixels are only read, and nothing of them is kept.
    settings : MeasureSettings
    """

    def __init__(self, mosaic: Mosaic, settings: MeasureSettings) -> None:
        self.mosaic = mosaic
        self.settings = settings
        self.lattices = lattices_of(mosaic)

    @cached_property
    def borders(self) -> dict[int, BorderLevel]:
        """What the masked border tells of each plane."""
        return border_levels(self.mosaic)

    @cached_property
    def counted(self) -> _Counted:
        """What the one pass over the pixels gives."""
        mosaic, cell_px = self.mosaic, cell_size_px(self.mosaic)
        least_dn = CANDIDATE_RANGE_SHARE * max(mosaic.white_dn)
        if self.borders:
            variance_dn2 = max(border.variance_dn2 for border in self.borders.values())
            least_dn = CANDIDATE_SIGMAS * math.sqrt(variance_dn2)
        cells = no_cells(len(mosaic.plane_names), mosaic.height, mosaic.width, cell_px)
        histograms: dict[int, Histogram] = {}
        candidates = []
        for lattice in self.lattices:
            summer, counter = CellSummer(lattice, cells), HistogramCounter(lattice)
            hot = HotCandidates(lattice, max(CANDIDATE_LEAST_DN, round(least_dn)))
            for stripe in stripes_of(lattice, cell_px):
                top_dn = summer.take(stripe)
                counter.take(stripe)
                hot.take(stripe, top_dn)
            histograms |= counter.finish()
            candidates.append(hot.finish())
        ordered = tuple(histograms[plane] for plane in sorted(histograms))
        return _Counted(ordered, cells, tuple(candidates))

    @cached_property
    def settled(self) -> _Planes:
        """Black, noise and pile-up of each plane."""
        mosaic, views = self.mosaic, []
        of_plane = {plane: lattice for lattice in self.lattices for plane in lattice.planes}
        for plane, name in enumerate(mosaic.plane_names):
            border, lattice = self.borders.get(plane), of_plane[plane]
            views.append(
                PlaneView(
                    lattice=lattice,
                    plane=plane,
                    black=plane_black(mosaic, lattice, plane, border),
                    histogram=self.counted.histograms[plane],
                    border=border,
                    profile=mosaic.noise_profile.get(name),
                    white_dn=mosaic.white_dn[plane],
                    linear=mosaic.layout is Layout.LINEAR,
                    colour=name[0],
                )
            )
        noises = measure_noises(views)
        pile_ups = find_pile_ups(views, noises, mosaic.bit_depth)
        cuts = (
            white if pile_up is None else float(pile_up.from_dn)
            for white, pile_up in zip(mosaic.white_dn, pile_ups, strict=True)
        )
        blacks = tuple(view.black for view in views)
        return _Planes(tuple(views), blacks, noises, pile_ups, tuple(cuts))

    @cached_property
    def _hot(self) -> HotFound:
        blacks_dn = [black.mean_dn for black in self.settled.blacks]
        found = zip(self.lattices, self.counted.hot_candidates, strict=True)
        noises = self.settled.noises
        return joined_hot([confirm_hot(lattice, own, noises, blacks_dn) for lattice, own in found])

    @cached_property
    def _means_and_thumb(self) -> tuple[F32, U8]:
        """The mean signal per tile, and the thumb; the sums per cell are gone after that."""
        mosaic, cells, planes = self.mosaic, self.counted.cells, self.settled
        sums, counts = cell_signals_dn(cells, self.lattices, planes.blacks, self._hot)
        mean_dn = tile_means_dn(sums, counts)
        sums /= np.maximum(counts, np.float32(1.0))
        return mean_dn, render_cells(sums, mosaic.layout, _ranges_dn(planes), mosaic.white_balance)

    @property
    def mean_dn(self) -> F32:
        """Mean signal of each plane per tile, hot pixels left out."""
        return self._means_and_thumb[0]

    @property
    def rgb(self) -> U8:
        """A small picture in sensor orientation, at most 384 pixels on the longer side."""
        return self._means_and_thumb[1]

    @property
    def tile_px(self) -> int:
        """Side of a tile in pixels."""
        return CELLS_PER_TILE * self.counted.cells.cell_px

    @cached_property
    def tops_dn(self) -> U16:
        """Largest DN of each plane per tile."""
        return tile_tops_dn(self.counted.cells.tops)

    @cached_property
    def over(self) -> OverShares:
        """Share of each tile at or above the cut."""
        return over_shares(
            self.lattices, self.tops_dn, self.settled.clip_thresholds_dn, self.tile_px
        )

    @cached_property
    def detail(self) -> F32:
        """Fine detail per tile on green, not a number where something is over the cut."""
        green = detail_plane(self.mosaic.layout)
        lattice = next(lattice for lattice in self.lattices if green in lattice.planes)
        black, noise = self.settled.blacks[green], self.settled.noises[green]
        view = GreenView(lattice, green, black, noise, self.mean_dn[green], self.tile_px)
        return np.where(
            self.over.planes[green] > 0, np.float32(np.nan), rounded(detail_map(view), DETAIL_BITS)
        )

    @cached_property
    def maps(self) -> TileMaps:
        """All maps of tiles."""
        return TileMaps(
            tile_px=self.tile_px,
            mean_dn=self.mean_dn,
            max_dn=self.tops_dn,
            over_share=self.over.planes,
            any_over_share=self.over.any_plane,
            all_over_share=self.over.every_plane,
            detail=self.detail,
        )

    @cached_property
    def clips_apart(self) -> bool:
        """Whether some lines or places of the sensor clip below the pile-ups of its planes."""
        settled = self.settled
        tops = [
            PlaneTop(
                view=view, noise=noise, pile_up=pile_up,
                tops_dn=self.tops_dn[plane], tile_px=self.tile_px,
            )
            for plane, (view, noise, pile_up) in enumerate(
                zip(settled.views, settled.noises, settled.pile_ups, strict=True)
            )
        ]  # fmt: skip
        return clips_apart(tops)

    @cached_property
    def planes(self) -> tuple[PlaneMeasurement, ...]:
        """The record of each plane."""
        mosaic, histograms, settled = self.mosaic, self.counted.histograms, self.settled
        records = []
        pixels, limits = mosaic.plane_pixels(), mosaic.linear_limit_dn
        for plane, name in enumerate(mosaic.plane_names):
            black, bend = settled.blacks[plane], settled.noises[plane].bends_from_dn
            hot_dn, hot_count = hot_values_dn(self._hot, plane)
            records.append(
                PlaneMeasurement(
                    name=name,
                    pixels=pixels[plane],
                    black_dn=black.mean_dn,
                    black_source=black.source,
                    white_dn=mosaic.white_dn[plane],
                    linear_limit_dn=None if limits is None else limits[plane],
                    histogram=histograms[plane],
                    pile_up=settled.pile_ups[plane],
                    noise=settled.noises[plane].estimate,
                    clip_threshold_dn=settled.clip_thresholds_dn[plane],
                    hot_dn=hot_dn,
                    hot_count=hot_count,
                    black_tag_dn=black.tag_dn,
                    masked_black_dn=black.masked_dn,
                    masked_black_error_dn=black.masked_error_dn,
                    bends_from_dn=None if bend is None else black.mean_dn + bend,
                    clips_apart=self.clips_apart,
                    remarks=black.remarks,
                )
            )
        return tuple(records)

    @cached_property
    def hot(self) -> HotPixels:
        """Where the hot pixels are."""
        return hot_summary(self._hot, self.mosaic.height, self.mosaic.width)

    @cached_property
    def damage(self) -> tuple[DamageSign, ...]:
        """Traces of data lost."""
        counted, planes = self.counted, self.settled
        return find_damage(
            DamageView(
                lattices=self.lattices,
                histograms=counted.histograms,
                cells=counted.cells,
                blacks_dn=[black.mean_dn for black in planes.blacks],
                noises=planes.noises,
                clip_thresholds_dn=planes.clip_thresholds_dn,
                bit_depth=self.mosaic.bit_depth,
                white_dn=max(self.mosaic.white_dn),
            )
        )

    @cached_property
    def sharpness(self) -> float | None:
        """Upper quartile of the detail."""
        return sharpness(self.detail, self.over.any_plane == 0)

    def drawn(self) -> DrawnPictures:
        """Draw the large pictures."""
        layout, balance = self.mosaic.layout, self.mosaic.white_balance
        rendering = Rendering(
            layout=layout,
            lattices=self.lattices,
            blacks_dn=[black.mean_dn for black in self.settled.blacks],
            whites_dn=whites_dn(layout, _ranges_dn(self.settled), balance),
        )
        view = LargeView(
            mosaic=self.mosaic,
            rendering=rendering,
            top_dn=int(self.tops_dn.max()),
            tile_px=self.tile_px,
            any_over=self.over.any_plane,
            detail=self.detail,
            textured=self.sharpness is not None,
        )
        return draw_large(view)

    @cached_property
    def measurement(self) -> MosaicMeasurement:
        """Everything that the pixels of the mosaic tell."""
        return MosaicMeasurement(
            layout=self.mosaic.layout,
            width=self.mosaic.width,
            height=self.mosaic.height,
            bit_depth=self.mosaic.bit_depth,
            planes=self.planes,
            maps=self.maps,
            hot=self.hot,
            damage=self.damage,
            sharpness=self.sharpness,
        )


def _ranges_dn(planes: _Planes) -> list[float]:
    """Return the clipping level of each plane over its black, as the frame itself tells it."""
    return [
        cut - black.mean_dn
        for cut, black in zip(planes.clip_thresholds_dn, planes.blacks, strict=True)
    ]
