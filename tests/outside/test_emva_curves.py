"""The sensor curves of the history against the EMVA 1288 reference implementation.

Figures printed by emva1288 1.0.2 (release 4.0, linear) on its own simulated camera: dark noise
2.435 DN, gain 0.799 DN an electron, full well 17469 electrons.
"""

from __future__ import annotations

import math

import pytest

from auditor.history.rows import snr, snr_curve
from auditor.model.measurement import NoiseEstimate

READ_E = 2.435 / 0.799
FULL_E = 17469.0


def test_largest_ratio() -> None:
    # SNR_max 132.2, the square root of the full well; read noise takes off the last tenth.
    assert math.sqrt(FULL_E) == pytest.approx(132.2, abs=0.05)
    assert snr(FULL_E, READ_E) == pytest.approx(132.2, rel=1e-3)


def test_absolute_sensitivity_threshold() -> None:
    # u_e.min 3.547 is the reference's approximation, noise + 1/2; the exact root is 1 % more.
    approximation = READ_E + 0.5
    assert approximation == pytest.approx(3.547, abs=5e-3)
    floor_e = NoiseEstimate(READ_E, 1.0).floor_dn
    assert floor_e == pytest.approx(3.547 * 1.01, rel=3e-3)
    assert floor_e is not None
    assert snr(floor_e, READ_E) == pytest.approx(1.0)


def test_dynamic_range() -> None:
    # DR 4925 = 12.27 stops with the approximation, so one per cent less with the exact root.
    floor_e = NoiseEstimate(READ_E, 1.0).floor_dn
    assert floor_e is not None
    stops = math.log2(FULL_E / floor_e)
    assert stops == pytest.approx(12.27 - math.log2(1.01), abs=0.01)


def test_the_curve_ends_at_the_full_well() -> None:
    points = snr_curve(READ_E, FULL_E)
    assert points[0][0] == 0.0
    assert points[-1] == pytest.approx((math.log2(FULL_E), math.log2(snr(FULL_E, READ_E))))
    assert [ratio for _, ratio in points] == sorted(ratio for _, ratio in points)
