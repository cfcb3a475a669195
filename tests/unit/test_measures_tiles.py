"""Tiles: means, largest values and shares, against sums written out plainly."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.clipping.counts import over_shares
from auditor.model.measurement import MosaicMeasurement
from auditor.model.mosaic import Mosaic
from auditor.sensor.lattice import cell_size_px, lattices_of
from sample_generation.layouts import LAYOUT_NAMES, colour_layout
from tests.built_mosaics import BLACK_DN, RGGB, measured, mosaic_of

layouts = pytest.mark.parametrize("layout", LAYOUT_NAMES)


def random_mosaic(layout: str, height: int = 67, width: int = 103, top: int = 16383) -> Mosaic:
    colours = colour_layout(layout)
    shape = (height, width, 3) if layout == "LINEAR" else (height, width)
    values = np.random.default_rng(12).integers(600, top + 1, shape)
    return mosaic_of(values, colours.pattern)


def plane_mask(mosaic: Mosaic, plane: int) -> np.ndarray:
    """Which pixels belong to a plane, shape of the pixels."""
    mask = np.zeros(mosaic.pixels.shape, dtype=bool)
    if mosaic.pixels.ndim == 3:
        mask[..., plane] = True
        return mask
    rows, cols = mosaic.pattern.shape
    for y, x in np.argwhere(mosaic.pattern == plane):
        mask[y::rows, x::cols] = True
    return mask


def tiles(found: MosaicMeasurement) -> list[tuple[int, int, slice, slice]]:
    px = found.maps.tile_px
    rows, cols = found.maps.shape
    return [
        (r, c, slice(r * px, (r + 1) * px), slice(c * px, (c + 1) * px))
        for r in range(rows)
        for c in range(cols)
    ]


@layouts
@pytest.mark.parametrize("top", [4095, 16383, 65535])
def test_largest_values_are_exact_and_means_to_eleven_binary_digits(layout: str, top: int) -> None:
    mosaic = random_mosaic(layout, top=top)
    found = measured(mosaic)
    for plane in range(len(mosaic.plane_names)):
        mask = plane_mask(mosaic, plane)
        for r, c, rows, cols in tiles(found):
            values = mosaic.pixels[rows, cols][mask[rows, cols]]
            mean = values.mean() - BLACK_DN
            assert found.maps.max_dn[plane, r, c] == values.max()
            assert found.maps.mean_dn[plane, r, c] == pytest.approx(mean, rel=2**-11, abs=2**-7)


@layouts
def test_shares_over_the_cut_are_exact(layout: str) -> None:
    mosaic = random_mosaic(layout)
    found = measured(mosaic)
    cuts = [9000.0, 12000.5, 15000.0, 8000.0][: len(mosaic.plane_names)]
    px = found.maps.tile_px
    shares = over_shares(lattices_of(mosaic), found.maps.max_dn, cuts, px)
    for plane, cut in enumerate(cuts):
        mask = plane_mask(mosaic, plane)
        for r, c, rows, cols in tiles(found):
            values = mosaic.pixels[rows, cols][mask[rows, cols]]
            assert shares.planes[plane, r, c] == pytest.approx((values >= cut).mean(), abs=1e-6)


@layouts
def test_any_and_every_plane_count_whole_pattern_cells(layout: str) -> None:
    mosaic = random_mosaic(layout)
    found = measured(mosaic)
    planes = len(mosaic.plane_names)
    cuts = [9000.0, 12000.0, 15000.0, 8000.0][:planes]
    shares = over_shares(lattices_of(mosaic), found.maps.max_dn, cuts, found.maps.tile_px)
    over = [(mosaic.pixels >= cuts[p]) & plane_mask(mosaic, p) for p in range(planes)]
    flat = [own.any(axis=2) if own.ndim == 3 else own for own in over]
    down, across = mosaic.pattern.shape
    for r, c, rows, cols in tiles(found):
        cells = [plane_cells(own[rows, cols], down, across) for own in flat]
        if cells[0].size == 0:
            assert shares.any_plane[r, c] == shares.every_plane[r, c] == 0.0
            continue
        any_share, every = np.any(cells, axis=0).mean(), np.all(cells, axis=0).mean()
        assert shares.any_plane[r, c] == pytest.approx(any_share, abs=1e-6)
        assert shares.every_plane[r, c] == pytest.approx(every, abs=1e-6)


def plane_cells(flags: np.ndarray, down: int, across: int) -> np.ndarray:
    """Whether any pixel of each whole pattern cell is flagged."""
    high, wide = flags.shape[0] // down, flags.shape[1] // across
    whole = flags[: high * down, : wide * across]
    return np.asarray(whole.reshape(high, down, wide, across).any(axis=(1, 3)))


def test_nothing_at_the_cut_is_nothing_over() -> None:
    mosaic = random_mosaic("RGGB", top=9000)
    found = measured(mosaic)
    shares = over_shares(lattices_of(mosaic), found.maps.max_dn, [9001.0] * 4, found.maps.tile_px)
    assert shares.planes.max() == shares.any_plane.max() == 0.0


@pytest.mark.parametrize(
    ("size", "layout"),
    [((8256, 5504), "RGGB"), ((5504, 8256), "XTRANS"), ((3000, 2000), "MONO"), ((40, 30), "GBRG"),
     ((14204, 10652), "RGGB"), ((384, 200), "XTRANS")],
)  # fmt: skip
def test_at_most_192_tiles_of_whole_patterns_on_the_longer_side(
    size: tuple[int, int], layout: str
) -> None:
    pattern = colour_layout(layout).pattern
    pixels = np.broadcast_to(np.uint16(600), (size[1], size[0]))
    mosaic = Mosaic(pixels, mosaic_of(np.zeros((6, 6)), pattern).layout, pattern,
                    mosaic_of(np.zeros((6, 6)), pattern).black, (16383.0,) * 4, 14)  # fmt: skip
    tile_px = 2 * cell_size_px(mosaic)
    assert tile_px % pattern.shape[0] == 0
    assert -(-max(size) // tile_px) <= 192


def test_a_hot_pixel_does_not_light_up_its_tile() -> None:
    values = np.rint(512.0 + 100.0 + np.random.default_rng(1).normal(0, 3, (160, 160)))
    values[41, 77] = 15000
    found = measured(mosaic_of(values, RGGB))
    assert found.hot.count == 1
    assert np.abs(found.maps.mean_dn - 100.0).max() < 6.0
    assert found.maps.max_dn.max() == 15000
