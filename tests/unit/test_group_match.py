"""Filtered frames made to match, against simulated filters of known density and cast."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.group.grouping import group_shoot
from auditor.model.audit import SiblingPair
from auditor.model.settings import GroupSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, coast

NEUTRAL_WB = {"R": 2.0, "G": 1.0, "B": 1.5}


def pair_behind(
    nd: tuple[float, float, float], seed: int, *, time_s: float = 16.0, fall: float = 0.0
) -> SiblingPair:
    shoot, place = Shoot(seed, light=lambda at_s: fall * at_s / 60.0), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, time_s, nd=nd)
    shoot.take(place, 60.0)
    (pair,) = (one for one in group_shoot(shoot.frames, GroupSettings()).siblings if one.best)
    return pair


@pytest.mark.parametrize("seed", SEEDS)
def test_the_offset_undoes_what_settings_and_filter_did(seed: int) -> None:
    """16 s against 1/8 s are 7 stops more, behind 6.2 stops: 0.8 too bright."""
    match = pair_behind((6.08, 6.2, 6.3), seed).match
    assert match is not None
    assert match.exposure_offset_stops == pytest.approx(6.2 - 7.0, abs=0.04)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_multipliers_undo_the_cast(seed: int) -> None:
    match = pair_behind((6.08, 6.2, 6.3), seed).match
    assert match is not None
    red, green, blue = match.white_balance_multipliers
    assert green == 1.0
    assert math.log2(red / NEUTRAL_WB["R"]) == pytest.approx(-0.12, abs=0.03)
    assert math.log2(blue / NEUTRAL_WB["B"]) == pytest.approx(0.10, abs=0.03)


def test_a_neutral_filter_keeps_the_white_balance() -> None:
    match = pair_behind((6.0, 6.0, 6.0), SEEDS[0]).match
    assert match is not None
    assert match.white_balance_multipliers == pytest.approx((2.0, 1.0, 1.5), rel=0.02)


@pytest.mark.parametrize("fall", [0.0, -0.2])
def test_an_even_filter_has_an_even_map_of_its_own_stops(fall: float) -> None:
    found = pair_behind((6.2, 6.2, 6.2), SEEDS[0], fall=fall)
    told = [cell for row in found.density_map for cell in row if cell is not None]
    assert max(len(found.density_map), len(found.density_map[0])) <= 12
    assert len(told) >= 10
    assert np.median(told) == pytest.approx(found.filter_stops, abs=0.03)
    assert np.ptp(told) < 0.2
    assert any(cell is None for row in found.density_map for cell in row), "water tells nothing"
