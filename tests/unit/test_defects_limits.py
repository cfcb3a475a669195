"""On either side of the numbers that damage is judged by, where no other test stands."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.defects.damage import (
    DamageView,
    _calm_beside,
    _lost_pixels,
    _noisy_inside,
    _wild_pixels,
)
from auditor.defects.findings import find_hot_pixels
from auditor.defects.hot_pixels import HotCandidates
from auditor.defects.row_breaks import _is_break, _is_lifted, _is_moved, _scatter, _suspects
from auditor.model.audit import HotFigures
from auditor.model.facts import ExposureFacts
from auditor.model.measurement import NoiseEstimate
from auditor.model.settings import Settings
from auditor.noise.estimate import NoiseModel
from auditor.sensor.cells import Cells
from auditor.sensor.lattice import SensorLattice, Stripe
from tests.built_mosaics import MONO, border_of, histogram_of, measured, mosaic_of, noisy

SHAPE = (120, 400)


def view_of(pixels: NDArray[Any], *, black_dn: float = 512.0, read_dn: float = 1.0) -> DamageView:
    """A picture of one plane and what is known of it; signs in cells are not looked for."""
    cells: Any = None
    return DamageView(
        [SensorLattice(pixels.astype(np.uint16), MONO)], [histogram_of(pixels)], cells,
        [black_dn], [NoiseModel(NoiseEstimate(read_dn, 0.3))], [15000.0], 14, 16383.0,
    )  # fmt: skip


def lost(pixels: int, level_dn: int = 0, *, black_dn: float = 512.0, read_dn: float = 1.0) -> bool:
    """Whether so many pixels of one row that hold a level under black are lost data."""
    values = np.full(SHAPE, 3000)
    values[60, 20 : 20 + pixels] = level_dn
    return _lost_pixels(view_of(values, black_dn=black_dn, read_dn=read_dn)) is not None


@pytest.mark.parametrize(("pixels", "told"), [(56, False), (72, True)])
def test_a_run_is_lost_data_from_64_pixels_on(pixels: int, *, told: bool) -> None:
    """Fewer may be dead pixels, which a sensor has in clusters too."""
    assert lost(pixels) == told


@pytest.mark.parametrize(("level_dn", "told"), [(120, True), (180, False)])
def test_noise_reaches_no_twelve_sigmas_under_black(level_dn: int, *, told: bool) -> None:
    """A body of 30 DN read noise: 392 DN under black are 13 sigmas, 332 DN are 11."""
    assert lost(300, level_dn, read_dn=30.0) == told


@pytest.mark.parametrize(("level_dn", "told"), [(3, True), (5, False)])
def test_under_a_low_black_rounding_is_no_lost_data(level_dn: int, *, told: bool) -> None:
    """Black at 12 DN and next to no noise: 9 DN under it nothing was written, at 7 DN something."""
    assert lost(300, level_dn, black_dn=12.0, read_dn=0.1) == told


@pytest.mark.parametrize(("level_dn", "told"), [(205, True), (300, False)])
def test_what_was_never_written_lies_far_under_black(level_dn: int, *, told: bool) -> None:
    """Under half of it, 512 DN: noise of whole rows and black that drifts do not reach so far."""
    assert lost(300, level_dn) == told


@pytest.mark.parametrize(("pixels", "kind"), [(290, "constant block"), (390, "empty rows")])
def test_a_row_is_empty_that_is_so_from_end_to_end(pixels: int, kind: str) -> None:
    """Of 400 pixels in a row so many hold nothing."""
    values = np.full(SHAPE, 3000)
    values[60, :pixels] = 0
    sign = _lost_pixels(view_of(values))
    assert sign is not None
    assert sign.kind == kind


@pytest.mark.parametrize(("times", "told"), [(1.8, False), (2.2, True)])
def test_no_sensor_records_twice_what_its_file_claims(times: float, *, told: bool) -> None:
    """A row of such values, in a file of 16 bits that claims 16,383 DN."""
    values = np.full(SHAPE, 3000)
    values[60] = round(times * 16383)
    assert (_wild_pixels(replace(view_of(values), bit_depth=16)) is not None) == told


@pytest.mark.parametrize(("in_a_run", "told"), [(260, False), (300, True)])
def test_of_lost_data_seven_tenths_lie_in_runs(in_a_run: int, *, told: bool) -> None:
    """Of 400 zeros so many are in one run, the others lie about alone as dead pixels do."""
    values = np.full(SHAPE, 3000)
    values[60, 20 : 20 + in_a_run] = 0
    values[np.arange(400 - in_a_run) % 40, 5 + 7 * (np.arange(400 - in_a_run) // 40)] = 0
    assert np.count_nonzero(values == 0) == 400
    assert (_lost_pixels(view_of(values)) is not None) == told


@pytest.mark.parametrize(("share", "kind"), [(0.85, "empty rows"), (0.95, "empty plane")])
def test_a_plane_of_nine_tenths_zeros_was_never_written(share: float, kind: str) -> None:
    values = noisy(3000.0, SHAPE)
    values[: round(share * SHAPE[0])] = 0
    (sign,) = measured(mosaic_of(np.rint(values), masked=(border_of((20, 400)),))).damage
    assert sign.kind == kind


@pytest.mark.parametrize(("noise_dn", "told"), [(1.2, False), (1.8, True)])
def test_even_places_are_a_wonder_where_neighbours_are_seldom_alike(
    noise_dn: float, *, told: bool
) -> None:
    """Two rounded values of such noise are alike in 23 % of all pairs, or in 16 %."""
    pair = np.rint(3000.0 + noise_dn * np.random.default_rng(1).standard_normal((2, 10**5)))
    assert bool(np.mean(pair[0] == pair[1]) < 0.2) == told
    levels = view_of(np.arange(1, 16001).reshape(100, 160), read_dn=noise_dn)
    quiet = replace(levels, blacks_dn=[3000.0])
    assert bool(_noisy_inside(quiet, 0, np.array([3000], np.uint16))[0]) == told


@pytest.mark.parametrize(("step_dn", "told"), [(1, True), (12, True), (40, False)])
def test_noise_of_30_dn_shows_where_codes_lie_closer(step_dn: int, *, told: bool) -> None:
    """8-bit lossy codes lie further apart: there places hold one value by rounding."""
    values = 3000 + step_dn * np.arange(-20, 21).repeat(40).reshape(40, 41)
    coarse = replace(view_of(values, read_dn=30.0), blacks_dn=[3000.0])
    assert bool(_noisy_inside(coarse, 0, np.array([3000], np.uint16))[0]) == told


@pytest.mark.parametrize(("width", "told"), [(402, False), (403, True)])
def test_a_few_pixels_at_the_edge_are_alike_by_chance(width: int, *, told: bool) -> None:
    """Beside 100 whole cells of 4 pixels a side, two of 8 pixels, or of 12, hold one value."""
    values = noisy(3000.0, (120, width))
    values[40:48, 400:] = 3512
    found = measured(mosaic_of(np.rint(values), masked=(border_of((20, width)),))).damage
    assert [sign.kind for sign in found] == ["even cells"] * told


# Rows at which the picture breaks


@pytest.mark.parametrize(("times", "told"), [(2.6, []), (3.4, [60])])
def test_a_row_is_looked_at_that_differs_three_times_as_usual(
    times: float, told: list[int]
) -> None:
    change = np.full(120, 50.0)
    change[60] *= times
    assert _suspects(change) == told


@pytest.mark.parametrize(
    ("alike", "elsewhere", "move_px", "moved"),
    [
        (0.5, 0.0, 40, False), (0.6, 0.0, 40, True),
        (0.9, 0.45, 40, True), (0.9, 0.63, 40, False),
        (0.9, 0.0, 3, False), (0.9, 0.0, 5, True), (0.9, 0.0, 397, False),
    ],
)  # fmt: skip
def test_rows_are_moved_that_are_alike_at_one_displacement_alone(
    alike: float, elsewhere: float, move_px: int, *, moved: bool
) -> None:
    """Correlation at each of 400: half of it is chance, a fence is alike at many, 3 px an edge."""
    likeness = np.zeros(400)
    likeness[move_px], likeness[200] = alike, elsewhere
    assert _is_moved(likeness) == moved


@pytest.mark.parametrize(("share", "lifted"), [(0.2, True), (0.3, False)])
def test_a_lift_is_the_same_in_all_columns(share: float, *, lifted: bool) -> None:
    """It scatters by so much of its size: data lost at one place are off by one amount."""
    upper, noise = np.random.default_rng(2).standard_normal((2, 4000))
    assert _is_lifted(800.0 * upper, 800.0 * upper + 100.0 + 100.0 * share * noise, 1.0, 1.0) is (
        lifted
    )


@pytest.mark.parametrize(("one_in", "lifted"), [(33, True), (20, False)])
def test_a_hot_pixel_counts_as_three_scatters_of_its_row(one_in: int, *, lifted: bool) -> None:
    """So one in 33 leaves the contrast within 15 % of that above, however hot, one in 20 not."""
    upper = 20.0 * np.random.default_rng(2).standard_normal(3300)
    lower = upper + 100.0
    lower[::one_in] = 9000.0
    assert _is_lifted(upper, lower, 1.0, 1.0) is lifted


@pytest.mark.parametrize(("times", "broken"), [(3.4, False), (4.6, True)])
def test_an_even_row_tells_no_break(times: float, *, broken: bool) -> None:
    """Rows differ by 10 DN from the next, and scatter along it by so many times that."""
    row = np.random.default_rng(3).standard_normal(400)
    row *= 10.0 * times / _scatter(row)
    values = 3000.0 + np.tile(row, (60, 1)) + 10.0 * (np.arange(60)[:, None] % 2)
    values[30:] = np.roll(values[30:], 40, axis=1)
    lattice = SensorLattice(np.rint(values).astype(np.uint16), MONO)
    assert _is_break(lattice, 29, 1) == broken


# Hot pixels


@pytest.mark.parametrize(("share", "kept"), [(0.017, True), (0.023, False)])
def test_a_crowd_of_candidates_is_texture(share: float, *, kept: bool) -> None:
    """So many pixels stand 100 DN over their neighbours: of 2 % none are hot, they are leaves."""
    pixels = np.full((24, 2002), 1000, np.uint16)
    pixels[3:21:2, 4 : 2002 - 4 : round(0.5 / share)] += 400
    lattice = SensorLattice(pixels, MONO)
    candidates = HotCandidates(lattice, 16)
    candidates.take(Stripe(lattice, 0, 24), 1400)
    assert bool(len(candidates.finish()[0])) == kept


@pytest.mark.parametrize(("time_s", "told"), [(0.8, 0), (1.2, 1), (None, 1)])
def test_hot_pixels_are_told_in_exposures_of_a_second(time_s: float | None, told: int) -> None:
    """Dark current fills them with time: in 0.8 s they are no habit of this exposure."""
    view: Any = SimpleNamespace(
        result=SimpleNamespace(
            hot_pixels=HotFigures(10**6, 10**5), exposure=ExposureFacts(time_s=time_s)
        ),
        settings=Settings(),
    )
    assert len(list(find_hot_pixels(view))) == told


@pytest.mark.parametrize(("times", "calm"), [(0.48, True), (0.68, False)])
def test_a_block_was_lost_where_the_noise_of_light_lies_beside_it(
    times: float, *, calm: bool
) -> None:
    """Of four pixels the largest stands one deviation over their mean: 1.03 times the noise."""
    values = 3000.0 + times * (noisy(3000.0 - 512.0, (80, 160), seed=3) - 3000.0)
    values[20:60, 40:120] = 2345.0
    parts = np.rint(values).reshape(40, 2, 80, 2)
    sums, tops = parts.sum(axis=(1, 3))[None], parts.max(axis=(1, 3))[None]
    block = np.zeros((40, 80), np.bool_)
    block[10:30, 20:60] = True
    view = replace(
        view_of(values, read_dn=2.0), cells=Cells(2, sums.astype(np.uint32), tops.astype(np.uint16))
    )
    assert _calm_beside(view, view.lattices[0], 0, block, block) == calm
