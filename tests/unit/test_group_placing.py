"""The frames of a set-up placed by their patches, and by their tiles where patches cannot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.group.placing import on_sensor, place_by_patches, upright_step
from auditor.group.setups import SetupShots, setup_record
from auditor.group.shots import Shot
from auditor.group.tile_image import TileImage, TilePixels
from auditor.model.codes import ShiftSource
from auditor.model.facts import FileFacts
from auditor.model.measurement import Patches
from auditor.model.orientation import upright
from auditor.model.remark import RemarkCode
from tests.built_patches import Scene

TILE_PX = 20
TILES, PATCHES = ShiftSource.TILES, ShiftSource.PATCHES


def shot(name: str, patches: Patches | None, orientation: int, scene: Scene) -> Shot:
    nothing = np.zeros((2, 2), np.float16)
    height, width = scene.shape
    aside = orientation >= 5
    image = TileImage(
        colours=("L",),
        pixels=TilePixels((nothing,), nothing, nothing, nothing, patches),
        shape=(2, 2),
        floor_dn=(1.0,),
        floor_known=True,
        room_dn=(15000.0,),
        tile_px=TILE_PX,
        height_px=width if aside else height,
        width_px=height if aside else width,
        orientation=orientation,
    )
    return Shot(name, FileFacts(orientation=orientation), image, None, None)


def setup_of(
    shifts_px: list[tuple[float, float]],
    *,
    orientation: int = 1,
    scene: Scene | None = None,
    without: tuple[int, ...] = (),
    off_px: float = 1.0,
) -> SetupShots:
    """A set-up of frames shifted (right, down) upright, which the tiles tell a little wrongly."""
    scene, setup = scene or Scene(), SetupShots()
    for index, step in enumerate(shifts_px):
        right, down = on_sensor(step, orientation)
        patches = None if index in without else scene.patches(index, (down, right))
        wrong = off_px if index else 0.0
        rough = (step[0] + wrong) / TILE_PX, (step[1] - wrong) / TILE_PX
        setup.add(shot(f"F{index}", patches, orientation, scene), rough,
                  error=0.1 if index else 0.0)  # fmt: skip
    return setup


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_step_is_turned_upright_as_the_picture_is(orientation: int) -> None:
    picture = np.zeros((7, 9))
    picture[3, 4], picture[1, 7] = 1, 2  # from the first to the second 3 right and 2 up
    turned = upright(picture, orientation)
    (before,), (after,) = np.argwhere(turned == 1), np.argwhere(turned == 2)
    step = upright_step((3.0, -2.0), orientation)
    assert step == (after[1] - before[1], after[0] - before[0])
    assert on_sensor(step, orientation) == (3.0, -2.0)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_each_frame_is_told_to_a_tenth_of_a_pixel(orientation: int) -> None:
    setup = setup_of([(0.0, 0.0), (2.3, 0.0), (2.3, -1.4)], orientation=orientation)
    place_by_patches(setup)
    record = setup_record(setup, 1)
    assert record.shift_source == (None, PATCHES, PATCHES)
    for told, truth in zip(record.shift_px, [(0, 0), (2.3, 0), (2.3, -1.4)], strict=True):
        assert told == pytest.approx(truth, abs=0.1)
    assert record.shift_error_px[0] == 0.0
    assert all(error is not None and 0.03 <= error <= 0.1 for error in record.shift_error_px[1:])
    knocks = [one for one in record.remarks if one.code is RemarkCode.KNOCKED]
    assert [one.name("frame") for one in knocks] == ["F1", "F2"]
    assert [one.number("moved_px") for one in knocks] == pytest.approx([2.3, 1.4], abs=0.15)


def test_a_step_of_less_than_a_pixel_is_a_figure_and_no_knock() -> None:
    setup = setup_of([(0.0, 0.0), (0.7, 0.0)])
    place_by_patches(setup)
    record = setup_record(setup, 1)
    assert record.shift_px[1] == pytest.approx((0.7, 0.0), abs=0.1)
    assert record.remarks == ()


def test_where_patches_cannot_the_tiles_stand_with_their_own_error() -> None:
    moving = Scene(moving=lambda place: True)
    for setup in (setup_of([(0.0, 0.0), (2.0, 0.0)], scene=moving),
                  setup_of([(0.0, 0.0), (2.0, 0.0)], without=(0,)),
                  setup_of([(0.0, 0.0), (2.0, 0.0)], without=(1,))):  # fmt: skip
        place_by_patches(setup)
        record = setup_record(setup, 1)
        assert record.shift_source == (None, TILES)
        assert record.shift_px[1] == (3.0, -1.0)
        assert record.shift_error_px[1] == 2.0


def test_a_frame_unlike_the_first_is_placed_by_the_latest_one() -> None:
    """The third shares nothing with the first; what it shares with the second places it."""
    scene = Scene()
    setup = setup_of([(0.0, 0.0), (20.0, 0.0), (56.0, 0.0)], scene=scene)
    place_by_patches(setup)
    record = setup_record(setup, 1)
    assert record.shift_source == (None, PATCHES, PATCHES)
    assert record.shift_px[2] == pytest.approx((56.0, 0.0), abs=0.2)
    first, second = record.shift_error_px[1:]
    assert first is not None
    assert second is not None
    assert second > first


STEPS = [(0.0, 0.0), (3.0, 1.0), (3.4, 1.0), (5.7, -0.4)]


@pytest.mark.parametrize("blown", [True, False])
@pytest.mark.parametrize("orientation", [1, 6])
def test_where_the_first_frame_places_nothing_another_takes_its_place(
    blown: bool, orientation: int
) -> None:
    """The first is blown all over, or shows water; the others lie surely to each other."""
    setup = setup_of(STEPS, orientation=orientation, without=(0,) if blown else ())
    if not blown:
        image = setup.shots[0].image
        sea = Scene(moving=lambda place: True).patches(9)
        other = replace(image, pixels=replace(image.pixels.whole, patches=sea))
        setup.shots[0] = replace(setup.shots[0], image=other)
    setup.errors[2] = 0.06  # whose tiles are surest
    place_by_patches(setup)
    record = setup_record(setup, 1)
    assert record.shift_reference == "F1"
    assert record.shift_source == (TILES, None, PATCHES, PATCHES)
    assert record.shift_px[1] == (0.0, 0.0)
    assert record.shift_px[2] == pytest.approx((0.4, 0.0), abs=0.1)
    assert record.shift_px[3] == pytest.approx((2.7, -1.4), abs=0.1)
    # what the tiles say of the third against the first, one pixel wrong, taken off its own step
    assert record.shift_px[0] == pytest.approx((0.4 - 4.4, 0.0 - 0.0), abs=0.15)
    assert record.shift_error_px[:2] == (1.2, 0.0)
    knocks = [one.name("frame") for one in record.remarks if one.code is RemarkCode.KNOCKED]
    assert knocks == ["F3"]


def test_a_frame_that_tiles_alone_place_is_told_against_the_new_reference() -> None:
    setup = setup_of([*STEPS, (9.0, 4.0)], without=(0, 4))
    place_by_patches(setup)
    record = setup_record(setup, 1)
    assert record.shift_source == (TILES, None, PATCHES, PATCHES, TILES)
    first, last = record.shift_px[0], record.shift_px[4]
    assert first is not None
    assert last == pytest.approx((first[0] + 10.0, first[1] + 3.0))
    assert record.shift_error_px[4] == pytest.approx(np.hypot(2.0, 2.0), abs=0.05)


def test_of_two_views_that_place_as_many_frames_the_first_stays() -> None:
    setup = setup_of([(0.0, 0.0), (0.5, 0.0), (0.0, 0.0), (0.5, 0.0)])
    for index in (1, 3):
        image = setup.shots[index].image
        other = Scene(moving=lambda place: True).patches(9, (0.0, 0.2 * index))
        changed = replace(image, pixels=replace(image.pixels.whole, patches=other))
        setup.shots[index] = replace(setup.shots[index], image=changed)
    place_by_patches(setup)
    assert setup_record(setup, 1).shift_source == (None, TILES, PATCHES, TILES)


def test_damaged_patches_leave_the_tiles_figure() -> None:
    setup = setup_of([(0.0, 0.0), (2.0, 0.0)])
    image = setup.shots[1].image
    broken = replace(image.pixels.whole, patches=replace(Scene().patches(1), packed=b"\x00"))
    setup.shots[1] = replace(setup.shots[1], image=replace(image, pixels=broken))
    place_by_patches(setup)
    assert setup.by_patches == set()


def test_a_frame_alone_is_not_unpacked() -> None:
    class Untouched:
        @property
        def whole(self) -> TilePixels:
            raise AssertionError("nothing of it is needed")

    setup = setup_of([(0.0, 0.0)])
    alone = replace(setup.shots[0].image, pixels=Untouched())
    setup.shots[0] = replace(setup.shots[0], image=alone)
    place_by_patches(setup)
    assert setup.by_patches == set()
