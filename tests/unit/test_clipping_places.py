"""A sensor with more than one clipping level: told, and never made of a scene."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.black.levels import PlaneBlack
from auditor.clipping.places import PlaneTop, _patches_apart, clips_apart
from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.conclude import conclude
from auditor.model.codes import BlackSource, Clipping, LevelSource
from auditor.model.facts import FileFacts
from auditor.model.findings import FindingCode
from auditor.model.measurement import FrameMeasurement, NoiseEstimate, Pictures, PileUp
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import Settings
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.lattice import SensorLattice
from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.coding import Coding
from tests.built_effects import (
    Effect,
    bright_columns,
    clipping_lower,
    lens_corrected,
    packed_in_steps,
    remade,
    rows_brighter,
    two_gains,
)
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
    "rows 0.2 %": clipping_lower(30.0, "rows"),
    "rows 0.6 %": clipping_lower(90.0, "rows"),
    "columns 0.6 %": clipping_lower(90.0, "columns"),
    "a half 0.4 %": clipping_lower(60.0, "half"),
    "every 8th row 6 % brighter": rows_brighter(1.06, 8),
    "every 12th row 6 % brighter": rows_brighter(1.06, 12),
    "every 24th row 6 % darker": rows_brighter(0.94, 24),
    "corners lifted by a tenth of a stop": lens_corrected(0.1, 0, 0),
    "rows of two gains, 2 %": two_gains(0.98),
    "rows of two gains, 20 %": two_gains(0.8),
    "rows of two gains, a quarter": two_gains(0.25),
}


ON_MOSAICS = {
    "every 12th row 6 % brighter",
    "corners lifted by a tenth of a stop",
    "rows of two gains, 2 %", "rows of two gains, 20 %", "rows of two gains, a quarter",
}  # fmt: skip
"""Three-sample data do not tell them, or their effects are made on mosaics alone."""


@pytest.mark.parametrize(
    ("name", "body"),
    [
        (name, body)
        for body in (
            {}, {"margin_top": 0, "margin_left": 0}, {"layout": "XTRANS"}, {"layout": "LINEAR"},
        )
        for name in APART
        if body != {"layout": "LINEAR"} or name not in ON_MOSAICS
    ],
    ids=str,
)  # fmt: skip
def test_levels_that_differ_from_place_to_place_are_doubted(
    name: str, body: dict[str, Any]
) -> None:
    found = FrameMeasurement(
        FileFacts(), measured(remade(sky(**body), APART[name])), None, Pictures(b"")
    )
    (levels,) = settle_levels({"one": clip_evidence(found)}).values()
    assert all(level.may_clip for level in levels)
    assert all(remark(RemarkCode.CLIPS_APART) in level.remarks for level in levels)


def lens(loss_stops: float, scene: str, border: dict[str, Any], **more: Any) -> Exposure:
    """A scene through a lens whose corners lose so many stops at f/8."""
    at_f4 = loss_stops / (0.4 + 9.6 / 64.0)
    return exposed("RGGB", 100.0, 1200, 800, scene, vignetting_stops=at_f4, **border, **more)


@pytest.mark.parametrize(
    "border", [{}, {"margin_top": 0, "margin_left": 0}], ids=["border", "none"]
)
@pytest.mark.parametrize("scene", ["clouds", "glow"])
@pytest.mark.parametrize("loss_stops", [0.03, 0.06, 0.1])
def test_levels_that_grow_over_the_frame_are_doubted_without_a_gain(
    loss_stops: float, scene: str, border: dict[str, Any]
) -> None:
    """Clouds tell no gain; a corrected lens moved the level by 0.2 to 7 % over what is blown."""
    taken = lens(loss_stops, scene, border)
    top, left = taken.sensor.margin_top, taken.sensor.margin_left
    planes = measured(remade(taken, lens_corrected(loss_stops, top, left))).planes
    assert all(plane.clips_apart for plane in planes)
    assert scene == "glow" or all(plane.noise.gain_dn_per_e is None for plane in planes)


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR"])
@pytest.mark.parametrize(
    "effect",
    [clipping_lower(60.0, "half"), clipping_lower(60.0, "corners")],
    ids=["half", "corners"],
)
def test_a_half_or_corners_that_clip_lower_are_doubted_under_clouds(
    effect: Effect, layout: str
) -> None:
    taken = exposed(layout, 100.0, 1200, 800, "clouds")
    assert all(plane.clips_apart for plane in measured(remade(taken, effect)).planes)


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR"])
@pytest.mark.parametrize(
    "effect",
    [clipping_lower(share * 15360.0, "half") for share in (0.05, 0.12, 0.3)]
    + [clipping_lower(154.0, "columns")],
    ids=["5 %", "12 %", "30 %", "columns 1 %"],
)
def test_levels_far_apart_make_no_smoothed_data(effect: Effect, layout: str) -> None:
    """What is cut at a lower level is as steady as smoothed light; middle tones tell them apart.

    On a six-by-six mosaic every pixel of a colour along a row or a column counts.
    """
    taken = exposed(layout, 100.0, 1200, 800, "clouds")
    assert all(plane.clips_apart for plane in measured(remade(taken, effect)).planes)


@pytest.mark.parametrize(("count", "dn"), [(1, 16383.0), (4, 16383.0), (16, 16383.0), (4, 12000.0)])
def test_bright_columns_are_not_taken_for_the_level(count: int, dn: float) -> None:
    """Nothing else clips; what the file claims stands, and is doubted where it is believed."""
    dim = SimulatedCamera(width=1200, height=800).expose(
        LIGHT * SATURATION_E * 64.0 * 0.4, 1.0, 8.0, 100.0, rng=5
    )
    planes = measured(remade(dim, bright_columns(count, dn))).planes
    assert any(plane.pile_up is not None for plane in planes)
    assert all(plane.clips_apart for plane in planes)


@pytest.mark.parametrize("scene", ["sky", "coast"])
@pytest.mark.parametrize("share", [0.5, 1.0, 2.0, 4.0])
def test_codes_as_wide_as_the_noise_are_doubted(share: float, scene: str) -> None:
    """Blown within 0.1 point, saturation within 0.4 %; or it may be clipped, and it is said why."""
    taken = sky() if scene == "sky" else exposed(width=1200, height=800)
    found = FrameMeasurement(
        FileFacts(), measured(remade(taken, packed_in_steps(share))), None, Pictures(b"")
    )
    (levels,) = settle_levels({"one": clip_evidence(found)}).values()
    doubted = any(level.may_clip for level in levels)
    assert doubted or share < 2.0
    for level, plane, truth in zip(levels, found.mosaic.planes, taken.truth.planes, strict=True):
        blown = plane.histogram.at_or_above(level.blown_from_dn) / plane.pixels
        assert (
            doubted
            or level.source is LevelSource.METADATA
            or (
                blown == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3, rel=0.02)
                and level.saturation_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
            )
        )


@pytest.mark.parametrize(
    "body",
    [
        {}, {"layout": "XTRANS"}, {"layout": "LINEAR"}, {"layout": "MONO"},
        {"vignetting_stops": 2.0}, {"saturation_spread_dn": 61.0}, {"saturation_spread_dn": 10.0},
        {"saturation_row_spread_dn": 46.0}, {"saturation_row_spread_dn": 15.0},
        {"saturation_row_spread_dn": 6.0}, {"coding": Coding(smooth_px=1.0)},
        {"spill": 0.1}, {"prnu": 0.02}, {"knee": 0.2}, {"coding": Coding(step_dn=16)},
        {"coding": Coding(ringing_dn=300.0)}, {"saturation_plane_step_dn": 300.0},
    ],
    ids=str,
)  # fmt: skip
def test_one_level_is_not_doubted(body: dict[str, Any]) -> None:
    clouds = exposed(width=1200, height=800, scene="clouds", **body)
    for taken in (sky(**body), exposed(**body), clouds):
        assert not any(plane.clips_apart for plane in measured(taken.mosaic).planes)


LEVEL_DN, ROWS = 16000, 288
FROM_DN = LEVEL_DN - 6


def light(width: int = 160) -> NDArray[np.uint16]:
    """Bright light that does not clip: 15,000 DN, which scatter by 67."""
    return np.random.default_rng(1).normal(15000.0, 67.0, (ROWS, width)).astype(np.uint16)


def top_of_plane(pixels: NDArray[np.uint16], from_dn: int, share: float) -> PlaneTop:
    """A plane of its own, in tiles of 24 pixels."""
    black = PlaneBlack(np.zeros((1, 1)), None, None, 0.0, 0.0, None, None, BlackSource.METADATA)
    view = PlaneView(
        SensorLattice(pixels, MONO), 0, black, histogram_of(pixels), None, None, 16383.0
    )
    tops = pixels.reshape(len(pixels) // 24, 24, -1).max(axis=(1, 2))[:, None]
    tops = np.repeat(tops, -(-pixels.shape[1] // 24), axis=1)
    return PlaneTop(
        view=view, noise=NoiseModel(NoiseEstimate(2.0, 0.3)),
        pile_up=PileUp(LEVEL_DN, from_dn, 1.0, share), tops_dn=tops, tile_px=24,
    )  # fmt: skip


def apart(pixels: NDArray[np.uint16], from_dn: int = FROM_DN, share: float = 0.01) -> bool:
    """Whether a plane clips elsewhere than at its level."""
    return clips_apart([top_of_plane(pixels, from_dn, share)])


def lines(counts: list[int], share: float = 0.01, *, under_dn: int = 0) -> bool:
    """As many pixels clip in each row of bright light, again and again, in turn.

    Others clip as loosely as light does that much under the level, if at all.
    """
    pixels = light()
    if under_dn:
        pixels[:, :40] += np.uint16(LEVEL_DN - under_dn - 15000)
    for row, count in enumerate(np.resize(counts, ROWS)):
        pixels[row, :count] = LEVEL_DN
    return apart(pixels, share=share)


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ([25, 0], True), ([15, 0], False),
        ([30, 10], True), ([30, 15], False),
        ([30, 30, 0], True), ([30] * 11 + [0, 30], True), ([30] * 16 + [0], False),
        ([30, 30, 0, 0], True),
        ([0, 30, 0, 30, 0, 30, 0] + [0] * 281, True), ([0, 30, 0, 30, 0] + [0] * 283, False),
        ([30], False), ([0, 0, 10, 20, 30, 40, 40, 30, 20, 10, 0], False),
    ],
)  # fmt: skip
def test_lines_that_clip_by_turns(counts: list[int], told: bool) -> None:
    assert lines(counts, under_dn=250) == told


@pytest.mark.parametrize(
    ("under_dn", "every", "told"),
    [(1000, 34, True), (1000, 50, False), (250, 34, False), (400, 34, True)],
)
def test_fewer_lines_tell_that_stay_far_from_the_level(
    under_dn: int, every: int, told: bool
) -> None:
    """What else is bright ends 2 % under it: by 300 DN of 15,500, less three times its noise."""
    assert lines([30] * (every - 1) + [0], under_dn=under_dn) == told


def test_less_than_the_share_is_not_looked_for() -> None:
    assert lines([30, 0], share=1.2e-3)
    assert not lines([30, 0], share=0.8e-3)


def clipped(rows_dn: NDArray[np.float64]) -> NDArray[np.uint16]:
    """Five runs of each row clip at a level of the row's own, within 2 DN."""
    pixels, rng = light(), np.random.default_rng(2)
    pixels[:, :80] = (rows_dn[:, None] + rng.integers(-2, 3, (ROWS, 80))).astype(np.uint16)
    return pixels


@pytest.mark.parametrize(("rows", "told"), [(12, True), (8, False), (3, False)])
def test_runs_steadier_than_light_lie_under_the_level(rows: int, told: bool) -> None:
    """Of five runs in each row that clip, two do so 200 DN lower in some of the rows."""
    pixels = clipped(np.full(ROWS, float(LEVEL_DN)))
    pixels[: 24 * rows : 24, :32] -= 200
    assert apart(pixels) == told
    pixels[: 24 * rows : 24, :32] = light()[: 24 * rows : 24, :32]
    assert not apart(pixels)


@pytest.mark.parametrize(
    ("lower_dn", "spread_dn", "share", "told"),
    [
        (20, 0, 0.5, True), (12, 0, 0.5, False),
        (100, 17, 0.5, True), (100, 24, 0.5, False), (0, 40, 0.5, False),
        (100, 0, 0.12, True), (100, 0, 0.08, False),
    ],
)  # fmt: skip
def test_runs_at_two_levels_above_the_edge(
    lower_dn: int, spread_dn: int, share: float, told: bool
) -> None:
    """Rows clip at one of two levels, by chance, and each a little off it."""
    rng = np.random.default_rng(4)
    rows = LEVEL_DN - spread_dn * rng.uniform(-1.73, 1.73, ROWS)
    rows -= lower_dn * (rng.permutation(ROWS) < share * ROWS)
    assert apart(clipped(rows), from_dn=LEVEL_DN - 200) == told


@pytest.mark.parametrize(
    ("columns", "length", "besides", "told"),
    [
        (6, 0.97, 0, True), (6, 0.8, 0, False),
        (7, 0.97, 0, True), (10, 0.97, 0, False),
        (6, 0.97, 30, True), (6, 0.97, 50, False),
    ],
)  # fmt: skip
def test_columns_that_are_bright_all_over(
    columns: int, length: float, besides: int, told: bool
) -> None:
    """Of 160 columns some clip nearly over their length; so do as many rows of a window."""
    pixels, where = light(), slice(0, round(length * ROWS))
    pixels[where, 20 : 20 + 2 * columns : 2] = LEVEL_DN
    pixels[100 : 100 + besides, 100:140] = LEVEL_DN
    assert apart(pixels, share=9e-4) == told


def patches(
    rise: float = 0.01,
    *,
    columns: int = 80,
    tiles: int = 12,
    noise_dn: float = 2.0,
    steady: float = 1.0,
    slope: float = 0.0,
    step_dn: float = 0.0,
    middle: int = 0,
) -> bool:
    """Whether patches tell levels: 4 x 4 pixels, 40 side by side in each of 48 rows looked at.

    Some columns, in so many of 12 tiles, clip at a level that rises down the frame by a share;
    with noise (as much in a share of the rows of patches), a slope in each patch, and a step from
    each row of them to the next. A quarter of the plane holds middle tones, 480 patches, of which
    so many are as steady.
    """
    rng = np.random.default_rng(3)
    level = LEVEL_DN * (1.0 + rise * np.linspace(0.0, 1.0, ROWS))[:, None]
    level = level + slope * LEVEL_DN / 3.0 * (np.arange(columns) % 4)
    row = np.arange(72)  # of patches, six in each tile, of which four are looked at
    level = level + step_dn / 2.0 * np.repeat(np.resize([1.0, -1.0], 72), 4)[:, None]
    loose = np.repeat((row // 6 * 4 + row % 6) * 5 % 12 >= 12 * steady, 4)[:, None]
    values = level + np.where(loose, 60.0, noise_dn) * rng.standard_normal((ROWS, columns))
    pixels = light()
    pixels[: 24 * tiles, :columns] = values[: 24 * tiles]
    calm = np.zeros((72, 4, 10, 4), np.bool_)
    calm[row[row % 6 < 4][:middle], :, 0] = True
    pixels[:, 120:] = 8000.0 + np.where(calm.reshape(ROWS, 40), 1.0, 30.0) * rng.standard_normal(
        (ROWS, 40)
    )
    return _patches_apart(top_of_plane(pixels, FROM_DN, 0.01), np.inf)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"rise": 0.002}, True), ({"rise": 0.0014}, False),
        ({"columns": 4}, True), ({"columns": 4, "tiles": 9}, False),
        ({"noise_dn": 8.0}, True), ({"noise_dn": 14.0}, False),
        ({"steady": 0.55}, True), ({"steady": 0.38}, False),
        ({"slope": 0.024}, True), ({"slope": 0.036}, False),
        ({"rise": 0.004, "step_dn": 5.4}, True), ({"rise": 0.004, "step_dn": 9.0}, False),
    ],
)  # fmt: skip
def test_patches_that_clip_at_levels_of_their_own(changes: dict[str, Any], told: bool) -> None:
    assert patches(**changes) == told


@pytest.mark.parametrize(("middle", "told"), [(8, True), (12, False)])
def test_patches_tell_nothing_where_middle_tones_are_as_steady(middle: int, told: bool) -> None:
    assert patches(middle=middle) == told


def test_the_finding_says_what_clips_lower_and_headroom_is_none_where_something_is_blown() -> None:
    mosaic = remade(sky(), clipping_lower(300.0, "rows"))
    file = card_file("ONE.DNG")
    kept = {file.id: FrameMeasurement(FileFacts(), measured(mosaic), None, Pictures(b""))}
    (frame,) = conclude([file], {}, MemoryMeasurementSource(kept), Settings()).frames
    assert frame.clipping == Clipping.MAY_BE_CLIPPED
    assert {channel.headroom_stops for channel in frame.channels} == {0.0}
    (told,) = [told for told in frame.findings if told.code is FindingCode.MAY_BE_CLIPPED]
    assert "clip elsewhere than the rest" in told.text
