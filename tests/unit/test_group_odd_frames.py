"""Odd frames do no harm: tiny pictures, empty ones, pictures of nothing but noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.advise.keepers import choose_keepers
from auditor.group.grouping import group_shoot
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts
from auditor.model.measurement import TileMaps
from auditor.model.settings import GroupSettings, JudgeSettings
from tests.shoot_maker import BLACK_DN, Shoot
from tests.shoot_plans import coast


def with_maps(mean_dn: np.ndarray, count: int = 3) -> Shoot:
    """Return frames whose tiles are given, (planes, rows, cols)."""
    shoot = Shoot(1)
    rows, cols = mean_dn.shape[1:]
    flat = np.zeros((rows, cols), np.float32)
    top = np.clip(np.nan_to_num(mean_dn) + BLACK_DN + 10, 0, 16383).astype(np.uint16)
    maps = TileMaps(60, mean_dn.astype(np.float32), top, np.zeros_like(mean_dn, np.float32),
                    flat, flat, np.full((rows, cols), np.nan, np.float32))  # fmt: skip
    for i in range(count):
        name = shoot.take(coast(1), 5.0 * i, 2.0 ** (i - 3))
        measured = shoot.kept[name]
        mosaic = replace(measured.mosaic, maps=maps, width=cols * 60, height=rows * 60)
        shoot.kept[name] = replace(measured, mosaic=mosaic)
    return shoot


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (5, 7), (9, 2), (192, 3), (192, 1), (1, 192)])
def test_tiny_and_narrow_pictures(shape: tuple[int, int]) -> None:
    shoot = with_maps(np.random.default_rng(1).uniform(50, 9000, (4, *shape)))
    grouping = group_shoot(shoot.frames, GroupSettings())
    assert sum(len(setup.frames) for setup in grouping.setups) == 3
    assert choose_keepers(shoot.frames, {}, grouping, JudgeSettings()) == ()


@pytest.mark.parametrize("value", [0.0, -3.0, 5000.0, 16000.0, np.nan])
def test_pictures_of_one_tone(value: float) -> None:
    shoot = with_maps(np.full((4, 64, 96), value))
    grouping = group_shoot(shoot.frames, GroupSettings())
    assert grouping.siblings == ()
    assert grouping.grads == ()
    assert grouping.panoramas == ()
    grouped = sum(len(setup.frames) for setup in grouping.setups)
    assert grouped == (0 if value <= 0 else 3)


def test_pictures_of_nothing_but_noise_pair_with_nothing() -> None:
    shoot = Shoot(1)
    rng = np.random.default_rng(2)
    for i in range(4):
        other = with_maps(rng.uniform(100, 8000, (4, 64, 96)), 1)
        name = shoot.take(coast(1), 20.0 * i, 0.125 * 8**i)
        shoot.kept[name] = replace(
            other.frames[0].settled().measurement, facts=shoot.frames[i].facts
        )
    grouping = group_shoot(shoot.frames, GroupSettings())
    assert (grouping.siblings, grouping.grads, grouping.brackets) == ((), (), ())


@pytest.mark.parametrize(
    "exposure",
    [ExposureFacts(0.0, TimeSource.TAG, 0.0, 11.0, 100.0),
     ExposureFacts(-1.0, TimeSource.TAG, -1.0, 0.0, 0.0),
     ExposureFacts(1e9, TimeSource.TAG, 1e9, 1e-9, 1e12)],
    ids=("no time", "below nothing", "beyond all"),
)  # fmt: skip
def test_settings_that_cannot_be(exposure: ExposureFacts) -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0)
    shoot.take(place, 10.0)
    odd = replace(shoot.frames[1], facts=replace(shoot.frames[1].facts, exposure=exposure))
    grouping = group_shoot([shoot.frames[0], odd], GroupSettings())
    assert sum(len(setup.frames) for setup in grouping.setups) == 2
    assert grouping.brackets == ()
