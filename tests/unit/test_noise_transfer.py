"""The fit of noise over signal, and what it leaves out."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.noise.photon_transfer import LevelGroups, fit_groups

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


def test_levels_within_their_errors_are_kept() -> None:
    fit = fit_groups(groups(1.0), None, (0.0, 1e-6))
    assert fit is not None
    assert fit.groups == 40
