"""A sensor with more than one clipping level: told, and never made of a scene."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.black.levels import PlaneBlack
from auditor.clipping.places import PlaneTop, clips_apart
from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.conclude import conclude
from auditor.model.codes import BlackSource, Clipping
from auditor.model.facts import FileFacts
from auditor.model.findings import FindingCode
from auditor.model.measurement import FrameMeasurement, NoiseEstimate, Pictures, PileUp
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import Settings
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.lattice import SensorLattice
from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.coding import Coding
from tests.built_effects import Effect, clipping_lower, remade, two_gains
from tests.built_mosaics import MONO, SATURATION_E, exposed, histogram_of, measured
from tests.judge_maker import card_file
from tests.memory_source import MemoryMeasurementSource

LIGHT = (
    np.linspace(1.6, 0.02, 800)[:, None, None] * np.array([0.8, 1.0, 0.7]) * np.ones((1, 1200, 1))
)
"""A sky that is blown over the whole width, down to a dark ground."""


def sky(**body: Any) -> Exposure:
    camera = SimulatedCamera(width=1200, height=800, **body)
    return camera.expose(LIGHT * SATURATION_E * 64.0, 1.0, 8.0, 100.0, rng=5)


APART: dict[str, Effect] = {
    "rows 2 %": clipping_lower(300.0, "rows"),
    "rows 10 %": clipping_lower(1500.0, "rows"),
    "columns 2 %": clipping_lower(300.0, "columns"),
    "a half 2 %": clipping_lower(300.0, "half"),
    "corners 3 %": clipping_lower(400.0, "corners"),
    "rows of two gains, 2 %": two_gains(0.98),
    "rows of two gains, 20 %": two_gains(0.8),
    "rows of two gains, a quarter": two_gains(0.25),
}


@pytest.mark.parametrize(
    "border", [{}, {"margin_top": 0, "margin_left": 0}], ids=["border", "none"]
)
@pytest.mark.parametrize("effect", APART.values(), ids=APART)
def test_levels_that_differ_from_place_to_place_are_doubted(
    effect: Effect, border: dict[str, Any]
) -> None:
    found = FrameMeasurement(
        FileFacts(), measured(remade(sky(**border), effect)), None, Pictures(b"")
    )
    (levels,) = settle_levels({"one": clip_evidence(found)}).values()
    assert all(level.may_clip for level in levels)
    assert all(remark(RemarkCode.CLIPS_APART) in level.remarks for level in levels)


@pytest.mark.parametrize(
    "body",
    [
        {}, {"layout": "XTRANS"}, {"layout": "LINEAR"}, {"layout": "MONO"},
        {"vignetting_stops": 2.0}, {"saturation_spread_dn": 61.0},
        {"saturation_row_spread_dn": 46.0},
        {"spill": 0.1}, {"prnu": 0.02}, {"knee": 0.2}, {"coding": Coding(step_dn=16)},
        {"coding": Coding(ringing_dn=300.0)}, {"saturation_plane_step_dn": 300.0},
    ],
    ids=str,
)  # fmt: skip
def test_one_level_is_not_doubted(body: dict[str, Any]) -> None:
    for taken in (sky(**body), exposed(**body)):
        assert not any(plane.clips_apart for plane in measured(taken.mosaic).planes)


LEVEL_DN = 16000


def lines(counts: list[int], share: float = 0.01) -> bool:
    """As many pixels clip in each of 48 rows of bright light, again and again, in turn."""
    pixels = np.full((48, 100), 15000, np.uint16)
    for row, count in enumerate(np.resize(counts, 48)):
        pixels[row, :count] = LEVEL_DN
    return clips_apart([plane_top(pixels, NoiseEstimate(), PileUp(LEVEL_DN, LEVEL_DN, 1.0, share))])


def plane_top(pixels: NDArray[np.uint16], noise: NoiseEstimate, pile_up: PileUp) -> PlaneTop:
    """A plane of its own, in tiles of 24 pixels; the first column of tiles tells its tops."""
    black = PlaneBlack(np.zeros((1, 1)), None, None, 0.0, 0.0, None, None, BlackSource.METADATA)
    view = PlaneView(
        SensorLattice(pixels, MONO), 0, black, histogram_of(pixels), None, None, 16383.0
    )
    tops = pixels.reshape(len(pixels) // 24, 24, -1).max(axis=(1, 2))[:, None]
    return PlaneTop(
        view=view, noise=NoiseModel(noise), pile_up=pile_up,
        mean_dn=tops.astype(np.float32), tops_dn=tops, tile_px=24,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("counts", "apart"),
    [
        ([25, 0], True), ([15, 0], False),
        ([30, 10], True), ([30, 15], False),
        ([30, 30, 0], True), ([30, 30, 30, 30, 0], False),
        ([30, 0] * 7 + [0] * 34, True), ([30, 0] * 5 + [0] * 38, False),
        ([30], False),
    ],
)  # fmt: skip
def test_lines_that_clip_by_turns(counts: list[int], apart: bool) -> None:
    assert lines(counts) == apart


def test_less_than_the_share_is_not_looked_for() -> None:
    assert lines([30, 0], share=1.2e-3)
    assert not lines([30, 0], share=0.8e-3)


@pytest.mark.parametrize(("tiles", "apart"), [(12, True), (8, False)])
def test_places_steadier_than_light(tiles: int, apart: bool) -> None:
    """Light of 15,000 DN scatters by 67: a tile that keeps within 20 of its mean is clipped."""
    rng = np.random.default_rng(1)
    whole = plane_top(
        rng.normal(15000.0, 67.0, (48, 100)).astype(np.uint16),
        NoiseEstimate(2.0, 0.3),
        PileUp(LEVEL_DN, LEVEL_DN - 6, 1.0, 1e-4),
    )
    mean = np.full((100, 100), 15000.0, np.float32)
    tops = np.full((100, 100), 15200, np.uint16)
    tops.flat[:tiles] = 15020
    assert clips_apart([replace(whole, mean_dn=mean, tops_dn=tops)]) == apart
    assert not clips_apart(
        [replace(whole, noise=NoiseModel(NoiseEstimate()), mean_dn=mean, tops_dn=tops)]
    )


def test_the_finding_says_what_clips_lower_and_headroom_is_none_where_something_is_blown() -> None:
    mosaic = remade(sky(), clipping_lower(300.0, "rows"))
    file = card_file("ONE.DNG")
    kept = {file.id: FrameMeasurement(FileFacts(), measured(mosaic), None, Pictures(b""))}
    (frame,) = conclude([file], {}, MemoryMeasurementSource(kept), Settings()).frames
    assert frame.clipping == Clipping.MAY_BE_CLIPPED
    assert {channel.headroom_stops for channel in frame.channels} == {0.0}
    (told,) = [told for told in frame.findings if told.code is FindingCode.MAY_BE_CLIPPED]
    assert "clip lower than the rest" in told.text
