"""Choices between frames that lie close together, and what is left out of a comparison."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from auditor.group.aligned import AlignedFrame, Comparison
from auditor.group.confidence import confidence
from auditor.group.grad_curve import Curve
from auditor.group.grads import GradPair, _not_sudden
from auditor.group.grouping import group_shoot
from auditor.group.moving import moved_tiles
from auditor.group.pairing import PairMeasurement
from auditor.group.ratio import Attenuation
from auditor.group.setups import SetupShots
from auditor.group.tile_image import TileImage, TilePixels
from auditor.group.view import SetupView
from auditor.model.facts import ExposureFacts
from auditor.model.half_sample_mode import Core
from auditor.model.settings import GroupSettings
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, coast

ROWS, COLS = 6, 8


def seen(
    signal_dn: float, *, detail: float = 1.0, shift: tuple[float, float] = (0, 0)
) -> AlignedFrame:
    shape = (ROWS, COLS)
    image = TileImage(
        colours=("L",),
        pixels=TilePixels(
            signal_dn=(np.full(shape, signal_dn, dtype=np.float32),),
            lost_bright=np.zeros(shape, dtype=np.float16),
            lost_dark=np.zeros(shape, dtype=np.float16),
            detail=np.full(shape, detail, dtype=np.float16),
        ),
        shape=shape,
        floor_dn=(5.0,),
        floor_known=True,
        room_dn=(15000.0,),
        tile_px=40,
        height_px=40 * ROWS,
        width_px=40 * COLS,
    )
    return AlignedFrame(image, 0.0, shift)


def test_a_short_frame_before_the_long_one_is_its_sibling_rather_than_one_as_near_after() -> None:
    shoot, place = Shoot(1), coast(1)
    before = shoot.take(place, 0.0)
    shoot.take(place, 20.0, 16.0, nd=SIX)
    after = shoot.take(place, 54.0)
    (pair,) = (pair for pair in group_shoot(shoot.frames, GroupSettings()).siblings if pair.best)
    assert pair.short == before
    assert before != after


def test_a_sibling_without_a_grad_is_better_than_a_nearer_one_behind_it() -> None:
    shoot, place = Shoot(1), coast(1)
    plain = shoot.take(place, 0.0)
    shoot.take(place, 12.0, grad=GradGlass(2.0, 0.45, 0.1))
    shoot.take(place, 18.0, 16.0, nd=SIX)
    (pair,) = (pair for pair in group_shoot(shoot.frames, GroupSettings()).siblings if pair.best)
    assert pair.short == plain


@pytest.mark.parametrize(("base", "sudden"), [(-0.2, True), (-0.5, False)])
def test_a_frame_that_got_more_light_all_over_shows_no_grad(base: float, sudden: bool) -> None:
    shots = [SimpleNamespace(middle_s=0.0), SimpleNamespace(middle_s=10.0)]
    curve = Curve(base=base, top=2.0, edge=0.4, width=0.05)
    pair = GradPair(0, 1, curve, (2.0, 1.0, 0.0), 0.0)
    setup = cast(SetupShots, SimpleNamespace(shots=shots))
    assert (_not_sudden(setup, pair, np.array([False, False])) is None) is sudden
    assert _not_sudden(setup, pair, np.array([True, False])) is None, "the other had a filter"


@pytest.mark.parametrize(("tiles", "least", "most"), [(300, 0.9, 1.0), (30, 0.0, 0.25)])
def test_a_filter_told_by_a_few_tiles_is_not_sure(tiles: int, least: float, most: float) -> None:
    core = SimpleNamespace(count=tiles, spread=0.0)
    direct = Attenuation(
        stops={}, core=cast(Core, core), overlap=1.0, uneven_stops=0.0,
        tiles=np.zeros((1, 1), np.float32), filled=np.zeros((1, 1), np.float32),
    )  # fmt: skip
    pair = PairMeasurement(0, 1, direct, {"G": 10.0}, drift_stops=0.0, other=2)
    exposure = ExposureFacts(0.125, f_number=11.0)
    image, facts = SimpleNamespace(colours=()), SimpleNamespace(exposure=exposure, position=None)
    setup = SimpleNamespace(shots=[SimpleNamespace(image=image, facts=facts, time_s=0.125)] * 2)
    view = SimpleNamespace(main="G", density=lambda *_: None, setup=setup, grads=())
    told = confidence(cast(SetupView, view), pair, known=True)
    assert least <= told <= most


def test_tones_near_the_floor_are_left_out_of_a_picture_that_moved_too() -> None:
    moved = seen(12.0, shift=(0.5, 0.0)).onto((0.0, 0.0), 0, 4.0)
    assert np.isnan(moved).all(), "under four noise floors"
    bright = seen(1024.0, shift=(0.5, 0.0)).onto((0.0, 0.0), 0, 4.0)
    assert np.nanmax(bright) == pytest.approx(10.0)


def test_places_whose_detail_came_or_went_count_as_moved() -> None:
    still, stirred = seen(4000.0, detail=6.0), seen(4000.0, detail=6.0)
    stirred.image.detail[2:4, 3:5] = 1.0
    moved = moved_tiles(Comparison(still, [(stirred, 1.0)]))
    assert moved[2:4, 3:5].all()
    assert moved.sum() == 4
    assert not moved_tiles(Comparison(still, [(seen(4000.0, detail=5.0), 1.0)])).any()
