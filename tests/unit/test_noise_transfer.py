"""The fit of noise over signal, and what it leaves out."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.black.border import BorderLevel
from auditor.noise.level_bins import LevelBins
from auditor.noise.photon_transfer import LevelGroups, fit_groups, fit_transfer

GAIN, READ_DN = 2.0, 3.0
SIGNAL = np.linspace(20.0, 4000.0, 40)
FREEDOM = np.full(40, 2000.0)


def groups(stray_sigmas: float) -> LevelGroups:
    """Levels on one relation, but for a fifth of them: so many of their own errors off it."""
    noise = GAIN * SIGNAL + READ_DN**2
    off = np.zeros(40)
    off[::5] = stray_sigmas
    return LevelGroups(SIGNAL, noise * (1 + off * np.sqrt(2.0 / FREEDOM)), FREEDOM)


@pytest.mark.parametrize("stray_sigmas", [20.0, 60.0])
def test_levels_far_off_the_common_relation_are_dropped(stray_sigmas: float) -> None:
    fit = fit_groups(groups(stray_sigmas), None, (0.0, 1e-6))
    assert fit is not None
    assert fit.groups <= 33, "at most the darkest of the strays hides in the read noise"
    assert fit.gain_dn_per_e == pytest.approx(GAIN, rel=0.02)


@pytest.mark.parametrize(("off_sigmas", "kept"), [(2.0, 40), (5.0, 39), (-4.0, 40), (-8.0, 39)])
def test_one_level_off_the_relation_is_dropped_above_sooner_than_below(
    off_sigmas: float, kept: int
) -> None:
    """Texture adds to the noise; nothing takes from it but chance, or pixels that were cut off."""
    noise = GAIN * SIGNAL + READ_DN**2
    noise[20] *= 1 + off_sigmas * np.sqrt(2.0 / FREEDOM[20])
    fit = fit_groups(LevelGroups(SIGNAL, noise, FREEDOM), None, (0.0, 1e-6))
    assert fit is not None
    assert fit.groups == kept


def test_levels_within_their_errors_are_kept() -> None:
    fit = fit_groups(groups(1.0), None, (0.0, 1e-6))
    assert fit is not None
    assert fit.groups == 40


def calm_bins(read_dn2: float, freedom: float) -> LevelBins:
    """Calm places of many levels on one relation, without chance."""
    group = np.repeat(np.arange(40), 60)
    signal, none = np.geomspace(0.05, 4000.0, 40)[group], np.zeros(40 * 60)
    noise, calm = GAIN * signal + read_dn2, np.full(40 * 60, 0.05)
    return LevelBins(signal, noise, calm, noise, none, none, group, calm, np.full(40, 60), freedom)


@pytest.mark.parametrize(
    ("less", "freedom", "used"),
    [(0.18, 4e5, False), (0.12, 4e5, True), (0.18, 60.0, False), (0.18, 20.0, True)],
)
def test_a_border_noisier_than_the_levels_allow_is_not_used(
    less: float, freedom: float, used: bool
) -> None:
    """Light begins at another black then; with few pixels it may be chance."""
    border = BorderLevel(0.0, 0.01, READ_DN**2, 10**7)
    fit = fit_transfer(calm_bins((1.0 - less) * READ_DN**2, freedom), border, (0.0, 1e-6))
    assert fit is not None
    assert (fit.read_dn2 > (1.0 - less) * READ_DN**2 + 0.02) == used
