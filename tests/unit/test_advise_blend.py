"""Blend plans against scenes whose noise and losses are known tile by tile."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from auditor.advise.blend import clean_dn, smallest, with_blends
from auditor.group.grouping import group_shoot
from auditor.model.audit import Bracket
from auditor.model.measurement import NoiseEstimate
from auditor.model.settings import GroupSettings
from auditor.words.pairs import blend_text
from tests.shoot_maker import BLACK_DN, GAIN, READ_DN, SATURATION_DN, Shoot
from tests.shoot_scene import Scene

STEPS = (-4, -2, 0, 2)
TOP_DN = SATURATION_DN - BLACK_DN


def signal_at(ratio: float) -> float:
    """Signal with that ratio by the definition, found by halving: S = k sqrt(g S + r²)."""
    low, high = 0.0, TOP_DN
    for _ in range(80):
        middle = (low + high) / 2
        enough = middle >= ratio * math.sqrt(GAIN * middle + READ_DN**2)
        low, high = (low, middle) if enough else (middle, high)
    return high


def bands(
    levels_dn: list[float], ratio: float, *, known: bool = True, few: tuple[int, float] = (0, 1.0)
) -> Bracket:
    """A bracket of a scene in bands, ``levels_dn`` at the third exposure; ``few`` tiles of another.

    The scene has 6,144 tiles.
    """
    shoot = Shoot(4)
    names = [
        shoot.take(Scene.invent(4, sky_over_ground=1.0), i * 1.5, 2.0 ** (step - 3))
        for i, step in enumerate(STEPS)
    ]
    grouping = group_shoot(shoot.frames, GroupSettings())
    for name, step in zip(names, STEPS, strict=True):
        measured = shoot.kept[name]
        maps = measured.mosaic.maps
        rows, cols = maps.shape
        which = np.minimum(len(levels_dn) * np.arange(rows) // rows, len(levels_dn) - 1)
        mean = np.repeat(np.array(levels_dn)[which][:, None], cols, axis=1)
        mean.flat[mean.size - few[0] :] = few[1]
        mean *= 2.0**step
        blown, tiles = mean >= TOP_DN, np.minimum(mean, TOP_DN).astype(np.float32)
        maps = replace(
            maps,
            mean_dn=np.stack([tiles] * 4),
            max_dn=np.stack([np.minimum(tiles + BLACK_DN, SATURATION_DN)] * 4).astype(np.uint16),
            over_share=np.stack([blown.astype(np.float32)] * 4),
            any_over_share=blown.astype(np.float32),
            all_over_share=blown.astype(np.float32),
        )
        shoot.kept[name] = replace(measured, mosaic=replace(measured.mosaic, maps=maps))
    frames = shoot.frames
    if not known:
        unknown = NoiseEstimate(None, None, None)
        frames = [replace(frame, noise=(unknown,) * 4) for frame in frames]
    (bracket,) = with_blends(grouping, frames, ratio).brackets
    return replace(
        bracket,
        needed=tuple(f"{STEPS[names.index(n)]:+d}" for n in bracket.needed),
        blend=tuple(replace(b, frame=f"{STEPS[names.index(b.frame)]:+d}") for b in bracket.blend),
    )


@pytest.mark.parametrize("ratio", [1.0, 10.0, 40.0])
def test_the_clean_signal_is_that_of_the_definition(ratio: float) -> None:
    """10 and 40: acceptable and excellent, the noise speeds of ISO 12232."""
    shoot = Shoot(1)
    shoot.take(Scene.invent(1), 0.0)
    plane = shoot.frames[0].settled().planes[0]
    assert clean_dn(plane, ratio) == pytest.approx(signal_at(ratio), rel=1e-6)
    if ratio == 1.0:
        assert clean_dn(plane, 1.0) == pytest.approx(plane.floor_dn)


@pytest.mark.parametrize("ratio", [1.0, 10.0, 40.0])
@pytest.mark.parametrize("spare", [1.1, 0.9])
def test_the_frames_needed_follow_the_ratio(ratio: float, spare: float) -> None:
    """A sky that only the darkest frame holds, and ground just clean, or just not, at +0."""
    found = bands([8.0 * TOP_DN, signal_at(ratio) * spare], ratio)
    assert found.needed == (("-4", "+0") if spare > 1 else ("-4", "+2"))
    assert [one.job for one in found.blend] == ["highlights", "shadows"]
    assert [one.share for one in found.blend] == pytest.approx([0.5, 0.5], abs=0.01)
    assert found.noisy_fraction == 0.0


def test_one_frame_is_enough_where_it_holds_all_cleanly() -> None:
    found = bands([0.5 * TOP_DN, 2.0 * signal_at(10.0)], 10.0)
    assert found.needed == ("+0",)
    assert [one.job for one in found.blend] == ["all"]
    assert blend_text(found, 10.0).startswith("No blend is needed: +0 alone records as much")


def test_what_no_frame_holds_cleanly_is_told() -> None:
    found = bands([8.0 * TOP_DN, signal_at(10.0) / 8.0], 10.0)
    assert found.needed == ("-4", "+2")
    assert found.noisy_fraction == pytest.approx(0.5, abs=0.01)
    assert found.blend[1].noisy_fraction == pytest.approx(0.5, abs=0.01)
    assert "50" in blend_text(found, 10.0)
    assert "stays under a signal-to-noise ratio of 10" in blend_text(found, 10.0)


def test_three_bands_of_a_long_scene_take_three_frames() -> None:
    found = bands([12.0 * TOP_DN, 2.0 * TOP_DN / 3, signal_at(40.0) / 3.0], 40.0)
    assert found.blend[0].job == "highlights"
    assert found.needed[-1] == "+2"


@pytest.mark.parametrize(("tiles", "needed"), [(10, ("+0",)), (15, ("+0", "+2"))])
def test_a_little_that_stays_noisy_is_not_worth_a_frame(
    tiles: int, needed: tuple[str, ...]
) -> None:
    """10 tiles are 0.16 % of the scene, 15 are 0.24 %; what is bright fits +0 and not +2."""
    found = bands([0.5 * TOP_DN], 10.0, few=(tiles, signal_at(10.0) * 0.9))
    assert found.needed == needed


@pytest.mark.parametrize(("left_out", "needed"), [(8e-5, (1,)), (1.2e-4, (0, 1))])
def test_next_to_nothing_is_left_out_of_a_blend(left_out: float, needed: tuple[int, ...]) -> None:
    held = np.array([[[1.0, 1.0]], [[1.0, 0.0]]], dtype=np.float32)
    held[0, 0, 0] = 0.5
    assert smallest(held, None, np.array([[1.0 - left_out, left_out]])) == needed


def test_of_frames_that_record_as_much_the_one_with_most_light_is_needed() -> None:
    every = np.ones((3, 2, 2), dtype=np.float32)
    assert smallest(every, None, np.full((2, 2), 0.25)) == (2,)


def test_of_sets_as_good_the_one_whose_exposures_lie_nearest_is_needed() -> None:
    held = np.array([[[1.0, 0.0]], [[0.0, 1.0]], [[0.0, 1.0]]], dtype=np.float32)
    assert smallest(held, held, np.array([[0.5, 0.5]])) == (0, 1)


@pytest.mark.parametrize(("shift", "told"), [(6.0, False), (9.0, True)])
def test_a_shift_is_told_where_it_exceeds_its_error(shift: float, told: bool) -> None:
    """Tiles of 60 pixels: a refined shift is told from 0.12 of one on."""
    found = bands([8.0 * TOP_DN, signal_at(10.0) * 1.1], 10.0)
    first, second = found.blend
    assert second.shift_error_px == 1.8
    moved = replace(found, blend=(first, replace(second, shift_px=shift)))
    assert ("Align them" in blend_text(moved, 10.0)) is told


def test_without_noise_only_what_is_recorded_counts() -> None:
    found = bands([8.0 * TOP_DN, 2.0**-7 * TOP_DN], 10.0, known=False)
    assert found.needed == ("-4", "-2")
    assert found.blend == ()
    assert found.noisy_fraction is None
    assert blend_text(found, 10.0) == ""
