"""On either side of the numbers that a pile-up is found by."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.black.levels import PlaneBlack
from auditor.clipping.pile_up import find_pile_up, find_pile_ups
from auditor.clipping.top import heap_at, top_of
from auditor.model.codes import BlackSource
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.lattice import SensorLattice
from tests.built_mosaics import BLACK_DN, KNOWN_NOISE, MONO

LEVEL_DN = 15000
UNKNOWN = NoiseModel(NoiseEstimate())


def found(at_top: list[int], noise: NoiseModel = KNOWN_NOISE, dark: int = 50) -> bool:
    """Whether counts about the level are a pile-up, over a dark ground and nothing between."""
    counts = np.zeros(LEVEL_DN + 200, np.uint32)
    counts[600:4600] = dark * np.linspace(1.0, 0.0, 4000) ** 3
    first = LEVEL_DN - len(at_top) // 2
    counts[first : first + len(at_top)] = at_top
    return find_pile_up(Histogram(0, counts), BLACK_DN, 16383.0, 14, noise) is not None


@pytest.mark.parametrize(("pixels", "told"), [(21, False), (26, True)])
def test_evidence_beyond_chance_by_a_share_of_the_noise(pixels: int, told: bool) -> None:
    """Pixels of one value: twice the log of the likelihood ratio is 1.76 times their number."""
    assert found([pixels]) == told


@pytest.mark.parametrize(("each_five", "told"), [((1, 1, 1, 1, 1), False), ((1, 1, 1, 1, 2), True)])
def test_the_window_gathers_a_loose_pile_up(each_five: tuple[int, ...], told: bool) -> None:
    assert found(list(each_five) * 8) == told


@pytest.mark.parametrize(("each", "told"), [(2, False), (3, True)])
def test_light_is_never_steadier_than_many_electrons_let_it_be(each: int, told: bool) -> None:
    assert found([each] * 17, UNKNOWN) == told


@pytest.mark.parametrize(("pixels", "told"), [(10**5, False), (10**8, True)])
def test_rounding_is_noise_too(pixels: int, told: bool) -> None:
    """Where noise is finer than a DN, all light of one level may fall on one value."""
    assert found([pixels], NoiseModel(NoiseEstimate(0.05, 1e-7)), dark=5 * 10**5) == told


@pytest.mark.parametrize(("pixels", "told"), [(7, False), (9, True)])
def test_so_many_pixels_over_the_sky_beneath_are_a_pile_up(pixels: int, told: bool) -> None:
    counts = np.zeros(LEVEL_DN + 1, np.uint32)
    counts[-1] = pixels
    top = top_of(Histogram(0, counts), BLACK_DN, KNOWN_NOISE)
    assert (heap_at(top, LEVEL_DN) is not None) == told


@pytest.mark.parametrize(
    ("reach", "pixels", "told"),
    [(1.4, 500, True), (1.6, 500, False), (1.6, 80, True), (1.6, 120, False)],
)
def test_a_level_far_below_what_another_channel_reaches_is_none(
    reach: float, pixels: int, *, told: bool
) -> None:
    """Of a million pixels so many of green reach so many times further over black than red."""
    counts = np.zeros((2, 16384), np.uint32)
    counts[:, 600:4600] = 1000 * np.linspace(1.0, 0.0, 4000) ** 3
    counts[0, 9000] = 100
    counts[1, round(BLACK_DN + reach * (9000 - BLACK_DN))] = pixels
    black = PlaneBlack(
        np.full((1, 1), BLACK_DN), None, None, BLACK_DN, BLACK_DN, None, None,
        BlackSource.METADATA,
    )  # fmt: skip
    lattice = SensorLattice(np.zeros((2, 2), np.uint16), MONO)
    views = [
        PlaneView(lattice, 0, black, Histogram(0, own), None, None, 16383.0, colour=colour)
        for own, colour in zip(counts, "RG", strict=True)
    ]
    red, _ = find_pile_ups(views, [KNOWN_NOISE] * 2, 14)
    assert (red is not None) == told
