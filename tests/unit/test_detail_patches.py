"""The patches that are kept of a frame: which, how fine, and in how few bytes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from auditor.detail.patches import CODES, GRID, SIDE, cut_patches, patch_places, unpacked
from auditor.measures.mosaic import MosaicView
from auditor.model.settings import MeasureSettings
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice
from auditor.store.codec import encode
from tests.built_mosaics import BLACK_DN, MONO, mosaic_of
from tests.built_patches import LAYOUTS, Scene

ALL = GRID[0] * GRID[1]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("slope", [0.0, 1.0, 2.0])
def test_a_frame_of_45_megapixels_keeps_eight_kilobytes_at_most(layout: str, slope: float) -> None:
    scene = Scene(layout=layout, megapixels=45.0, slope=slope, contrast=0.3)
    kept = scene.patches(1)
    assert len(kept.places) == ALL
    assert 4000 < len(encode(kept)) <= 8000


def test_nothing_but_noise_is_not_kept() -> None:
    assert Scene(contrast=0.0).patches(1).places == ()
    assert unpacked(Scene(contrast=0.0).patches(1)).shape == (0, SIDE, SIDE)


@pytest.mark.parametrize(("times_noise", "kept"), [(0.32, 0), (0.58, ALL), (0.75, ALL)])
def test_a_patch_is_kept_from_a_tenth_more_contrast_than_noise(
    times_noise: float, kept: int
) -> None:
    """Texture and noise add in squares: 0.46 of the noise is a tenth more."""
    noise = np.sqrt(3.0**2 + 0.3 * 3000.0) / 3000.0
    left = 0.773  # of white texture, averaged over each pixel's square
    contrast = times_noise * noise / left
    scene = Scene(layout="monochrome", slope=0.0, grain=(0.0, 0.0), contrast=contrast)
    assert len(scene.patches(1).places) == kept


@pytest.mark.parametrize(("blown", "kept"), [(12, True), (20, False)])
def test_a_patch_with_more_than_a_hundredth_blown_is_not_kept(blown: int, kept: bool) -> None:
    view = Scene(layout="monochrome").view(1)
    y, x = patch_places(view.lattice.pixels.shape, 1)[7]
    view.lattice.pixels[y + 3, x : x + blown] = 16200
    assert ((y, x) in cut_patches(view).places) == kept


@pytest.mark.parametrize("layout", LAYOUTS)
def test_all_frames_of_a_sensor_share_their_places(layout: str) -> None:
    pitch = LAYOUTS[layout][2]
    for height, width in ((5464, 8192), (1200, 1800), (500, 700), (39, 39)):
        places = patch_places((height, width), pitch)
        side_px = SIDE * pitch
        fitting = [min(most, n // side_px) for most, n in zip(GRID, (height, width), strict=True)]
        assert len(places) == fitting[0] * fitting[1]
        for along, length in ((0, height), (1, width)):
            starts = sorted({place[along] for place in places})
            assert all(at % pitch == 0 and 0 <= at <= length - side_px for at in starts)
            assert all(b - a >= side_px for a, b in pairwise(starts))


def test_a_sample_is_the_mean_of_one_colour_in_its_cell() -> None:
    """Red and blue lie far above and change nothing; both greens count alike."""
    view = Scene().view(1)
    other = view.lattice.pixels.copy()
    other[0::2, 0::2], other[1::2, 1::2] = 9000, 12000
    swapped = replace(view, lattice=SensorLattice(other, view.lattice.pattern))
    assert cut_patches(swapped) == cut_patches(view)
    assert cut_patches(view).pitch_px == 2


@pytest.mark.parametrize("known", [True, False])
def test_what_is_kept_is_the_picture(known: bool) -> None:
    view = Scene(layout="monochrome", slope=1.0).view(1)
    if not known:
        view = replace(view, noise=NoiseModel(replace(view.noise.estimate, gain_dn_per_e=None)))
    kept = cut_patches(view)
    codes = unpacked(kept).astype(np.float64)
    assert codes.max() < CODES
    for (y, x), own in zip(kept.places, codes, strict=True):
        signal = view.lattice.pixels[y : y + SIDE, x : x + SIDE] - BLACK_DN
        alike = np.corrcoef(own.ravel(), np.sqrt(np.maximum(signal, 0.0)).ravel())[0, 1]
        assert alike > 0.9


@pytest.mark.parametrize("packed", [b"", b"\x00\x01\x02", b"\xff" * 40])
def test_damaged_patches_are_refused(packed: bytes) -> None:
    with pytest.raises(ValueError, match=r"bytes do not make|Error -3"):
        unpacked(replace(Scene().patches(1), packed=packed))


def test_a_measured_frame_has_its_patches() -> None:
    """Three-sample data too: each sample is a pixel of green."""
    rng = np.random.default_rng(4)
    values = BLACK_DN + 2000.0 * (1.0 + 0.3 * rng.random((300, 420, 3)))
    for pixels, pitch in ((values, 1), (values[..., 1], 1)):
        pattern = MONO
        view = MosaicView(mosaic_of(np.rint(pixels), pattern), MeasureSettings())
        from auditor.measures.frame import patches

        class Frame:
            mosaic = view

        kept = patches(Frame())  # type: ignore[arg-type]
        assert kept.pitch_px == pitch
        assert len(kept.places) == ALL
