"""How far a refined shift may go from where the pictures are most alike."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from auditor.group.fine_shift import FineShift, refined
from auditor.group.grouping import group_shoot
from auditor.group.likeness import Likeness
from auditor.group.setups import error_tiles, least_moved_px
from auditor.group.structure import Structure
from auditor.model.arrays import F32
from auditor.model.remark import RemarkCode
from auditor.model.settings import GroupSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import SIX, coast


def structure(values: F32) -> Structure:
    steps = np.zeros(values.shape[0] - 1, np.float32)
    return Structure(values, np.ones_like(values), steps)


def texture(seed: int, stops: float = 0.4) -> F32:
    rng = np.random.default_rng(seed)
    smooth = ndimage.gaussian_filter(rng.standard_normal((64, 96)).astype(np.float32), 2.5)
    return np.asarray(smooth * np.float32(stops / float(smooth.std())))


def shifted(values: F32, right: float) -> F32:
    return np.asarray(ndimage.shift(values, (0.0, right), order=3, mode="nearest"))


def test_a_shift_is_refined_by_parts_of_a_tile() -> None:
    before = texture(1)
    fine = refined(structure(before), structure(shifted(before, 0.4)), (0.0, 0.2), (0, 0))
    assert (fine.down, fine.right) == pytest.approx((0.0, 0.4), abs=0.03)
    assert fine.error_tiles == pytest.approx(0.03, abs=0.01)


def test_a_refinement_that_leaves_the_tile_of_the_peak_is_refused() -> None:
    before = texture(1)
    after = structure(shifted(before, 0.9))
    assert refined(structure(before), after, (0.0, 0.3), (0, 0)) == FineShift(0.0, 0.3)
    fine = refined(structure(before), after, (0.0, 0.7), (0, 1))
    assert (fine.down, fine.right) == pytest.approx((0.0, 0.9), abs=0.03)


def test_a_refinement_that_makes_the_pictures_less_alike_is_refused() -> None:
    """Many faint tiles draw the fit to the right; what is plain to see went to the left."""
    faint, strong = texture(1, 0.2), texture(2, 1.4)
    few = np.zeros(faint.shape, bool)
    few[:, 30:40] = True
    before = np.where(few, strong, faint)
    after = np.where(few, shifted(strong, -1.5), shifted(faint, 0.5))
    rough = (0.0, -0.3)
    assert refined(structure(before), structure(after), rough, (0, 0)) == FineShift(*rough)


SHIFTS = [(0.0, 0.0), (0.08, 0.0), (0.3, -0.2), (1.6, -0.7)]


@pytest.mark.parametrize("shift", SHIFTS, ids=str)
@pytest.mark.parametrize("seed", range(4))
def test_a_shift_is_told_with_its_error_and_only_beyond_it(
    seed: int, shift: tuple[float, float]
) -> None:
    """Behind a filter, over moving water and clouds: right within four errors; 24 tiles wide."""
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 8.0, nd=SIX, shift=shift)
    (setup,) = group_shoot(shoot.frames, GroupSettings()).setups
    (_, _, none), (frame, found, error_px) = setup.placed()
    tile_px = shoot.tile_px
    assert none == 0.0
    assert 0.03 * tile_px <= error_px <= 0.06 * tile_px
    assert found == pytest.approx([tile_px * part for part in shift], abs=4.0 * error_px)
    told = {one.code for one in setup.remarks if one.name("frame") == frame}
    assert (RemarkCode.KNOCKED in told) == (max(map(abs, shift)) > 0.2)


def test_a_step_is_told_beyond_four_errors_and_a_pixel() -> None:
    assert [least_moved_px(error) for error in (0.1, 1.0, 3.0)] == [1.0, 4.0, 12.0]


def test_a_shift_not_refined_is_less_sure_and_less_still_where_little_is_alike() -> None:
    found = [error_tiles(Likeness(correlation=c, error_tiles=e))
             for c, e in ((0.9, None), (0.5, None), (0.5, 0.04))]  # fmt: skip
    assert found == [0.125, 0.25, 0.04]


@pytest.mark.parametrize(("blocks", "fine"), [(7, True), (5, False)])
def test_a_few_blocks_refine_no_shift(blocks: int, fine: bool) -> None:
    before, known = texture(1), np.zeros((64, 96), np.float32)
    known[16:24, 8 : 8 + 8 * blocks] = 1.0
    first, second = (
        Structure(v * known, known, np.zeros(63, np.float32)) for v in (before, before)
    )
    assert (refined(first, second, (0.0, 0.0), (0, 0)).error_tiles is not None) == fine


@pytest.mark.parametrize(("noise", "fine"), [(0.6, True), (0.85, False)])
def test_blocks_little_alike_refine_no_shift(noise: float, fine: bool) -> None:
    y, x = np.mgrid[:64, :96] * (2.0 * np.pi / 8.0)
    before = (np.sin(y) + np.sin(x)).astype(np.float32) * np.float32(0.2)
    after = before + np.float32(0.2 * noise) * (np.cos(y) + np.cos(x)).astype(np.float32)
    after = np.where(np.arange(96) % 16 < 8, after, 2.0 * before - after)
    found = refined(structure(before), structure(after), (0.0, 0.0), (0, 0))
    assert (found.error_tiles is not None) == fine


@pytest.mark.parametrize(("step", "rounds"), [(0.02, 1), (0.03, 3)])
def test_a_step_of_less_than_half_its_error_is_the_last(
    monkeypatch: pytest.MonkeyPatch, step: float, rounds: int
) -> None:
    tried: list[float] = []

    def stepped(*_: object) -> tuple[float, float, float]:
        tried.append(step)
        return step, 0.0, 0.05

    monkeypatch.setattr("auditor.group.fine_shift._step", stepped)
    rng = np.random.default_rng(1)
    shown = Structure(
        rng.normal(0.0, 1.0, (48, 64)).astype(np.float32),
        np.ones((48, 64), np.float32),
        np.zeros(47, np.float32),
    )
    refined(shown, shown, (0.0, 0.0), (0, 0))
    assert len(tried) == rounds
