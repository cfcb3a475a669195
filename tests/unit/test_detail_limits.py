"""On either side of every number that detail and steadiness are judged by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.detail.steadiness import (
    Contrast,
    compare_steadiness,
    contrast_of,
    holds_still,
    moved_places,
    softer_than,
)
from auditor.detail.texture import sharpness
from auditor.model.arrays import F32
from auditor.model.codes import LevelSource
from auditor.model.measurement import Level
from tests.judge_maker import BLACK_DN, CLIP_DN, measured_mono, settled

SIDE = 20


def look(share: float = 0.1, tone: float = 3.0, structured: int = SIDE * SIDE) -> Contrast:
    """A frame of one contrast and tone, with structure in so many tiles, row after row."""
    shape = (SIDE, SIDE)
    return Contrast(
        np.full(shape, share, np.float32),
        (np.arange(SIDE * SIDE) < structured).reshape(shape),
        np.full(shape, tone, np.float32),
    )


def detail(sharp: int, of: int) -> F32:
    values = np.ones(of, np.float32)
    values[:sharp] = 3.0
    return values


@pytest.mark.parametrize(("sharp", "told"), [(7, False), (8, True), (10, True)])
def test_so_many_sharp_tiles_tell_sharpness(sharp: int, told: bool) -> None:
    values = detail(sharp, 100)
    assert (sharpness(values, np.ones(100, np.bool_)) is not None) == told


@pytest.mark.parametrize(("sharp", "told"), [(42, False), (58, True)])
def test_of_ten_thousand_tiles_a_two_hundredth_tell_it(sharp: int, told: bool) -> None:
    values = detail(sharp, 10_000)
    assert (sharpness(values, np.ones(10_000, np.bool_)) is not None) == told


@pytest.mark.parametrize(("tiles", "told"), [(30, False), (50, True)])
def test_so_many_tiles_with_structure_tell_two_frames_apart(tiles: int, told: bool) -> None:
    frame, sibling = look(0.1, structured=tiles), look(0.2, structured=tiles)
    assert (softer_than(frame, sibling) is not None) == told
    assert bool(compare_steadiness({"a": frame, "b": sibling})) == told
    if told:
        assert softer_than(frame, sibling) == pytest.approx(0.5)


@pytest.mark.parametrize(("off", "still"), [(0.04, True), (0.06, False)])
def test_what_keeps_its_tone_is_static(off: float, still: bool) -> None:
    tones = np.full((SIDE, SIDE), 4.0, np.float32)
    tones[5:15, 5:15] += off  # against the stop by which all else has changed
    other = replace(look(), tone_stops=tones)
    assert holds_still((look(), other))[10, 10] == still


@pytest.mark.parametrize(("agreeing", "still"), [(3, False), (4, True), (5, True)])
def test_most_of_the_other_frames_agree(agreeing: int, still: bool) -> None:
    tones = np.full((SIDE, SIDE), 3.0, np.float32)
    tones[5:15, 5:15] += 1.0
    moved = replace(look(), tone_stops=tones)
    frames = (look(), *[look()] * agreeing, *[moved] * (6 - agreeing))
    assert holds_still(frames)[10, 10] == still


@pytest.mark.parametrize(("around", "still"), [(4, False), (6, True)])
def test_most_of_the_tiles_around_keep_their_tone(around: int, still: bool) -> None:
    tones = np.full((SIDE, SIDE), 3.0, np.float32)
    block = np.ones(9, np.float32)
    block[[4, 0, 1, 2, 3, 5, 6, 7, 8][:around]] = 0.0
    tones[9:12, 9:12] += block.reshape(3, 3)
    assert holds_still((look(), replace(look(), tone_stops=tones)))[10, 10] == still


@pytest.mark.parametrize(("softness", "share"), [(0.5, 0.25), (0.7, 0.0)])
def test_a_tile_much_softer_than_its_frame_has_moved_by_itself(
    softness: float, share: float
) -> None:
    shares = np.full((SIDE, SIDE), 0.1, np.float32)
    shares[:5] *= softness
    steady = compare_steadiness({"a": look(), "b": replace(look(), share=shares)})
    assert steady["b"].moved_share == pytest.approx(share)


@pytest.mark.parametrize(("side", "drawn"), [(5, False), (6, True)])
def test_a_clump_that_moved_is_drawn_from_some_five_by_five_tiles_on(
    side: int, *, drawn: bool
) -> None:
    """Its corners do not count."""
    shares = np.full((SIDE, SIDE), 0.1, np.float32)
    shares[4 : 4 + side, 6 : 6 + side] *= 0.3
    steady = compare_steadiness({"a": look(), "b": replace(look(), share=shares)})
    assert moved_places(steady["a"], 1) == ()
    assert bool(moved_places(steady["b"], 1)) == drawn


@pytest.mark.parametrize(("floors", "trusted"), [(6.8, False), (9.2, True)])
def test_contrast_is_trusted_well_over_the_noise_floor(floors: float, trusted: bool) -> None:
    """A floor of 4.16 DN: a gain of 2 DN an electron, a read noise of 3 DN."""
    values = np.full((240, 240), round(BLACK_DN + floors * 4.16), dtype=np.uint16)
    frame = settled(measured_mono(values), (Level(CLIP_DN, CLIP_DN - 6, LevelSource.MEASURED),))
    assert np.isfinite(contrast_of(frame).tone_stops).all() == trusted
