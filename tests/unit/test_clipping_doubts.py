"""More or less may be blown than is counted: told by the top's shape, by colours, by the layout."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter

from auditor.clipping.doubts import just_under
from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.model.clip_evidence import ClipEvidence, JustUnder, PlaneEvidence
from auditor.model.codes import LevelSource
from auditor.model.facts import FileFacts
from auditor.model.measurement import FrameMeasurement, Level, Pictures, PileUp, PlaneMeasurement
from auditor.model.mosaic import Mosaic
from auditor.model.remark import RemarkCode
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_effects import remade
from tests.built_mosaics import (
    BLACK_DN,
    RGGB,
    SATURATION_E,
    clouds,
    coast,
    glow,
    histogram_of,
    measured,
    mosaic_of,
    wedge,
)

RANGE_DN = 15872.0 - BLACK_DN
LAYOUTS = ["RGGB", "XTRANS", "LINEAR"]
Light = NDArray[np.float64]
Lit = Callable[[Light, np.random.Generator], tuple[Light, NDArray[np.bool_]]]
"""Takes values that nothing has cut; returns what is recorded, and what was cut."""


def unclipped(layout: str, light: NDArray[np.float32], seed: int = 1) -> Exposure:
    """An exposure of a sensor that would hold four times as much as the file lets expect."""
    camera = SimulatedCamera(
        layout=layout, width=900, height=600, saturation_dn=60000.0, bit_depth=16,
        saturation_spread_dn=0.0, white_tag_dn=16383,
    )  # fmt: skip
    return camera.expose(light * np.float32(SATURATION_E * 64.0), 1.0, 8.0, 100.0, rng=seed)


def clipped(taken: Exposure, effect: Lit) -> tuple[Mosaic, list[float]]:
    """The mosaic after an effect, and the share of each plane that was cut."""
    found: list[NDArray[np.bool_]] = []
    top, left = taken.sensor.margin_top, taken.sensor.margin_left

    def whole(values: Light, rng: np.random.Generator) -> Light:
        values[top:, left:], cut = effect(values[top:, left:], rng)
        found.append(cut)
        return values

    mosaic, (cut,) = replace(remade(taken, whole), bit_depth=14), found
    if cut.ndim == 3:
        return mosaic, cut.mean(axis=(0, 1)).tolist()
    rows, cols = mosaic.pattern.shape
    tiled = np.tile(mosaic.pattern, (-(-cut.shape[0] // rows), -(-cut.shape[1] // cols)))
    tiled = tiled[: cut.shape[0], : cut.shape[1]]
    return mosaic, [float(cut[tiled == plane].mean()) for plane in range(len(mosaic.white_dn))]


def settled(mosaic: Mosaic) -> tuple[list[float], tuple[Level, ...]]:
    """The blown share of each plane of one frame alone, and the levels."""
    found = FrameMeasurement(FileFacts(), measured(mosaic), None, Pictures(b""))
    (levels,) = settle_levels({"one": clip_evidence(found)}).values()
    shares = [
        plane.histogram.at_or_above(level.blown_from_dn) / plane.pixels
        for plane, level in zip(found.mosaic.planes, levels, strict=True)
    ]
    return shares, levels


def hard(spread_dn: float) -> Lit:
    """Pixels clip within so much of each other."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        limit = 15872.0 + spread_dn * rng.standard_normal(values.shape)
        return np.minimum(values, limit), values >= limit

    return effect


def knee(start: float) -> Lit:
    """The response creeps up to its end from a share of the range on, and is cut just under it."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        signal, full = (values - BLACK_DN) / RANGE_DN, 0.998
        over = np.maximum(signal - start, 0.0)
        bent = np.where(
            signal > start, start + (1.0 - start) * -np.expm1(-over / (1.0 - start)), signal
        )
        limit = full + 2.0 / RANGE_DN * rng.standard_normal(values.shape)
        return BLACK_DN + RANGE_DN * np.minimum(bent, limit), bent >= limit

    return effect


def scaled_down(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
    """White balance in the data: red fills the range, blue three quarters of it, green a half."""
    cut_dn, cut = hard(2.0)(values, rng)
    share = np.array([1.0, 0.5, 0.75])
    if values.ndim == 2:
        share = np.tile([[1.0, 0.5], [0.5, 0.75]], (values.shape[0] // 2, values.shape[1] // 2))
    return BLACK_DN + (cut_dn - BLACK_DN) * share, cut


def true_or_doubted(mosaic: Mosaic, truth: list[float]) -> bool:
    """Whether shares lie within 0.1 point and levels are sure; all that are not are doubted."""
    shares, levels = settled(mosaic)
    for share, level, true in zip(shares, levels, truth, strict=True):
        assert level.may_clip or share == pytest.approx(true, abs=1e-3)
    return not any(level.may_clip for level in levels)


def smoothed(width_px: float) -> Lit:
    """Pixels smoothed over those of their own colour after they clipped."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        cut_dn, cut = hard(2.0)(values, rng)
        for own in _of_one_colour(cut_dn):
            own[:] = gaussian_filter(own, width_px)
        return cut_dn, cut

    return effect


def _of_one_colour(values: Light) -> list[Light]:
    """The pixels of each colour of three-sample data, or of a two-by-two mosaic."""
    if values.ndim == 3:
        return list(np.moveaxis(values, 2, 0))
    return [values[y::2, x::2] for y in range(2) for x in range(2)]


def averaged(count: int) -> Lit:
    """So many exposures of one light, each clipped: what half of them clip is."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        noise_dn = np.sqrt(0.3 * np.maximum(values - BLACK_DN, 0.0))
        more = (values + noise_dn * rng.standard_normal(values.shape) for _ in range(count - 1))
        each = [hard(2.0)(own, rng) for own in (values, *more)]
        return (
            np.mean([cut_dn for cut_dn, _ in each], axis=0),
            np.mean([cut for _, cut in each], axis=0) >= 0.5,
        )

    return effect


CROWDING: list[tuple[Lit, Callable[[int, int], NDArray[np.float32]]]] = [
    (knee(0.95), clouds), (knee(0.9), clouds), (knee(0.95), wedge),
    (smoothed(0.4), clouds), (smoothed(0.6), clouds), (smoothed(1.0), wedge),
    (smoothed(0.6), coast), (averaged(4), wedge), (averaged(16), wedge),
]  # fmt: skip


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize(("effect", "scene"), CROWDING)
def test_what_gathers_under_the_level_is_doubted(
    effect: Lit, scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """A response that creeps up to its end; pixels smoothed or averaged after they clipped."""
    mosaic, truth = clipped(unclipped(layout, scene(600, 900), 21), effect)
    assert max(truth) > 5e-3
    assert not true_or_doubted(mosaic, truth)


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize("scene", [wedge, glow])
def test_two_exposures_that_were_averaged_are_doubted(
    scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """What one of them clips lies a little under the level: 0.1 to 0.3 point is not counted."""
    mosaic, truth = clipped(unclipped(layout, scene(600, 900), 7), averaged(2))
    assert max(truth) > 5e-3
    assert not true_or_doubted(mosaic, truth)


def dimmer_clouds(height: int, width: int) -> NDArray[np.float32]:
    return clouds(height, width) * np.float32(0.7)


def half_lower(share: float) -> Lit:
    """The right half clips that much lower."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        right = np.arange(values.shape[1]) >= values.shape[1] / 2
        lower = share * (right if values.ndim == 2 else right[:, None])
        limit = BLACK_DN + RANGE_DN * (1.0 - lower) + 2.0 * rng.standard_normal(values.shape)
        return np.minimum(values, limit), values >= limit

    return effect


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize("scene", [dimmer_clouds, coast])
def test_a_half_that_clips_far_lower_is_doubted_in_all_colours(
    scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """Where only the edge of a glow reaches it, or the file is taken for smoothed."""
    mosaic, truth = clipped(unclipped(layout, scene(600, 900), 7), half_lower(0.12))
    assert max(truth) > 5e-3
    _, levels = settled(mosaic)
    assert all(level.may_clip for level in levels)


def sun(share: float) -> NDArray[np.float32]:
    """A disc of so much of the frame, far too bright, in an even sky."""
    y, x = np.mgrid[:600, :900]
    disc = (x - 450) ** 2 + (y - 240) ** 2 < share * 600 * 900 / np.pi
    light = np.where(disc, 20.0, 0.3 + 0.3 * y / 600)
    colours: NDArray[np.float32] = (light[..., None] * np.array([0.8, 1.0, 0.7])).astype(np.float32)
    return colours


def filled_in(beyond: float) -> Lit:
    """What clips is replaced by its surroundings' mean over all colours, with light's own noise."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        cut_dn, cut = hard(2.0)(values, rng)
        grey = (cut_dn if cut_dn.ndim == 2 else cut_dn.mean(axis=2)) - BLACK_DN
        light = gaussian_filter(grey, 3.0)
        more = gaussian_filter(cut.astype(np.float64), 8.0, axes=(0, 1))
        guess = (light if cut.ndim == 2 else light[..., None]) * (1.0 + beyond * more)
        noise_dn = np.sqrt(0.3 * guess) * rng.standard_normal(values.shape)
        return np.where(cut, BLACK_DN + guess + noise_dn, cut_dn), cut

    return effect


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize(
    ("beyond", "scene"), [(0.0, clouds), (0.0, wedge), (0.3, clouds), (0.3, sun)]
)
def test_places_that_the_camera_filled_in_are_doubted(
    beyond: float, scene: Callable[..., NDArray[np.float32]], layout: str
) -> None:
    light = sun(3e-3) if scene is sun else scene(600, 900)
    mosaic, truth = clipped(unclipped(layout, light, 7), filled_in(beyond))
    assert max(truth) > 2e-3
    assert not true_or_doubted(mosaic, truth)


def from_the_rim(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
    """What clips in a colour is replaced by what that colour shows about it, with light's noise."""
    cut_dn, cut = hard(2.0)(values, rng)
    over = _of_one_colour(cut.astype(np.float64))
    for own, blown in zip(_of_one_colour(cut_dn), over, strict=True):
        lost = blown > 0.0
        rim = distance_transform_edt(lost, return_distances=False, return_indices=True)
        signal = own - BLACK_DN
        guess = gaussian_filter(signal, 2.0)[tuple(rim)]
        for width_px in (32.0, 8.0, 4.0, 2.0, 1.0, 1.0):
            guess = gaussian_filter(np.where(lost, guess, signal), width_px)
        noise_dn = np.sqrt(0.3 * np.maximum(guess, 0.0)) * rng.standard_normal(own.shape)
        own[:] = BLACK_DN + np.where(lost, guess + noise_dn, signal)
    return cut_dn, cut


@pytest.mark.parametrize(
    ("layout", "scene"),
    [(layout, scene) for layout in ("RGGB", "LINEAR") for scene in (clouds, dimmer_clouds)]
    + [("RGGB", coast), ("RGGB", glow)],
)
def test_places_that_were_filled_in_from_their_rim_are_doubted(
    scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """Under a hundredth at the top, or more: light of several colours is cut, none piles up."""
    mosaic, truth = clipped(unclipped(layout, scene(600, 900), 7), from_the_rim)
    assert max(truth) > 1e-2
    assert not true_or_doubted(mosaic, truth)
    _, levels = settled(mosaic)
    assert any(told.code is RemarkCode.FILLED_IN for lv in levels for told in lv.remarks)


def ringing(by_dn: float) -> Lit:
    """A codec rings about what is blown, so far."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        cut_dn, cut = hard(2.0)(values, rng)
        over = _of_one_colour(cut.astype(np.float64))
        for own, blown in zip(_of_one_colour(cut_dn), over, strict=True):
            own[:] += by_dn * (gaussian_filter(blown, 0.7) - gaussian_filter(blown, 2.0))
        return cut_dn, cut

    return effect


def window(height: int, width: int) -> NDArray[np.float32]:
    """A window in a wall: nothing leads up to its light."""
    light = np.full((height, width, 1), 0.35)
    light[height // 5 : height // 2, width // 3 : width * 3 // 5] = 1.6
    colours: NDArray[np.float32] = (light * np.array([0.9, 1.0, 0.8])).astype(np.float32)
    return colours


def bent(start: float, share: float) -> Lit:
    """From a share of the range on light counts for a share."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        signal = (values - BLACK_DN) / RANGE_DN
        less = np.where(signal > start, start + (signal - start) * share, signal)
        limit = 1.0 + 2.0 / RANGE_DN * rng.standard_normal(values.shape)
        return BLACK_DN + RANGE_DN * np.minimum(less, limit), less >= limit

    return effect


def wall(light: float, colours: tuple[float, float, float], uneven: float) -> NDArray[np.float32]:
    """A wall in the middle, so bright and so uneven from left to right, over darker ground."""
    y, x = np.mgrid[0:1:600j, 0:1:900j]
    ground = 0.25 + 0.25 * y + 0.05 * np.sin(25.0 * x) * np.sin(17.0 * y)
    bright = light * (1.0 + uneven * (x - 0.45) / 0.3)
    inside = (y > 0.2) & (y < 0.5) & (x > 0.3) & (x < 0.6)
    both = np.where(
        inside[..., None],
        bright[..., None] * np.array(colours),
        ground[..., None] * np.array([0.8, 1.0, 0.7]),
    )
    shares: NDArray[np.float32] = both.astype(np.float32)
    return shares


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize("start", [0.97, 0.99])
@pytest.mark.parametrize("uneven", [0.0, 0.05])
@pytest.mark.parametrize("colours", [(1.0, 1.0, 1.0), (0.97, 1.0, 0.95), (0.8, 1.0, 0.7)])
def test_a_wall_in_a_sharp_bend_is_doubted(
    colours: tuple[float, float, float], uneven: float, start: float, layout: str
) -> None:
    """Calm and alike in all colours, or in green alone: as if it were clipped."""
    mosaic, truth = clipped(unclipped(layout, wall(1.1, colours, uneven), 7), bent(start, 0.05))
    assert max(truth) < 1e-3
    assert not true_or_doubted(mosaic, truth)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_wall_that_clips_sharply_is_not_doubted(layout: str) -> None:
    light = wall(1.3, (0.9, 1.0, 0.85), 0.05)
    mosaic, truth = clipped(unclipped(layout, light, 7), hard(2.0))
    assert min(truth) > 0.08
    assert true_or_doubted(mosaic, truth)


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
@pytest.mark.parametrize(
    ("effect", "scene"), [(ringing(1500.0), wedge), (ringing(1500.0), clouds), (knee(0.8), window)]
)
def test_what_was_changed_after_it_clipped_or_never_did_is_doubted(
    effect: Lit, scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """Many lie above the level; or colours pile up apart and nothing leads up to them."""
    assert not true_or_doubted(*clipped(unclipped(layout, scene(600, 900), 7), effect))


def in_codes(step_dn: int) -> Lit:
    """Codes so many DN apart, each holding what lies over it; the level lies between two."""

    def effect(values: Light, rng: np.random.Generator) -> tuple[Light, NDArray[np.bool_]]:
        cut_dn, cut = hard(2.0)(values, rng)
        return np.floor(cut_dn / step_dn) * step_dn, cut

    return effect


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize(
    ("step_dn", "scene"), [(16, wedge), (32, wedge), (64, wedge), (64, clouds)]
)
def test_what_one_code_leaves_unsure_is_said(
    step_dn: int, scene: Callable[[int, int], NDArray[np.float32]], layout: str
) -> None:
    """What lies in the code of the level is clipped or is not: as much as in the next below it."""
    mosaic, truth = clipped(unclipped(layout, scene(600, 900), 7), in_codes(step_dn))
    shares, levels = settled(mosaic)
    for share, level, true in zip(shares, levels, truth, strict=True):
        unsure = sum(told.number("share") for told in level.remarks)
        assert level.may_clip or share == pytest.approx(true, abs=1.2e-3 + unsure)


def test_it_is_said_that_values_crowd_under_the_level() -> None:
    mosaic, _ = clipped(unclipped("XTRANS", clouds(600, 900), 23), knee(0.95))
    _, levels = settled(mosaic)
    assert all(RemarkCode.CROWDED_TOP in {told.code for told in lv.remarks} for lv in levels)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("scene", [clouds, coast, wedge])
def test_a_response_without_a_bend_crowds_nowhere(
    layout: str, scene: Callable[[int, int], NDArray[np.float32]]
) -> None:
    mosaic, truth = clipped(unclipped(layout, scene(600, 900)), hard(2.0))
    _, levels = settled(mosaic)
    assert max(truth) > 5e-3
    assert not any(level.may_clip for level in levels if level.source is LevelSource.MEASURED)
    assert [level.source for level in levels].count(LevelSource.MEASURED) >= 2


@pytest.mark.parametrize("layout", ["RGGB", "LINEAR"])
def test_channels_that_were_multiplied_apart_lend_no_level(layout: str) -> None:
    mosaic, truth = clipped(unclipped(layout, clouds(600, 900)), scaled_down)
    assert min(truth) > 5e-3
    assert not true_or_doubted(mosaic, truth)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("spread_dn", [2.0, 61.0])
@pytest.mark.parametrize("share", [5e-4, 3e-3])
def test_the_sun_s_disc_is_counted_or_doubted(layout: str, spread_dn: float, share: float) -> None:
    """Loosely clipped it is fewer than a hundredth, and alike in all colours."""
    mosaic, truth = clipped(unclipped(layout, sun(share)), hard(spread_dn))
    assert true_or_doubted(mosaic, truth) == (spread_dn < 10.0 or share < 1e-3)


@pytest.mark.parametrize("layout", [*LAYOUTS, "MONO"])
def test_overshoot_on_top_of_a_frame_that_is_blown_all_over_is_not_its_level(layout: str) -> None:
    """One pixel in 700 clips sharply three spreads above the others, in every colour alike."""
    camera = SimulatedCamera(layout=layout, width=900, height=600, saturation_spread_dn=61.0)
    light = np.full((600, 900, 3), 1.3 * SATURATION_E * 64.0) * np.array([0.9, 1.0, 0.9])
    taken = camera.expose(light, 1.0, 8.0, 100.0, rng=3)
    assert all(plane.pile_up is None for plane in measured(taken.mosaic).planes)
    truth = [plane.blown_pixels / plane.pixels for plane in taken.truth.planes]
    assert not true_or_doubted(taken.mosaic, truth)


# On either side of the numbers


def top(
    times: float = 2.4,
    pixels: int = 300,
    *,
    reach: float = 0.01,
    colours: int = 2,
    walls: int = 0,
    spread_dn: float = 1.0,
    codes_dn: int = 1,
    farther: float = 0.11,
) -> bool:
    """Whether a plane is doubted that is so many times as dense just under its level.

    Of 100,000 pixels so many crowd within a share of the signal under a level of 15,360 over
    black; as many lie as densely, over so many times, down to a share of it.
    """
    even = pixels / (times - 1.0) / reach
    down = np.concatenate(
        [
            (np.arange(pixels) + 0.5) / pixels * reach,
            (np.arange(round(even * farther)) + 0.5) / even,
        ]
    )
    dense = np.rint((15871.0 - 15360.0 * down) / codes_dn) * codes_dn
    planes: list[PlaneMeasurement] = []
    for name in ("R", "G1", "B"):
        own = dense if len(planes) < colours else dense[pixels:]
        values = np.concatenate([own, np.full(2000, 15872.0)])
        values = np.concatenate([values, np.full(100_000 - len(values), 4000.0)])
        plane = measured(mosaic_of(np.full((8, 8), 600))).planes[0]
        heap = PileUp(15872.0, 15872, spread_dn, 0.02) if len(planes) < 3 - walls else None
        planes.append(
            replace(
                plane, name=name, histogram=histogram_of(values), pixels=len(values), pile_up=heap,
                clips_apart=False,
            )
        )  # fmt: skip
    found = measured(mosaic_of(np.full((8, 8), 600), RGGB))
    mosaic = replace(found, planes=tuple(planes))
    evidence = clip_evidence(FrameMeasurement(FileFacts(), mosaic, None, Pictures(b"")))
    (levels,) = settle_levels({"one": evidence}).values()
    return any(told.code is RemarkCode.CROWDED_TOP for lv in levels for told in lv.remarks)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, True), ({"times": 1.3}, False), ({"times": 1.9}, True),
        ({"pixels": 33}, False), ({"pixels": 50}, True),
        ({"reach": 0.0008}, False), ({"reach": 0.0012}, True),
        ({"reach": 0.06, "farther": 0.2}, True), ({"reach": 0.07, "farther": 0.2}, False),
        ({"reach": 0.002, "spread_dn": 12.0}, True), ({"reach": 0.002, "spread_dn": 16.0}, False),
        ({"reach": 0.02, "codes_dn": 64}, True), ({"reach": 0.02, "codes_dn": 96}, False),
        ({"colours": 1}, False), ({"colours": 1, "walls": 2}, True),
    ],
)  # fmt: skip
def test_two_colours_half_as_dense_again_under_the_level_are_doubted(
    changes: dict[str, Any], told: bool
) -> None:
    """One colour alone is a wall as bright as that, unless no other clips."""
    assert top(**changes) == told


def claimed(*planes: PlaneEvidence, scaled: bool = False) -> list[bool]:
    """Which planes of a frame are doubted."""
    body = ("Brackwell", "Brackwell F45", "7")
    (levels,) = settle_levels({"a": ClipEvidence(body, 100.0, 14, planes, scaled=scaled)}).values()
    return [level.may_clip for level in levels]


def moded(name: str, level_dn: float, share: float, near_top: float = 2e-3) -> PlaneEvidence:
    """A plane without a pile-up whose topmost mode holds a share of it."""
    mode = PileUp(level_dn, int(level_dn) - 150, 60.0, share)
    return PlaneEvidence(name, 16383, None, int(level_dn) + 150, 512, near_top, mode=mode)


@pytest.mark.parametrize(("share", "told"), [(8e-4, False), (1.2e-3, True)])
def test_a_mode_of_a_thousandth_at_the_top_may_be_clipped(share: float, told: bool) -> None:
    assert claimed(moded("R", 14000.0, share)) == [told]


@pytest.mark.parametrize(("near_top", "told"), [(8e-4, False), (1.2e-3, True)])
def test_a_thousandth_at_the_top_of_another_colour_may_be_clipped(
    near_top: float, told: bool
) -> None:
    other = PlaneEvidence("B", 16383, None, 14160, 512, near_top)
    assert claimed(moded("R", 14000.0, 0.01), other) == [True, told]
    elsewhere = PlaneEvidence("B", 16383, None, 13700, 512, near_top)
    assert claimed(moded("R", 14000.0, 0.01), elsewhere) == [True, False]


def test_another_channel_of_linear_data_disproves_nothing() -> None:
    red, green = moded("R", 12000.0, 0.01), PlaneEvidence("G", 16383, None, 16000, 512)
    assert claimed(red, green) == [False, False]
    assert claimed(red, green, scaled=True) == [True, False]


@pytest.mark.parametrize(("spread_dn", "told"), [(15.0, True), (30.0, False)])
def test_what_is_steadier_than_light_was_cut_below_the_level_of_others(
    spread_dn: float, told: bool
) -> None:
    """A mode at 8,000 DN over black, where light scatters by at least 18."""
    mode = PileUp(8512.0, 8500, spread_dn, 0.01)
    green = PlaneEvidence("G1", 16383, None, 8550, 512, 0.0125, mode=mode)
    red = PlaneEvidence("R", 16383, PileUp(15800.0, 15794, 2.0, 0.01), 15804, 512)
    assert claimed(red, green) == [False, told]
    assert claimed(red, green, scaled=True) == [False, True]


def cut(
    *,
    end: float = 0.02,
    upper: float = 0.5,
    pixels: int = 300,
    apart: float = 0.0,
    codes_dn: int = 1,
) -> bool:
    """Whether two colours are doubted whose light ends 15,360 DN over black and, so far apart.

    So many of 100,000 pixels lie within a share of the signal under it, a share of these in its
    upper half.
    """
    above = round(upper * pixels)
    down = np.concatenate(
        [
            (np.arange(above) + 0.5) / above * end / 2.0,
            end / 2.0 * (1.0 + (np.arange(pixels - above) + 0.5) / (pixels - above)),
        ]
    )
    planes: list[PlaneMeasurement] = []
    for name, reach_dn in (("R", 15360.0), ("G1", 15360.0 * (1.0 - apart))):
        values = np.rint((512.0 + reach_dn * (1.0 - down)) / codes_dn) * codes_dn
        values = np.concatenate([values, np.full(100_000 - pixels, 4000.0)])
        plane = measured(mosaic_of(np.full((8, 8), 600))).planes[0]
        planes.append(
            replace(
                plane, name=name, histogram=histogram_of(values), pixels=100_000, pile_up=None,
                clips_apart=False,
            )
        )  # fmt: skip
    found = replace(measured(mosaic_of(np.full((8, 8), 600), RGGB)), planes=tuple(planes))
    evidence = clip_evidence(FrameMeasurement(FileFacts(), found, None, Pictures(b"")))
    (levels,) = settle_levels({"one": evidence}).values()
    return all(RemarkCode.FILLED_IN in {told.code for told in lv.remarks} for lv in levels)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, True), ({"upper": 0.4}, True), ({"upper": 0.32}, False),
        ({"upper": 0.6}, True), ({"upper": 0.72}, False),
        ({"pixels": 100}, True), ({"pixels": 60}, False),
        ({"apart": 0.0024}, True), ({"apart": 0.0036}, False),
        ({"codes_dn": 64}, True), ({"codes_dn": 96}, False),
        ({"end": 0.015}, False),
    ],
)  # fmt: skip
def test_light_of_two_colours_that_ends_without_fading_is_doubted(
    changes: dict[str, Any], told: bool
) -> None:
    assert cut(**changes) == told


def slightly(times: float, more: float, red: float) -> bool:
    """Whether two colours are doubted that are so many times as dense just under their levels.

    Of 100,000 pixels of green so many more lie there than expected, of red that share as many.
    """
    heap = PileUp(15872.0, 15866, 1.0, 0.02)
    expected = more / (times - 1.0)
    green, only_red = (
        PlaneEvidence(
            name, 16383, heap, 15876, 512.0, 0.02,
            just_under=JustUnder(
                pixels=round(expected + excess), expected=expected, total=100_000
            ),
        )
        for name, excess in (("G1", more), ("R", more * red))
    )  # fmt: skip
    frame = ClipEvidence(("Brackwell", "F45", "7"), 100.0, 14, (green, only_red))
    (levels,) = settle_levels({"a": frame}).values()
    return any(told.code is RemarkCode.CROWDED_TOP for lv in levels for told in lv.remarks)


@pytest.mark.parametrize(
    ("times", "more", "red", "told"),
    [
        (1.3, 60.0, 1.0, True), (1.3, 60.0, 0.1, False),
        (1.22, 200.0, 1.0, True), (1.16, 200.0, 1.0, False),
        (2.2, 17.0, 1.0, True), (2.2, 13.0, 1.0, False),
        (1.3, 35.0, 1.0, False),
    ],
)  # fmt: skip
def test_two_colours_a_little_denser_under_sharp_levels_are_doubted(
    times: float, more: float, red: float, told: bool
) -> None:
    """By a fifth and 3 standard errors; whichever colour is left out, so that it is no wall."""
    assert slightly(times, more, red) == told


@pytest.mark.parametrize(("spread_dn", "told"), [(4.0, True), (6.0, False)])
def test_what_lies_just_under_a_loose_pile_up_is_its_own(spread_dn: float, told: bool) -> None:
    plane = measured(mosaic_of(np.full((8, 8), 600))).planes[0]
    values = np.concatenate([np.arange(14000, 15866), np.full(2000, 15872)])
    heap = PileUp(15872.0, 15866, spread_dn, 0.5)
    plane = replace(plane, histogram=histogram_of(values), pixels=len(values), pile_up=heap)
    found = just_under(plane, 1.0)
    assert (found is not None) == told
    assert found is None or found.pixels == pytest.approx(found.expected, abs=1.5)
