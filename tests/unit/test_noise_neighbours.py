"""Noise that neighbours share, or that is of no normal law: no gain, and it is said why."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from auditor.model.arrays import F32
from auditor.model.remark import RemarkCode
from auditor.noise.neighbours import Diagonals, long_tailed, mixed_planes
from tests.built_effects import Effect, mixed, remade, shrunk, trailing
from tests.built_mosaics import exposed, measured, noises_of, true_or_null

NO_BORDER = {"margin_top": 0, "margin_left": 0}


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize(
    ("effect", "scene", "iso"),
    [
        (mixed(0.03), "coast", 100.0),
        (mixed(0.03), "wedge", 1600.0),
        (shrunk(0.5, 1.0), "coast", 1600.0),
        (shrunk(0.5, 1.0), "wedge", 100.0),
        (shrunk(0.2, 0.7), "wedge", 1600.0),
    ],
    ids=["mixed", "mixed, steep", "shrunk", "shrunk, steep", "shrunk more"],
)
def test_what_was_mixed_or_shrunk_tells_no_gain(
    effect: Effect, scene: str, iso: float, border: dict[str, Any]
) -> None:
    frame = exposed("RGGB", iso, 1200, 800, scene, shot=3, **border)
    found = noises_of(measured(remade(frame, effect)))
    true_or_null(frame, found)
    assert [noise.gain_dn_per_e for noise in found] == [None] * 4
    codes = {told.code for noise in found for told in noise.remarks}
    assert codes & {RemarkCode.SMOOTHED, RemarkCode.NOT_STRAIGHT}


@pytest.mark.parametrize("scene", ["coast", "wedge"])
def test_what_trails_tells_a_true_gain_or_none(scene: str) -> None:
    frame = exposed("RGGB", 100.0, 1200, 800, scene, shot=3)
    true_or_null(frame, noises_of(measured(remade(frame, trailing(0.05)))))


def diagonals(values: F32) -> Diagonals:
    """All places calm and lit."""
    flags = np.ones((1, values.size // 16), dtype=np.bool_)
    return Diagonals(values.reshape(1, 4, -1).astype(np.float32), flags, flags)


@pytest.mark.parametrize(
    ("alike", "blocks", "told"),
    [
        (0.023, 20_000, True),  # 13 standard errors
        (0.017, 20_000, False),
        (0.1, 158, True),  # five
        (0.1, 110, False),  # 4.2
    ],
)
@pytest.mark.parametrize("below", [False, True])
def test_planes_beside_or_below_are_alike(
    alike: float, blocks: int, told: bool, below: bool
) -> None:
    """Of values that are exactly as much alike as is said."""
    first, second, one, other = np.linalg.qr(
        np.random.default_rng(1).standard_normal((16 * blocks, 4))
    )[0].T
    places = [(0, 0), (1, 1), (1, 0), (0, 1)] if below else [(0, 0), (1, 1), (0, 1), (1, 0)]
    rest = (1.0 - alike**2) ** 0.5
    values = [first, second, alike * first + rest * one, alike * second + rest * other]
    scaled = (diagonals(own * (16.0 * blocks) ** 0.5) for own in values)
    assert mixed_planes(dict(zip(places, scaled, strict=True))) == told


@pytest.mark.parametrize(
    ("excess", "blocks", "told"),
    [
        (0.09, 20_000, True),  # ten standard errors
        (0.06, 20_000, False),
        (0.3, 500, True),  # 5.5
        (0.3, 330, False),  # 4.4
    ],
)
def test_small_differences_that_were_shrunk_leave_long_tails(
    excess: float, blocks: int, told: bool
) -> None:
    """Two normal laws, one wider: the fourth power is exactly so much over one law's."""
    apart, half = (excess / 3.0) ** 0.5, 8 * blocks
    law = norm.ppf((np.arange(half) + 0.5) / half)
    law /= law.std()
    wide = np.concatenate([law * (1.0 + apart) ** 0.5, law * (1.0 - apart) ** 0.5])
    own = float((wide**4).mean() / (wide**2).mean() ** 2 - 3.0)
    assert own == pytest.approx(excess, abs=0.03)
    assert long_tailed([diagonals(wide)]) == told
