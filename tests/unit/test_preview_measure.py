"""The preview against the raw data: shares, and the signals at which its channels clip."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.measurement import MosaicMeasurement, PreviewMeasurement
from auditor.model.mosaic import CameraPreview
from auditor.preview.measure import measure_preview, parting_signal_dn
from sample_generation.layouts import LAYOUT_NAMES
from sample_generation.preview import PreviewStyle, preview_picture
from tests.built_mosaics import exposed, measured, measured_coast, mosaic_of, noisy
from tests.told import said

SIZE = {"width": 1200, "height": 804}
STYLE = PreviewStyle()


@lru_cache(maxsize=8)
def picture(layout: str, early_stops: float = 0.5) -> NDArray[np.uint8]:
    return preview_picture(exposed(layout, **SIZE), PreviewStyle(early_stops=early_stops))


def measured_preview(
    codes: NDArray[np.uint8], measurement: MosaicMeasurement
) -> PreviewMeasurement:
    return measure_preview(CameraPreview(codes, codes.shape[1], codes.shape[0]), measurement)


def early_stops(layout: str, found: PreviewMeasurement) -> dict[str, float]:
    truth = {p.name: p.saturation_signal_dn for p in exposed(layout, **SIZE).truth.planes}
    spans = {"R": truth.get("R"), "G": truth.get("G", truth.get("G1")), "B": truth.get("B")}
    return {
        name: math.log2((spans[name] or truth["L"]) / level)
        for name, level in found.clip_signal_dn.items()
    }


@pytest.mark.parametrize("layout", [name for name in LAYOUT_NAMES if name != "MONO"])
def test_each_channel_clips_where_the_camera_made_it_clip(layout: str) -> None:
    found = measured_preview(picture(layout), measured_coast(layout, **SIZE))
    wanted = STYLE.early_stops_by_channel()
    early = early_stops(layout, found)
    assert set(early) == {"R", "G", "B"}
    for name, stops in early.items():
        assert stops == pytest.approx(wanted[name], abs=0.08)


@pytest.mark.parametrize("stops", [0.2, 1.0])
def test_a_preview_that_cries_more_or_less_early(stops: float) -> None:
    found = measured_preview(picture("RGGB", stops), measured_coast("RGGB", **SIZE))
    assert early_stops("RGGB", found)["G"] == pytest.approx(stops, abs=0.08)


def clip_told(light_dn: NDArray[np.float64], shown: NDArray[np.float64]) -> float | None:
    """The signal of white in a grey preview of half the size: white where ``shown`` is 1."""
    taken = measured(mosaic_of(np.rint(noisy(light_dn, light_dn.shape)).clip(0, 16383)))
    half = shown.reshape(200, 2, 300, 2).mean(axis=(1, 3))
    codes = np.rint(255.0 * half.clip(0.0, 1.0)).astype(np.uint8)
    return measured_preview(np.stack([codes] * 3, axis=-1), taken).clip_signal_dn.get("G")


def test_texture_that_was_clipped_before_it_was_made_small_does_not_sway_the_signal() -> None:
    """A chequer of bright and dark pixels is grey in the preview, however bright its mean."""
    down, (y, x) = np.linspace(0.02, 2.0, 400)[:, None], np.mgrid[:400, :600]
    chequer = np.where(x < 300, np.where((y + x) % 2 == 0, 1.8, 0.2), 1.0)
    light = down * chequer
    assert clip_told(5000.0 * light, np.minimum(light, 1.0)) == pytest.approx(5000.0, rel=0.03)


def test_places_that_are_white_in_parts_do_not_hide_the_signal() -> None:
    """A sky that only just clips, seen through the grain of a preview."""
    light = np.broadcast_to(np.linspace(0.02, 1.12, 400)[:, None], (400, 600))
    grain = np.kron(np.random.default_rng(4).standard_normal((200, 300)), np.ones((2, 2)))
    assert clip_told(5000.0 * light, light * (1 + 0.05 * grain)) == pytest.approx(5000.0, rel=0.03)


def test_shares_and_counts_are_of_the_previews_own_pixels() -> None:
    codes = picture("RGGB")
    found = measured_preview(codes, measured_coast("RGGB", **SIZE))
    assert (found.width, found.height) == codes.shape[1::-1]
    assert found.blown_share == float((codes >= 254).any(axis=2).mean())
    assert found.blocked_share == float((codes <= 1).all(axis=2).mean())
    for i, name in enumerate("RGB"):
        assert found.counts[name] == tuple(np.histogram(codes[..., i], 64, (0, 256))[0])


def test_the_signal_under_which_it_is_black() -> None:
    measurement = measured_coast("RGGB", **SIZE)
    codes = picture("RGGB").copy()
    signal = np.kron(measurement.maps.mean_dn[1], np.ones((4, 4)))
    rows = np.linspace(0, signal.shape[0] - 1, codes.shape[0]).astype(int)
    cols = np.linspace(0, signal.shape[1] - 1, codes.shape[1]).astype(int)
    codes[signal[np.ix_(rows, cols)] < 60.0] = 0
    found = measured_preview(codes, measurement)
    assert found.block_signal_dn["G"] == pytest.approx(60.0, rel=0.25)


def test_black_bars_are_left_out() -> None:
    codes = picture("RGGB")
    bar = np.full((60, codes.shape[1], 3), 4, dtype=np.uint8)
    boxed = np.concatenate([bar, codes, bar])
    plain = measured_preview(codes, measured_coast("RGGB", **SIZE))
    found = measured_preview(boxed, measured_coast("RGGB", **SIZE))
    assert said(found.remarks) == "Black bars of the preview are left out."
    assert found.blown_share == pytest.approx(plain.blown_share, rel=0.02)
    assert found.clip_signal_dn["G"] == pytest.approx(plain.clip_signal_dn["G"], rel=0.05)


def test_another_section_tells_no_signal() -> None:
    codes = picture("RGGB")
    rows = codes.shape[1] * 9 // 16
    top = (codes.shape[0] - rows) // 2
    section = codes[top : top + rows]
    found = measured_preview(section, measured_coast("RGGB", **SIZE))
    assert found.clip_signal_dn == found.block_signal_dn == {}
    assert (
        said(found.remarks) == "The preview shows another section of the picture than the raw data."
    )
    assert found.blown_share > 0


def test_a_shape_that_is_off_by_a_rounding_is_the_same_section() -> None:
    codes = picture("RGGB")
    trimmed = codes[: round(codes.shape[0] * 0.98)]
    found = measured_preview(trimmed, measured_coast("RGGB", **SIZE))
    assert found.remarks == ()
    assert set(found.clip_signal_dn) == {"R", "G", "B"}


def test_another_picture_tells_no_signal() -> None:
    other = np.ascontiguousarray(picture("RGGB")[::-1])
    found = measured_preview(other, measured_coast("RGGB", **SIZE))
    assert found.clip_signal_dn == found.block_signal_dn == {}
    assert said(found.remarks) == "The preview could not be laid over the raw data."
    assert found.blown_share > 0


def test_a_preview_without_white_tells_no_clip() -> None:
    dim = (picture("RGGB") // 2).astype(np.uint8)
    found = measured_preview(dim, measured_coast("RGGB", **SIZE))
    assert found.clip_signal_dn == {}
    assert found.blown_share == 0.0


def test_a_tiny_preview_is_measured_on_its_own_grid() -> None:
    codes = picture("RGGB")
    high, wide = codes.shape[0] // 6 * 6, codes.shape[1] // 6 * 6
    tiny = codes[:high, :wide].reshape(high // 6, 6, wide // 6, 6, 3).mean(axis=(1, 3))
    found = measured_preview(tiny.astype(np.uint8), measured_coast("RGGB", **SIZE))
    assert early_stops("RGGB", found)["G"] == pytest.approx(0.5, abs=0.15)


def test_a_dark_frame_tells_nothing() -> None:
    dark = measured(mosaic_of(np.full((200, 300), 512)))
    found = measured_preview(np.zeros((80, 120, 3), np.uint8), dark)
    assert found.blocked_share == 1.0
    assert found.clip_signal_dn == found.block_signal_dn == {}


def test_the_parting_signal() -> None:
    signal = np.arange(100.0)
    share = (signal >= 60).astype(float)
    assert parting_signal_dn(signal, share) == 59.5
    noisy_share = share.copy()
    noisy_share[[10, 90]] = 1 - noisy_share[[10, 90]]
    assert parting_signal_dn(signal, noisy_share) == 59.5
    assert parting_signal_dn(signal, np.zeros(100)) is None
    assert parting_signal_dn(signal, np.tile([0.0, 1.0], 50)) is None
    gap = np.where(signal < 60, signal, signal * 3)
    assert parting_signal_dn(gap, share) is None


def test_a_single_white_pixel_of_a_large_preview_is_counted() -> None:
    codes = np.full((804, 1200, 3), 120, dtype=np.uint8)
    codes[400, 600] = 255
    found = measured_preview(codes, measured_coast("RGGB", **SIZE))
    assert found.blown_share == pytest.approx(1 / (804 * 1200))
    assert "counted" not in said(found.remarks)


def test_a_preview_that_was_counted_small_says_so() -> None:
    shown = CameraPreview(picture("RGGB"), 6000, 4020)
    found = measure_preview(shown, measured_coast("RGGB", **SIZE))
    assert (found.width, found.height) == (6000, 4020)
    assert "6000 × 4020 pixels were counted" in said(found.remarks)


def corrected(stops: float) -> PreviewMeasurement:
    """A preview of the coast whose corners the camera lifted, by so much in the corner itself."""
    down, across = np.linspace(-1.0, 1.0, 402)[:, None], np.linspace(-1.0, 1.0, 600)
    gain = np.exp2(stops * (down**2 + across**2) / 2.0)[..., None]
    shown = exposed("RGGB", **SIZE).mosaic.pixels.astype(np.float64) - 512.0
    colours = np.stack([shown[0::2, 0::2], shown[0::2, 1::2], shown[1::2, 1::2]], axis=-1)
    white = np.array([0.5, 1.0, 0.66]) * 11_000.0
    codes = np.rint(255.0 * np.clip(colours * gain / white, 0.0, 1.0) ** 0.45).astype(np.uint8)
    return measured_preview(codes, measured_coast("RGGB", **SIZE))


@pytest.mark.parametrize(
    ("stops", "told"), [(0.0, True), (0.25, True), (0.35, False), (1.0, False)]
)
def test_a_preview_whose_corners_were_lifted_is_not_held_against_one_level(
    stops: float, told: bool
) -> None:
    found = corrected(stops)
    assert ("G" in found.clip_signal_dn) == told
    assert told or "corrected for the lens" in said(found.remarks)
