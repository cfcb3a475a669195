"""What holds of the measures whatever the pixels are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from auditor.clipping.patches import largest_patch
from auditor.clipping.pile_up import find_pile_up
from auditor.model.measurement import Histogram, MosaicMeasurement, NoiseEstimate
from auditor.model.mosaic import BlackLevels, Mosaic
from auditor.sensor import histogram as counting
from auditor.sensor.histogram import upper_end_dn
from sample_generation.layouts import LAYOUT_NAMES, colour_layout
from tests.built_mosaics import KNOWN_NOISE, histogram_of, measured, mosaic_of

quick = settings(max_examples=20)
sizes = st.tuples(st.integers(1, 70), st.integers(1, 70))
layouts = st.sampled_from(LAYOUT_NAMES)
seeds = st.integers(0, 10_000)
tops = st.sampled_from([1, 255, 4095, 16383, 65535])


def pixels_of(layout: str, size: tuple[int, int], seed: int, top: int) -> NDArray[np.int64]:
    shape = (*size, 3) if layout == "LINEAR" else size
    return np.random.default_rng(seed).integers(0, top + 1, shape)


def build(layout: str, values: NDArray[np.int64], **changes: object) -> Mosaic:
    return mosaic_of(values, colour_layout(layout).pattern, **changes)


def dense(histogram: Histogram) -> NDArray[np.int64]:
    counts = np.zeros(65536, dtype=np.int64)
    counts[histogram.first_dn : histogram.last_dn + 1] = histogram.counts
    return counts


def planes_of(found: MosaicMeasurement) -> list[NDArray[np.int64]]:
    return [dense(plane.histogram) for plane in found.planes]


@quick
@given(layouts, sizes, seeds, tops)
def test_histograms_sum_to_the_pixels_and_end_on_filled_bins(
    layout: str, size: tuple[int, int], seed: int, top: int
) -> None:
    mosaic = build(layout, pixels_of(layout, size, seed, top))
    found = measured(mosaic)
    assert [plane.name for plane in found.planes] == list(mosaic.plane_names)
    assert tuple(plane.pixels for plane in found.planes) == mosaic.plane_pixels()
    for plane in found.planes:
        assert plane.histogram.total == plane.pixels
        counts = plane.histogram.counts
        assert len(counts) == 0 or (counts[0] > 0 and counts[-1] > 0)
    whole = sum(planes_of(found))
    assert np.array_equal(whole, np.bincount(mosaic.pixels.ravel(), minlength=65536))


@pytest.mark.parametrize("compiled", [True, False])
@quick
@given(st.sampled_from([name for name in LAYOUT_NAMES if name != "LINEAR"]), sizes, seeds, tops)
def test_each_plane_is_counted_exactly_with_the_compiled_product_and_without(
    compiled: bool, layout: str, size: tuple[int, int], seed: int, top: int
) -> None:
    mosaic = build(layout, pixels_of(layout, size, seed, top))
    with pytest.MonkeyPatch.context() as patch:
        if not compiled:
            patch.setattr(counting, "sparse_products", lambda: None)
        found = planes_of(measured(mosaic))
    (rows, cols), (height, width) = mosaic.pattern.shape, size
    plane_of = np.tile(mosaic.pattern, (-(-height // rows), -(-width // cols)))[:height, :width]
    for plane, counts in enumerate(found):
        values = mosaic.pixels[plane_of == plane]
        assert np.array_equal(counts, np.bincount(values, minlength=65536))


@quick
@given(layouts, st.integers(1, 5), st.integers(1, 50), st.integers(1, 60), seeds)
def test_counts_of_two_parts_add_up(
    layout: str, periods: int, below: int, width: int, seed: int
) -> None:
    values = pixels_of(layout, (periods * 6 + below, width), seed, 16383)
    whole = planes_of(measured(build(layout, values)))
    upper = planes_of(measured(build(layout, values[: periods * 6])))
    lower = planes_of(measured(build(layout, values[periods * 6 :])))
    for all_of_it, one, other in zip(whole, upper, lower, strict=True):
        assert np.array_equal(all_of_it, one + other)


@quick
@given(layouts, sizes, seeds, st.integers(1, 2000))
def test_a_higher_black_lifts_the_values_and_leaves_the_signal(
    layout: str, size: tuple[int, int], seed: int, lift: int
) -> None:
    values = pixels_of(layout, size, seed, 8000) + 600
    mosaic = build(layout, values)
    higher = replace(
        mosaic,
        pixels=(values + lift).astype(np.uint16),
        black=BlackLevels(mosaic.black.pattern_dn + lift),
    )
    plain, lifted = measured(mosaic), measured(higher)
    for one, other in zip(plain.planes, lifted.planes, strict=True):
        assert other.black_dn == one.black_dn + lift
        assert other.pixels == 0 or other.histogram.first_dn == one.histogram.first_dn + lift
        assert np.array_equal(one.histogram.counts, other.histogram.counts)
    assert np.allclose(plain.maps.mean_dn, lifted.maps.mean_dn, atol=0.01)


@quick
@given(sizes, seeds, st.permutations(range(4)))
def test_planes_come_in_their_order_wherever_they_lie(
    size: tuple[int, int], seed: int, order: list[int]
) -> None:
    pattern = np.array(order).reshape(2, 2)
    values = np.random.default_rng(seed).integers(0, 100, size)
    rows, cols = size
    values += 1000 * np.tile(pattern, (rows // 2 + 1, cols // 2 + 1))[:rows, :cols]
    for plane, record in enumerate(measured(mosaic_of(values, pattern.astype(np.uint8))).planes):
        if record.pixels:
            assert record.histogram.first_dn // 1000 == record.histogram.last_dn // 1000 == plane


@quick
@given(layouts, sizes, seeds, tops)
def test_shares_lie_between_none_and_all(
    layout: str, size: tuple[int, int], seed: int, top: int
) -> None:
    mosaic = build(layout, pixels_of(layout, size, seed, top))
    cut = (0.7 * top,) * len(mosaic.plane_names)
    maps = measured(replace(mosaic, white_dn=cut)).maps
    for shares in (maps.over_share, maps.any_over_share, maps.all_over_share):
        assert ((shares >= 0.0) & (shares <= 1.0)).all()
    assert (maps.all_over_share <= maps.any_over_share).all()
    assert max(maps.shape) <= 192


@quick
@given(seeds, st.floats(20.0, 13000.0), st.integers(200, 40_000))
def test_unclipped_light_of_one_level_is_never_a_heap(seed: int, level: float, count: int) -> None:
    rng = np.random.default_rng(seed)
    values = 512.0 + level + np.sqrt(4.0 + 0.3 * level) * rng.standard_normal(count)
    assert find_pile_up(histogram_of(values), 512.0, 16383.0, 14, KNOWN_NOISE) is None


@quick
@given(seeds, st.integers(0, 30), st.floats(0.0, 0.01))
def test_the_upper_end_leaves_just_the_few_above(seed: int, least: int, share: float) -> None:
    values = np.random.default_rng(seed).integers(100, 400, 5000)
    histogram = histogram_of(values)
    few = max(least, round(share * 5000))
    end = upper_end_dn(histogram, share, least)
    assert (values > end).sum() <= few
    assert (values >= end).sum() > few


@quick
@given(st.floats(0.05, 50.0), st.floats(0.001, 50.0))
def test_the_floor_is_where_signal_equals_noise(read: float, gain: float) -> None:
    # EMVA 1288: SNR = S / sqrt(r² + g S) is 1 at the absolute sensitivity threshold.
    floor = NoiseEstimate(read, gain).floor_dn
    assert floor is not None
    assert np.isclose(floor / np.sqrt(read**2 + gain * floor), 1.0)


@quick
@given(seeds, st.integers(1, 24), st.integers(1, 24))
def test_a_patch_lies_within_its_box(seed: int, rows: int, cols: int) -> None:
    shares = np.random.default_rng(seed).random((rows, cols)).astype(np.float32)
    patch = largest_patch(shares, 0.6)
    assert (patch is None) == bool((shares < 0.6).all())
    if patch is not None:
        left, top, right, bottom = patch.box
        assert 0 <= left < patch.centre[0] < right <= 1
        assert 0 <= top < patch.centre[1] < bottom <= 1
        assert 0 < patch.share <= (right - left) * (bottom - top) + 1e-6


@quick
@given(st.integers(1, 60), st.integers(0, 300), st.integers(0, 40), seeds)
def test_where_pixels_lie_is_found_as_if_each_bin_were_asked(
    bins: int, first_dn: int, few: int, seed: int
) -> None:
    draw = np.random.default_rng(seed)
    counts = draw.integers(0, 9, bins) * draw.integers(0, 2, bins)
    counts[[0, -1]] = draw.integers(1, 9, 2)
    found = Histogram(first_dn, counts.astype(np.uint32))
    places = range(first_dn - 2, first_dn + bins + 2)
    more = [dn for dn in places if found.at_or_above(dn) > few]
    assert found.dn_with_above(few) == max([first_dn - 1, *more])
    filled = first_dn + np.flatnonzero(counts)
    for dn in places:
        assert found.last_under(dn) == max(filled[filled < dn].tolist(), default=None)
