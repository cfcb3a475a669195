"""On either side of the numbers by which colours clip at one mode, and a pile-up is measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from auditor.black.levels import PlaneBlack
from auditor.clipping.modes import common_modes, top_mode
from auditor.clipping.pile_up import find_pile_up
from auditor.clipping.top import _density_under, heap_at, top_of
from auditor.model.arrays import F64, U16
from auditor.model.codes import BlackSource
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.lattice import SensorLattice
from tests.built_mosaics import KNOWN_NOISE, MONO, histogram_of

DN = np.arange(16384, dtype=np.float64)
ALL = 10**6
"""Pixels of a plane."""


def normal(pixels: float, at_dn: float, spread_dn: float) -> F64:
    """Counts of a normal law."""
    law: F64 = np.exp(-0.5 * ((DN - at_dn) / spread_dn) ** 2)
    counts: F64 = law * pixels / law.sum()
    return counts


def spread_over(pixels: float, first_dn: int, last_dn: int) -> F64:
    """Counts of light that is as frequent at every level."""
    counts = np.zeros(16384)
    counts[first_dn:last_dn] = pixels / (last_dn - first_dn)
    return counts


def histogram(*parts: F64) -> Histogram:
    """A plane of a million pixels, black at 0: what is named, and dark ground."""
    named = np.sum(parts, axis=0)
    counts = np.cumsum(named + normal(ALL - named.sum(), 500, 100.0))
    own = np.diff(np.rint(counts), prepend=0.0)
    return Histogram(0, own.astype(np.uint32))


# The topmost mode


@pytest.mark.parametrize(
    ("pixels", "spread_dn", "told"),
    [(170, 40.0, False), (230, 40.0, True), (20_000, 130.0, True), (20_000, 170.0, False)],
)
def test_a_mode_of_enough_pixels_is_as_narrow_as_a_sensor_s_pixels_differ(
    pixels: int, spread_dn: float, *, told: bool
) -> None:
    """Two hundred tell its width, which is at most one and a half percent of the signal."""
    assert (top_mode(histogram(normal(pixels, 10_000, spread_dn)), 0.0) is not None) == told


@pytest.mark.parametrize(("glitter", "told"), [(25, True), (35, False)])
def test_what_few_pixels_reach_is_glitter_over_the_mode(glitter: int, *, told: bool) -> None:
    """Of a million so many reach half as far again."""
    found = histogram(normal(5000, 10_000, 40.0), spread_over(glitter, 15_000, 15_000 + glitter))
    assert (top_mode(found, 0.0) is not None) == told


@pytest.mark.parametrize(("at_dn", "told"), [(13_050, True), (12_450, False)])
def test_a_mode_of_clipped_pixels_lies_near_to_what_the_plane_reaches(
    at_dn: int, *, told: bool
) -> None:
    """A hundred pixels reach 15,000 DN: 13 % further, or 17 %."""
    found = histogram(normal(5000, at_dn, 40.0), spread_over(100, 14_900, 15_000))
    assert (top_mode(found, 0.0) is not None) == told


@pytest.mark.parametrize(("beyond", "told"), [(0.085, True), (0.115, False)])
def test_hardly_anything_lies_above_a_mode(beyond: float, *, told: bool) -> None:
    """So much of what is at the mode and above it, twice what lies above its middle."""
    above = 10_000 * beyond / (1.0 - 2.0 * beyond)
    found = histogram(normal(10_000, 10_000, 20.0), spread_over(above, 10_400, 11_400))
    assert (top_mode(found, 0.0) is not None) == told


@pytest.mark.parametrize(("times", "told"), [(2.6, False), (3.6, True)])
def test_a_mode_is_three_times_as_dense_as_the_valley_below_it(times: float, *, told: bool) -> None:
    """It rises out of light as frequent at every level below."""
    mode = normal(20_000, 10_000, 40.0)
    valley = mode.max() / (times - 1.0)
    found = histogram(mode, spread_over(valley * 3000, 7000, 10_000))
    assert (top_mode(found, 0.0) is not None) == told


# The same mode in two colours


def of_colours(
    level_dn: tuple[float, float], rows: tuple[slice, slice], cols: int = 300
) -> list[PlaneView]:
    """Red and green over dark ground, each clipped in some rows at a level of its own."""
    views = []
    for colour, dn, where, seed in zip("RG", level_dn, rows, (1, 2), strict=True):
        random = np.random.default_rng(seed)
        pixels = random.normal(1500.0, 300.0, (300, cols)).clip(100, 4000)
        pixels[where] = random.normal(dn, 25.0, pixels[where].shape)
        whole: U16 = np.rint(pixels).astype(np.uint16)
        black = PlaneBlack(np.zeros((1, 1)), None, None, 0.0, 0.0, None, None, BlackSource.METADATA)
        views.append(
            PlaneView(
                SensorLattice(whole, MONO), 0, black, histogram_of(whole), None, None, 16383.0,
                colour=colour,
            )
        )  # fmt: skip
    return views


def agree(views: Sequence[PlaneView]) -> bool:
    modes = [top_mode(view.histogram, view.black.mean_dn) for view in views]
    return len(common_modes(views, modes)) == len(views)


@pytest.mark.parametrize(("off", "told"), [(0.008, True), (0.012, False)])
def test_colours_of_one_sensor_clip_at_one_level(off: float, *, told: bool) -> None:
    views = of_colours((10_000.0, 10_000.0 * (1.0 + off)), (slice(0, 60), slice(0, 90)))
    assert agree(views) == told


@pytest.mark.parametrize(("more", "told"), [(3, False), (10, True)])
def test_modes_as_frequent_in_two_colours_may_be_one_object_s(more: int, *, told: bool) -> None:
    """A hundred rows of red, and 3 % more of green, or 10 %: a sky differs by more."""
    views = of_colours((10_000.0, 10_000.0), (slice(0, 100), slice(0, 100 + more)))
    assert agree(views) == told


@pytest.mark.parametrize(("shared", "told"), [(60, False), (80, True)])
def test_where_one_colour_is_at_its_top_the_other_is(shared: int, *, told: bool) -> None:
    """Of a hundred rows of red so many are green's as well, which has two hundred."""
    views = of_colours((10_000.0, 10_000.0), (slice(200 - shared, 300 - shared), slice(0, 200)))
    assert agree(views) == told


# A pile-up


@pytest.mark.parametrize(
    ("signal_dn", "read_dn", "white_dn", "told"),
    [
        (210.0, 20.0, 4000.0, False), (270.0, 20.0, 4000.0, True),
        (270.0, 2.0, 16_000.0, False), (370.0, 2.0, 16_000.0, True),
    ],
)  # fmt: skip
def test_a_pile_up_lies_far_over_black(
    signal_dn: float, read_dn: float, white_dn: float, *, told: bool
) -> None:
    """By twelve times the read noise, and by a fiftieth of the range that the file claims."""
    counts = np.zeros(2000, np.uint32)
    counts[50:150] = 20
    counts[round(signal_dn)] = 10**5
    noise = NoiseModel(NoiseEstimate(read_dn, 0.3))
    assert (find_pile_up(Histogram(0, counts), 0.0, white_dn, 14, noise) is not None) == told


@pytest.mark.parametrize(("rises", "carried"), [(0.4, True), (0.6, False)])
def test_the_light_under_a_pile_up_rises_no_steeper_than_by_half_a_window(
    rises: float, *, carried: bool
) -> None:
    """By so much of its logarithm a window of 20 DN: what rises steeper is a slope of its own."""
    centre, reach = 9000, 40
    counts = np.zeros(centre + 1)
    level = np.arange(centre - 400, centre)
    counts[level] = 1000.0 * np.exp(rises * (level - centre + 100) / 20.0)
    top = top_of(Histogram(0, np.rint(counts).astype(np.uint32)), 0.0, KNOWN_NOISE)
    true = counts[centre - 60 : centre].mean()
    assert (_density_under(top, centre - 60, centre, reach) > 0.93 * true) == carried


@pytest.mark.parametrize(("gap_dn", "noise_dn"), [(73, 100.0), (40, 20.0)])
def test_light_under_a_pile_up_is_not_of_it(gap_dn: int, noise_dn: float) -> None:
    """All of 100,000 clipped pixels, within 10 DN, and no light that ends so far under them.

    It is looked for 4.5 spreads down; where noise is little, three windows of half of it.
    """
    heaped = histogram(normal(1e5, 12_000, 10.0), spread_over(3e5, 9000, 12_000 - gap_dn))
    heap = heap_at(top_of(heaped, 0.0, NoiseModel(NoiseEstimate(noise_dn, 1e-6))), 12_000)
    assert heap is not None
    assert heap.share == pytest.approx(0.1, rel=0.01)
