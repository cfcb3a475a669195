"""Shifts told on patches, held against shifts made by Fourier's theorem.

Within a tenth of a pixel where texture is as fine as pixels, or not told: then tiles do.
"""

from __future__ import annotations

import zlib
from itertools import combinations

import numpy as np
import pytest

from auditor.group.patch_shift import PatchImage, PatchShift, patch_shift
from auditor.group.setups import least_moved_px
from auditor.model.measurement import Patches
from tests.built_patches import LAYOUTS, Scene

SHIFTS = [(0.0, 0.0), (0.1, 0.0), (0.0, -0.3), (0.3, 0.1), (1.0, -0.7), (-3.0, 2.2), (7.4, -10.0)]
NEAR = (1.5, -1.0)
"""What tiles are off by, pixels."""


def told(first: PatchImage, second: PatchImage, truth: tuple[float, float],
         reach_px: float = 12.0) -> PatchShift | None:  # fmt: skip
    return patch_shift(first, second, (truth[0] + NEAR[0], truth[1] + NEAR[1]), reach_px)


def off_px(found: PatchShift | None, truth: tuple[float, float]) -> float:
    assert found is not None
    return float(np.hypot(found.down_px - truth[0], found.right_px - truth[1]))


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("megapixels", [2.0, 12.0, 45.0])
def test_shifts_are_told_to_a_tenth_of_a_pixel(layout: str, megapixels: float) -> None:
    scene = Scene(layout=layout, megapixels=megapixels)
    first = scene.image(1)
    for seed, truth in enumerate(SHIFTS, 2):
        found = told(first, scene.image(seed, truth), truth)
        assert off_px(found, truth) <= 0.1, truth
        assert found is not None
        assert off_px(found, truth) <= 4.0 * found.error_px, truth


@pytest.mark.parametrize(("layout", "found"), [("two by two", True), ("monochrome", False)])
def test_forty_pixels_are_told_or_left_to_the_tiles(layout: str, found: bool) -> None:
    scene, truth = Scene(layout=layout, megapixels=45.0), (40.0, -28.0)
    placed = told(scene.image(1), scene.image(2, truth), truth)
    assert (placed is not None) == found
    assert placed is None or off_px(placed, truth) <= 0.1


CONDITIONS = {
    "gravel": (Scene(slope=0.0), {}),
    "faint": (Scene(contrast=0.04), {}),
    "behind a filter, two stops darker": (Scene(), {"signal_dn": 750.0}),
    "a bracket's frame, five stops darker": (Scene(), {"signal_dn": 94.0}),
    "the longer frame softened by wind": (Scene(), {"softer": 1.5}),
    "water over half of the picture": (Scene(moving=lambda place: place % 24 // 6 >= 2), {}),
    "a turn of a hundredth of a degree": (Scene(), {"turn_rad": np.radians(0.01)}),
    "a turn of four hundredths of a degree": (Scene(), {"turn_rad": np.radians(0.04)}),
}


@pytest.mark.parametrize("name", CONDITIONS)
def test_what_a_landscape_does_between_frames_leaves_the_shift(name: str) -> None:
    scene, changes = CONDITIONS[name]
    first = scene.image(1)
    for seed, truth in enumerate(SHIFTS, 2):
        found = told(first, scene.image(seed, truth, **changes), truth)
        assert off_px(found, truth) <= 0.1, truth


def test_frames_that_did_not_move_are_never_told_as_moved() -> None:
    """Of 210 pairs of one scene: bright, dark and softened frames, water over half."""
    scene = Scene(layout="two by two", moving=lambda place: place % 24 // 6 >= 2)
    images = [
        scene.image(seed, signal_dn=3000.0 * 0.5 ** (seed % 4), softer=0.5 * (seed % 3))
        for seed in range(21)
    ]
    pairs = list(combinations(images, 2))
    assert len(pairs) == 210
    for first, second in pairs:
        found = told(first, second, (0.0, 0.0))
        assert found is not None
        step = float(np.hypot(found.down_px, found.right_px))
        assert step < least_moved_px(found.error_px)
        assert step <= 4.0 * found.error_px


def test_what_all_moves_by_itself_tells_nothing() -> None:
    scene = Scene(moving=lambda place: True)
    assert told(scene.image(1), scene.image(2), (0.0, 0.0)) is None


def test_a_sensor_of_another_pitch_shares_nothing() -> None:
    scenes = Scene(), Scene(layout="monochrome")
    assert told(scenes[0].image(1), scenes[1].image(1), (0.0, 0.0)) is None


@pytest.mark.parametrize(("static", "found"), [((1, 9), False), ((0, 5, 20), True),
                                               ((1, 2, 3, 4), False)])  # fmt: skip
def test_three_places_tell_it_that_are_not_in_a_line(static: tuple[int, ...], found: bool) -> None:
    scene = Scene(layout="monochrome", slope=0.0, moving=lambda place: place not in static)
    placed = patch_shift(scene.image(1), scene.image(2), (0.0, 0.0), 1.0)
    assert (placed is not None) == found
    assert placed is None or placed.agreeing == 3


@pytest.mark.parametrize(("across", "found"), [(0.08, False), (0.12, True)])
def test_places_nearly_in_a_line_tell_nothing(across: float, found: bool) -> None:
    scene = Scene(layout="monochrome")
    images = scene.image(1), scene.image(2)
    wide = 0.655  # of the whole grid, four rows of six
    middle = scene.shape[0] / 2.0
    for image in images:
        image.places = tuple(
            (round(middle + (y - middle) * across / wide), x) for y, x in image.places
        )
    assert (told(*images, (0.0, 0.0)) is not None) == found


@pytest.mark.parametrize(("shared", "found"), [(0.65, False), (0.85, True)])
def test_patches_less_alike_place_nothing(shared: float, found: bool) -> None:
    scene = Scene(layout="monochrome", slope=0.0, shared=shared)
    placed = told(scene.image(1), scene.image(2), (0.0, 0.0))
    assert (placed is not None and placed.agreeing >= 20) == found
    assert placed is None or placed.agreeing >= 20


@pytest.mark.parametrize(("grain_px", "found"), [(3.0, True), (6.0, False)])
def test_patches_that_are_unsure_across_place_nothing(grain_px: float, found: bool) -> None:
    """Ripples, drawn out: the direction along them is told by little."""
    scene = Scene(layout="monochrome", slope=0.0, shared=0.9, grain=(0.7, grain_px), contrast=1.0)
    placed = told(scene.image(1), scene.image(2), (0.0, 0.0))
    assert (placed is not None and placed.agreeing >= 12) == found
    assert placed is None or placed.agreeing >= 12


@pytest.mark.parametrize(("apart", "found"), [(0.33, True), (0.52, False)])
def test_two_halves_agree_within_four_tenths_of_a_sample(apart: float, found: bool) -> None:
    scene = Scene(layout="monochrome")
    halves = scene.image(2, lambda place: (0.0, apart * (place % 2 - 0.5)))
    placed = told(scene.image(1), halves, (0.0, 0.0))
    assert (placed is not None) == found
    assert placed is None or placed.agreeing == 24


def test_no_shift_is_surer_than_three_hundredths_of_a_pixel() -> None:
    scene = Scene(layout="monochrome")
    placed = told(scene.image(1), scene.image(2), (0.0, 0.0))
    assert placed is not None
    assert placed.error_px == pytest.approx(0.031, abs=0.002)


def test_few_places_are_believed_less() -> None:
    all_still = Scene()
    four = Scene(moving=lambda place: place not in (1, 9, 16, 22))
    sure = told(all_still.image(1), all_still.image(2, (0.3, 0.2)), (0.3, 0.2))
    less = patch_shift(four.image(1), four.image(2, (0.3, 0.2)), (0.3, 0.2), 1.0)
    assert sure is not None
    assert less is not None
    assert less.agreeing in (3, 4)
    assert less.error_px > sure.error_px


FIXED: dict[str, dict[str, float]] = {
    "pixels that differ by 1 %": {"uneven": 0.01},
    "pixels that differ by 2 %": {"uneven": 0.02},
    "five pixels in a thousand are hot": {"uneven": 0.01, "hot": 0.005},
    "one pixel in a hundred is hot": {"uneven": 0.01, "hot": 0.01},
}


@pytest.mark.parametrize("name", FIXED)
@pytest.mark.parametrize("slope", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("contrast", [0.01, 0.03, 0.1, 0.3])
def test_what_is_fixed_to_the_sensor_holds_no_place_unsaid(
    name: str, slope: float, contrast: float
) -> None:
    scene = Scene(slope=slope, contrast=contrast, megapixels=4.0)
    none, changes = (0.0, 0.0), FIXED[name]
    first = scene.image(1, none, **changes)
    for seed, truth in enumerate([(0.3, 0.4), (0.6, 0.8), (1.8, 2.4), (6.0, 8.0)], 2):
        found = patch_shift(first, scene.image(seed, truth, **changes), none, 20.0)
        assert found is None or off_px(found, truth) <= max(0.1, 4.0 * found.error_px), truth


def test_pixels_that_differ_by_a_percent_take_nothing_from_good_texture() -> None:
    scene = Scene(contrast=0.1)
    first = scene.image(1, uneven=0.01)
    for seed, truth in enumerate(SHIFTS, 2):
        found = told(first, scene.image(seed, truth, uneven=0.01), truth)
        assert off_px(found, truth) <= 0.1, truth


@pytest.mark.parametrize("under_stops", [0.0, 2.0])
@pytest.mark.parametrize(("cast_stops", "hot"), [(0.2, 0.001), (-0.4, 0.005)])
def test_a_long_frame_behind_a_filter_is_placed(
    cast_stops: float, hot: float, under_stops: float
) -> None:
    """Behind six and ten stops, exposed to match or less: green gets the cast, pixels turn hot."""
    scene = Scene(contrast=0.1, megapixels=4.0)
    changes = {"signal_dn": 3000.0 * 2.0 ** (cast_stops - under_stops), "uneven": 0.01,
               "hot": hot, "softer": 0.5}  # fmt: skip
    first = scene.image(1, uneven=0.01)
    for seed, truth in enumerate(SHIFTS, 2):
        found = told(first, scene.image(seed, truth, **changes), truth)
        assert off_px(found, truth) <= 0.1, truth


def test_a_shift_is_doubted_by_what_coarser_detail_says() -> None:
    scene, truth = Scene(slope=2.0, contrast=0.03, megapixels=4.0), (1.8, 2.4)
    found = told(scene.image(1, uneven=0.02), scene.image(4, truth, uneven=0.02), truth)
    assert found is not None
    assert found.error_px == pytest.approx(0.69, rel=0.15)


@pytest.mark.parametrize(("above", "taken"), [(7, False), (9, True)])
def test_a_sample_far_above_its_neighbours_is_no_detail(above: int, taken: bool) -> None:
    """Columns that differ by 4 codes; one sample stands out of the brighter ones."""
    codes = np.full((1, 40, 40), 10, np.uint8)
    codes[:, :, ::2] += 4
    codes[0, 20, 20] += above
    steps = codes.copy()
    steps[:, 1:] -= codes[:, :-1]
    deflate = zlib.compressobj(1, zlib.DEFLATED, -zlib.MAX_WBITS)
    packed = deflate.compress((steps & 31).tobytes()) + deflate.flush()
    image = PatchImage(Patches(2, 40, ((0, 0),), packed), (40.0, 40.0))
    assert image.samples[0, 20, 20] == 14 + (0 if taken else above)
