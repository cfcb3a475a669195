"""All seven layouts of the simulated camera, held against its truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.figures.channel import bright_end_dn
from auditor.model.measurement import PlaneMeasurement
from sample_generation.layouts import LAYOUT_NAMES
from sample_generation.truth import PlaneTruth
from sample_generation.truth_of_exposure import plane_values
from tests.built_mosaics import exposed, measured_coast

SIZE = {"width": 1200, "height": 804}

layouts = pytest.mark.parametrize("layout", LAYOUT_NAMES)


def pairs(layout: str) -> list[tuple[PlaneMeasurement, PlaneTruth]]:
    measured, truth = measured_coast(layout, **SIZE), exposed(layout, **SIZE).truth
    return list(zip(measured.planes, truth.planes, strict=True))


@layouts
def test_histograms_count_every_pixel_exactly(layout: str) -> None:
    taken = exposed(layout, **SIZE)
    for index, (plane, truth) in enumerate(pairs(layout)):
        parts = plane_values(taken.mosaic.pixels, taken.sensor, index)
        values, counts = np.unique(np.concatenate([p.ravel() for p in parts]), return_counts=True)
        filled = np.flatnonzero(plane.histogram.counts)
        assert plane.name == truth.name
        assert plane.pixels == truth.pixels == plane.histogram.total
        assert np.array_equal(filled + plane.histogram.first_dn, values)
        assert np.array_equal(plane.histogram.counts[filled], counts)


@layouts
def test_blown_share_is_within_a_fiftieth_of_a_point(layout: str) -> None:
    shares = [
        plane.histogram.at_or_above(plane.clip_threshold_dn) / plane.pixels
        for plane, _ in pairs(layout)
    ]
    truth = [true.blown_fraction for _, true in pairs(layout)]
    assert max(truth) > 0.01
    assert shares == pytest.approx(truth, abs=2e-4)


@layouts
def test_saturation_is_within_two_thousandths(layout: str) -> None:
    found = 0
    for plane, truth in pairs(layout):
        if truth.blown_fraction > 1e-4:
            assert plane.pile_up is not None
            assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=2e-3)
            assert plane.pile_up.spread_dn == pytest.approx(truth.saturation_spread_dn, abs=0.5)
            found += 1
        elif truth.blown_pixels == 0:
            assert plane.pile_up is None
    assert found >= 1


@layouts
def test_shares_over_in_any_and_every_plane_are_those_of_the_pattern_cells(layout: str) -> None:
    mosaic, truth = measured_coast(layout, **SIZE), exposed(layout, **SIZE).truth
    maps, weight = mosaic.maps, mosaic.tile_area
    any_share = float((maps.any_over_share * weight).sum())
    every = float((maps.all_over_share * weight).sum())
    assert any_share == pytest.approx(truth.blown_any_fraction, abs=2e-4)
    assert every == pytest.approx(truth.blown_all_fraction, abs=2e-4)


@layouts
def test_headroom_is_within_a_fiftieth_of_a_stop(layout: str) -> None:
    checked = 0
    for plane, truth in pairs(layout):
        if truth.headroom_recorded_stops:
            end_dn = bright_end_dn(plane, 1e-4) - plane.black_dn
            room = math.log2(truth.saturation_signal_dn / end_dn)
            assert room == pytest.approx(truth.headroom_recorded_stops, abs=0.02)
            checked += 1
    assert checked >= 1 or layout == "MONO"


@layouts
def test_black_is_found_to_a_tenth_of_a_dn(layout: str) -> None:
    for plane, truth in pairs(layout):
        assert plane.black_dn == pytest.approx(truth.black_dn, abs=0.1)


@layouts
def test_gain_is_within_three_per_cent(layout: str) -> None:
    for plane, truth in pairs(layout):
        assert plane.noise.gain_dn_per_e == pytest.approx(truth.gain_dn_per_e, rel=0.03)


@layouts
def test_read_noise_is_within_five_per_cent(layout: str) -> None:
    # Three-sample data have no masked border; not interpolated, their dark tones tell it.
    source = "photon transfer" if layout == "LINEAR" else "masked border and photon transfer"
    for plane, truth in pairs(layout):
        assert plane.noise.source == source
        assert plane.noise.read_noise_dn == pytest.approx(truth.read_noise_dn, rel=0.05)


@layouts
def test_blocked_share_by_tiles_is_within_a_point(layout: str) -> None:
    mosaic = measured_coast(layout, **SIZE)
    maps, weight = mosaic.maps, mosaic.tile_area
    for index, (plane, truth) in enumerate(pairs(layout)):
        assert plane.noise.floor_dn is not None
        share = float(weight[maps.mean_dn[index] < plane.noise.floor_dn].sum())
        assert truth.blocked_fraction > 0.02
        assert share == pytest.approx(truth.blocked_fraction, abs=0.01)


@layouts
def test_a_clean_frame_shows_no_damage_and_no_hot_pixel_of_its_own(layout: str) -> None:
    measured, truth = measured_coast(layout, **SIZE), exposed(layout, **SIZE).truth
    assert measured.damage == ()
    known = {tuple(place) for place in truth.hot_positions.tolist()}
    assert {tuple(place) for place in measured.hot.positions.tolist()} <= known
