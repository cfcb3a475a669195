"""One frame of the EMVA 1288 reference implementation's simulated camera, measured here.

Source: the package emva1288 1.0.2 (release 4.0, linear), its camera and its own results from
pairs of frames. It knows its gain from dozens of frames; here a single frame has to do, a step
wedge made of the camera's own exposures, with a masked border from its dark frames.

The reference parts noise that changes from frame to frame (sigma_d) from the fixed pattern of a
dark frame (DSNU). One frame cannot: what it shows is ``sqrt(sigma_d² + DSNU²)``. Hence two
sensors: one whose dark pixels hardly differ, and one of 1.5 electrons DSNU.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

# The package was written for an older NumPy.
vars(np).setdefault("asfarray", lambda a: np.asarray(a, float))

camera_module = pytest.importorskip("emva1288.camera.camera", reason="emva1288 is not installed")
process = pytest.importorskip("emva1288.process", reason="emva1288 is not installed")
routines = pytest.importorskip("emva1288.process.routines", reason="emva1288 is not installed")

from auditor.black.border import ROUNDING_SIGMA_DN  # noqa: E402
from auditor.model.measurement import NoiseEstimate  # noqa: E402
from auditor.model.mosaic import BlackLevels, MaskedArea  # noqa: E402
from tests.built_mosaics import mosaic_of, only_plane  # noqa: E402

WIDTH, HEIGHT = 160, 120
GAIN, DARK_E, WELL_E = 0.8, 3.0, 18000.0
EVEN_E, UNEVEN_E = 0.3, 1.5
"""Dark signal non-uniformity of the two sensors."""

STEPS = 128
SHORT_NS, LONG_NS = 1e6, 5e8


@dataclass(frozen=True)
class Bench:
    """What the reference says of the sensor of 1.5 e DSNU, and one frame of each measured here."""

    reference: Any
    frames: dict[str, NoiseEstimate]

    def electrons(self, frame: str) -> float:
        """Read noise of a frame, freed of rounding: sigma_d² = (sigma_y.dark² - 1/12) / K²."""
        found = self.frames[frame]
        assert found.read_noise_dn is not None
        assert found.gain_dn_per_e is not None
        return math.sqrt(found.read_noise_dn**2 - ROUNDING_SIGMA_DN**2) / found.gain_dn_per_e

    def floor_e(self, frame: str) -> float:
        found = self.frames[frame]
        assert found.floor_dn is not None
        assert found.gain_dn_per_e is not None
        return found.floor_dn / found.gain_dn_per_e


def threshold_e(dark_e: float) -> float:
    """Where SNR is 1, the exact root: sigma_y.dark / K + 0.5, as in u_e.min, is 1 % less here."""
    return 0.5 + math.sqrt(0.25 + dark_e**2)


def reference_camera(dsnu_e: float) -> Any:
    rng = np.random.default_rng(0)
    shape = (HEIGHT, WIDTH)
    return camera_module.Camera(
        bit_depth=14, width=WIDTH, height=HEIGHT, K=GAIN, K_min=GAIN, K_max=GAIN, K_steps=1, seed=1,
        u_esat=WELL_E, dark_current_ref=30, blackoffset=512, blackoffset_min=512,
        blackoffset_max=512, blackoffset_steps=1, dark_signal_0=40.0, sigma2_dark_0=DARK_E**2,
        dsnu=rng.normal(0, dsnu_e, shape), prnu=rng.normal(1, 0.008, shape),
    )  # fmt: skip


def reference_results(camera: Any) -> Any:
    camera.exposure = LONG_NS
    full = camera.get_radiance_for(mean=1.1 * WELL_E * GAIN)

    def images(radiance: Any, count: int, spatial: bool) -> Any:
        found = routines.get_int_imgs([camera.grab(radiance) for _ in range(count)])
        if spatial:
            return found
        return {key: np.sum(found[key]) for key in ("sum", "pvar")} | {"dmean": found["dmean"]}

    def point(time_ns: float, count: int = 2, spatial: bool = False) -> Any:
        camera.exposure = time_ns
        photons = np.sum(camera.get_photons(full), axis=2).mean()
        return {0.0: images(full * 0, count, spatial), photons: images(full, count, spatial)}

    times = np.round(np.linspace(SHORT_NS, LONG_NS, 50), 1)
    data = {
        "temporal": {time: point(time) for time in times},
        "spatial": {LONG_NS / 2: point(LONG_NS / 2, 16, True)},
        "width": WIDTH,
        "height": HEIGHT,
    }
    return process.Results1288(process.Data1288(data).data, loglevel=50)


def wedge_noise(camera: Any) -> tuple[NoiseEstimate, NoiseEstimate]:
    """Measure one step wedge with and without a masked border."""
    camera.exposure = SHORT_NS
    full = camera.get_radiance_for(mean=1.1 * WELL_E * GAIN)
    shares = 0.8 * np.linspace(0, 1, STEPS) ** 2
    wedge = np.concatenate([camera.grab(full * share) for share in shares])
    dark = np.concatenate([camera.grab(full * 0) for _ in range(2)]).astype(np.uint16)
    border = MaskedArea(dark, -len(dark), 0)
    first = only_plane(mosaic_of(wedge, masked=(border,)))
    black = BlackLevels(np.full((1, 1), first.black_dn))
    return first.noise, only_plane(mosaic_of(wedge, black=black)).noise


@pytest.fixture(scope="module")
def bench() -> Bench:
    even, uneven = reference_camera(EVEN_E), reference_camera(UNEVEN_E)
    names = ("even, border", "even", "uneven, border", "uneven")
    frames = (*wedge_noise(even), *wedge_noise(uneven))
    return Bench(reference_results(uneven), dict(zip(names, frames, strict=True)))


even_sensor = pytest.mark.parametrize("frame", ["even, border", "even"])
uneven_sensor = pytest.mark.parametrize("frame", ["uneven, border", "uneven"])


@pytest.mark.parametrize("frame", ["even, border", "even", "uneven, border", "uneven"])
def test_gain_is_within_one_per_cent(bench: Bench, frame: str) -> None:
    found = bench.frames[frame]
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.01)
    assert found.gain_dn_per_e == pytest.approx(float(bench.reference.K), rel=0.01)


@even_sensor
def test_where_dark_pixels_hardly_differ_read_noise_is_the_temporal_one(
    bench: Bench, frame: str
) -> None:
    found = bench.frames[frame]
    assert found.read_noise_dn == pytest.approx(float(bench.reference.sigma_y_dark), rel=0.05)
    assert bench.electrons(frame) == pytest.approx(float(bench.reference.sigma_d), rel=0.05)


@uneven_sensor
def test_where_dark_pixels_differ_read_noise_holds_that_as_well(bench: Bench, frame: str) -> None:
    temporal_e, fixed_e = float(bench.reference.sigma_d), float(bench.reference.DSNU1288)
    assert fixed_e == pytest.approx(UNEVEN_E, rel=0.03)
    assert bench.electrons(frame) == pytest.approx(math.hypot(temporal_e, fixed_e), rel=0.02)


@even_sensor
def test_where_dark_pixels_hardly_differ_the_floor_is_the_absolute_sensitivity_threshold(
    bench: Bench, frame: str
) -> None:
    dark_e = float(bench.reference.sigma_y_dark) / float(bench.reference.K)
    assert bench.floor_e(frame) == pytest.approx(threshold_e(dark_e), rel=0.03)
    assert bench.floor_e(frame) == pytest.approx(1.01 * float(bench.reference.u_e_min), rel=0.03)


@uneven_sensor
def test_where_dark_pixels_differ_the_floor_is_made_of_both(bench: Bench, frame: str) -> None:
    temporal_e = float(bench.reference.sigma_y_dark) / float(bench.reference.K)
    dark_e = math.hypot(temporal_e, float(bench.reference.DSNU1288))
    assert bench.floor_e(frame) == pytest.approx(threshold_e(dark_e), rel=0.02)
