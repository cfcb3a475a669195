"""Corners that the camera brightened in the raw data: their noise tells, and texture does not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.model.remark import RemarkCode
from auditor.noise.corners import as_in_centre, corner_growth, rows_unlike
from auditor.noise.level_bins import LevelBins
from auditor.noise.photon_transfer import TransferFit
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_effects import lens_corrected, multiplied, remade
from tests.built_mosaics import (
    SATURATION_E,
    coast,
    exposed,
    measured,
    noises_of,
    true_or_null,
)

SIZE = (800, 1200)


def taken(iso: float, border: bool, loss: float) -> Exposure:
    """The coast through a lens whose corners lose so many stops at f/8."""
    margins: dict[str, Any] = {} if border else {"margin_top": 0, "margin_left": 0}
    at_f4 = loss / (0.4 + 9.6 / 64.0)
    camera = SimulatedCamera(width=SIZE[1], height=SIZE[0], vignetting_stops=at_f4, **margins)
    light = coast(*SIZE) * np.float32(SATURATION_E * 64.0 * 100.0 / iso)
    return camera.expose(light, 1.0, 8.0, iso, rng=3)


@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize("border", [True, False], ids=["border", "no border"])
@pytest.mark.parametrize("loss", [0.3, 0.5, 1.0])
def test_figures_of_the_centre_where_the_camera_corrected_its_lens(
    loss: float, border: bool, iso: float
) -> None:
    frame = taken(iso, border, loss)
    top = frame.sensor.margin_top
    mosaic = remade(frame, lens_corrected(loss, top, frame.sensor.margin_left))
    for plane, truth in zip(measured(mosaic).planes, frame.truth.planes, strict=True):
        told = [told.code for told in plane.noise.remarks]
        assert RemarkCode.CORNERS_BRIGHTENED in told
        assert plane.noise.gain_dn_per_e == pytest.approx(truth.gain_dn_per_e, rel=0.15)
        assert plane.clips_apart
        if border:
            assert plane.noise.read_noise_dn == pytest.approx(truth.read_noise_dn, rel=0.15)
        else:
            assert plane.noise.read_noise_dn is None
            assert RemarkCode.NO_READ_NOISE in told


@pytest.mark.parametrize("border", [True, False], ids=["border", "no border"])
def test_corners_that_the_lens_darkened_are_none(border: bool) -> None:
    for plane in measured(taken(100.0, border, 1.0).mosaic).planes:
        assert not plane.clips_apart
        assert RemarkCode.CORNERS_BRIGHTENED not in [told.code for told in plane.noise.remarks]


FIT = TransferFit(1.0, 0.3, 0.0, 0.1, 0.001, 0.0)


def places(left: float, right: float, blocks: int = 4000) -> tuple[LevelBins, TransferFit]:
    """Calm places of one level whose variance grows to either side by so much, without chance."""
    across = np.linspace(-1.0, 1.0, blocks)
    signal = np.full(blocks, 1000.0)
    model = FIT.variance_dn2(signal)
    noise = model * (1.0 + np.where(across < 0, left, right) * across**2)
    nothing, calm = np.zeros(blocks), np.full(blocks, 0.1)
    return LevelBins(
        signal, noise, calm, noise, nothing, across, nothing.astype(np.int64), calm,
        np.array([blocks]), 16.0,
    ), FIT  # fmt: skip


@pytest.mark.parametrize(
    ("left", "right", "blocks", "told"),
    [
        (0.13, 0.13, 40_000, True), (0.1, 0.1, 40_000, False),
        (0.5, 0.5, 200, True), (0.5, 0.5, 80, False),
        (0.2, 0.45, 4000, True), (0.12, 0.5, 4000, False),
    ],
)  # fmt: skip
def test_growth_is_wide_sure_and_on_both_sides(
    left: float, right: float, blocks: int, told: bool
) -> None:
    assert (corner_growth([places(left, right, blocks)]) > 0.0) == told


def test_noise_as_in_the_centre_is_alike_everywhere() -> None:
    bins, fit = places(0.4, 0.4)
    growth = corner_growth([(bins, fit)])
    assert growth == pytest.approx(0.4, rel=0.02)
    assert np.ptp(as_in_centre(bins, growth).noise_dn2) < 0.02 * bins.noise_dn2.mean()
    assert corner_growth([]) == 0.0


@pytest.mark.parametrize(
    ("apart", "blocks", "told"),
    [(0.06, 1000, True), (0.045, 1000, False), (0.197, 10, True), (0.175, 10, False)],
)
def test_rows_whose_noise_differs_by_more_than_chance(
    apart: float, blocks: int, told: bool
) -> None:
    """Twenty rows, every second one noisier by so much and the others calmer."""
    bins, fit = places(0.0, 0.0, 20 * blocks)
    down = np.repeat(np.linspace(-0.5, 0.5, 20), blocks)
    noise = bins.noise_dn2 * (1.0 + apart * np.repeat(np.resize([1.0, -1.0], 20), blocks))
    assert rows_unlike([(replace(bins, down=down, noise_dn2=noise), fit)]) == told
    assert not rows_unlike([])


@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize(("rows", "told"), [(4, True), (20, True), (40, False)])
def test_rows_that_were_multiplied_tell_a_true_gain_or_none(
    rows: int, told: bool, iso: float
) -> None:
    """By 15 % more or less, so many rows at a time."""
    frame = exposed("RGGB", iso, 1200, 800)
    found = noises_of(measured(remade(frame, multiplied(0.15, rows))))
    true_or_null(frame, found)
    said = [[told.code for told in noise.remarks] for noise in found]
    assert told != all(RemarkCode.LINES_TAKE_TURNS in own for own in said)


def test_rows_of_one_value_have_no_noise_to_differ() -> None:
    """A level all of whose blocks hold one value each lies among calm places."""
    bins, fit = places(0.0, 0.0, 400)
    down = np.repeat(np.linspace(-0.5, 0.5, 20), 20)
    group = np.tile(np.arange(2), 200)
    noise = np.where(group == 1, 0.0, bins.noise_dn2)
    level = replace(bins, down=down, group=group, noise_dn2=noise, sizes=np.array([200, 200]))
    with np.errstate(all="raise"):
        assert not rows_unlike([(level, fit)])
