"""Black from dark frames: where the tag is off they settle it, and night is no dark frame."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.black.limits import DARK_LONGEST
from auditor.black.settle import DarkFrame, dark_frame, settle_blacks
from auditor.conclude import conclude
from auditor.model.arrays import F32
from auditor.model.audit import FrameResult
from auditor.model.clip_evidence import ClipEvidence
from auditor.model.codes import TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.model.measurement import FrameMeasurement, Pictures
from auditor.model.mosaic import BlackLevels, Mosaic
from auditor.model.settings import Settings
from auditor.words.findings import with_words
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_mosaics import SATURATION_E, coast, measured, mosaic_of
from tests.judge_maker import card_file
from tests.memory_source import MemoryMeasurementSource

NO_BORDER = {"margin_top": 0, "margin_left": 0}
SIZE = (600, 900)
LIGHT = SATURATION_E * 64.0
DARK = np.zeros((*SIZE, 3), np.float32)


def taken(
    light: F32 = DARK, iso: float = 100.0, *, seed: int = 4, time_s: float = 1.0, **body: Any
) -> Exposure:
    camera = SimulatedCamera(width=SIZE[1], height=SIZE[0], **(NO_BORDER | body))
    return camera.expose(light * np.float32(100.0 / iso / time_s), time_s, 8.0, iso, rng=seed)


def measurement(mosaic: Mosaic, iso: float = 100.0, time_s: float = 1.0) -> FrameMeasurement:
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "Brackwell F45", "7"),
        exposure=ExposureFacts(time_s, TimeSource.APEX, time_s, 8.0, iso),
    )
    return FrameMeasurement(facts, measured(mosaic), None, Pictures(b""))


def judged(*frames: FrameMeasurement) -> list[FrameResult]:
    files = [replace(card_file(f"{n}.DNG"), content_key=str(n)) for n in range(len(frames))]
    source = MemoryMeasurementSource({f.id: m for f, m in zip(files, frames, strict=True)})
    return list(conclude(files, {}, source, Settings()).frames)


@pytest.mark.parametrize("iso", [100.0, 800.0])
@pytest.mark.parametrize("off_dn", [-10.0, -3.0, 3.0, 10.0])
def test_dark_frames_settle_a_black_that_is_off(off_dn: float, iso: float) -> None:
    """Black within 0.2 DN, read noise 15 %, blocked share a point; alone it was all of it off."""
    day = taken(coast(*SIZE) * LIGHT, iso, black_tag_error_dn=off_dn)
    dark = taken(DARK, iso, seed=5, black_tag_error_dn=off_dn)
    frames = [measurement(one.mosaic, iso) for one in (day, dark)]
    (alone,), (settled, cap) = judged(frames[0]), judged(*frames)
    for before, channel, truth in zip(
        alone.channels, settled.channels, day.truth.planes, strict=True
    ):
        assert before.black_dn == pytest.approx(truth.black_dn + off_dn, abs=0.1)
        assert (channel.black_source, before.black_source) == ("dark frames", "metadata")
        assert channel.black_dn == pytest.approx(truth.black_dn, abs=0.2)
        assert channel.read_noise_dn == pytest.approx(truth.read_noise_dn, rel=0.15)
        assert channel.blocked_fraction == pytest.approx(truth.blocked_fraction, abs=0.01)
        assert channel.zero_fraction == pytest.approx(truth.zero_fraction, abs=0.05)
    assert cap.verdict == "dark frame"
    (told,) = [with_words(f) for f in settled.findings if f.code == "black-disagrees"]
    assert "in the dark frames of the shoot" in told.text
    assert told.value == pytest.approx(-off_dn, abs=0.3)


def test_a_masked_border_is_asked_before_dark_frames() -> None:
    body: dict[str, Any] = {"margin_top": 12, "margin_left": 24, "black_tag_error_dn": 10.0}
    frames = [measurement(taken(light, **body).mosaic) for light in (coast(*SIZE) * LIGHT, DARK)]
    assert {c.black_source for r in judged(*frames) for c in r.channels} == {"masked border"}


def test_dark_frames_that_bear_the_tag_out_change_nothing() -> None:
    day, dark = measurement(taken(coast(*SIZE) * LIGHT).mosaic), measurement(taken().mosaic)
    assert judged(day, dark)[0] == judged(day)[0]


@pytest.mark.parametrize("share", [2e-5, 2e-4, 1e-3, 5e-3])
@pytest.mark.parametrize("colours", [(0.6, 1.0, 0.75), (0.95, 1.0, 1.04), (1.0, 1.0, 1.0)])
def test_an_even_wall_at_night_is_no_dark_frame(
    colours: tuple[float, float, float], share: float
) -> None:
    """Its colours differ, and the lens darkens its corners; a stopped-down lens by a sixth stop."""
    night = (np.full((*SIZE, 3), share) * np.array(colours) * LIGHT).astype(np.float32)
    found = dark_frame(measurement(taken(night, vignetting_stops=0.3).mosaic), 30.0)
    assert found is None or max(map(abs, found.offsets_dn)) < 1.0


def test_a_night_with_a_horizon_is_no_dark_frame() -> None:
    night = coast(*SIZE) * np.float32(0.002 * LIGHT)
    assert dark_frame(measurement(taken(night).mosaic), 30.0) is None


def changed(mosaic: Mosaic, change: Callable[[NDArray[np.float64]], Any]) -> Mosaic:
    pixels = np.rint(change(mosaic.pixels.astype(np.float64))).clip(0, 65535)
    return replace(mosaic, pixels=pixels.astype(np.uint16))


RANDOM = np.random.default_rng(3)
ROW, COL = np.mgrid[: SIZE[0], : SIZE[1]]
ODD_DARKS: dict[str, tuple[Callable[[NDArray[np.float64]], Any], float]] = {
    "noise of whole rows": (lambda p: p + RANDOM.normal(0.0, 3.0, (SIZE[0], 1)), 0.4),
    "hot pixels": (lambda p: p + 2000.0 * (RANDOM.random(p.shape) < 0.004), 0.2),
    "glow in a corner": (
        lambda p: p + 40.0 * np.exp(-(COL**2 + (ROW - SIZE[0]) ** 2) / (2 * 80.0**2)), 10.1,
    ),
    "very many hot pixels": (lambda p: p + 500.0 * (RANDOM.random(p.shape) < 0.02), 10.1),
}  # fmt: skip


@pytest.mark.parametrize("odd", ODD_DARKS)
def test_odd_dark_frames_settle_black_or_leave_it(odd: str) -> None:
    """Black is off by 10 DN in the file: mended within the error told here, or left."""
    change, within = ODD_DARKS[odd]
    day = taken(coast(*SIZE) * LIGHT, black_tag_error_dn=10.0)
    dark = changed(taken(DARK, seed=5, black_tag_error_dn=10.0).mosaic, change)
    settled = judged(measurement(day.mosaic), measurement(dark))[0]
    for channel, truth in zip(settled.channels, day.truth.planes, strict=True):
        assert channel.black_dn == pytest.approx(truth.black_dn, abs=within)
        assert (channel.black_source == "metadata") == (within > 10.0)


@pytest.mark.parametrize(
    "change",
    [
        lambda p: p + 4.0 * COL / SIZE[1],
        lambda p: p + 4.0 * (SIZE[1] // 2 <= COL),
        lambda p: p + 10.0 * ROW / SIZE[0],
        lambda p: p + np.where((ROW % 2 == 0) & (COL % 2 == 0), 5.0, 3.0),
    ],
    ids=["a leak from one side", "halves apart", "drifts down", "a tinted glow"],
)
def test_a_frame_that_is_not_dark_throughout_moves_no_black(
    change: Callable[[NDArray[np.float64]], Any],
) -> None:
    day = taken(coast(*SIZE) * LIGHT)
    settled = judged(measurement(day.mosaic), measurement(changed(taken(seed=5).mosaic, change)))[0]
    assert {channel.black_source for channel in settled.channels} == {"metadata"}


def test_an_even_grey_glow_is_taken_for_black() -> None:
    """Light behind the cap that is alike all over and in all colours: nothing tells it apart."""
    day = taken(coast(*SIZE) * LIGHT)
    dark = changed(taken(seed=5).mosaic, lambda p: p + 4.0)
    settled = judged(measurement(day.mosaic), measurement(dark))[0]
    for channel, truth in zip(settled.channels, day.truth.planes, strict=True):
        assert channel.black_dn == pytest.approx(truth.black_dn + 4.0, abs=0.2)
    assert any(one.code == "black-disagrees" for one in settled.findings), "and it is said"


def frame(
    offset_dn: float = 10.0, *, gradient: float = 0.0, blue_dn: float = 0.0, tail: float = 0.0,
    black_dn: float = 512.0,
) -> DarkFrame | None:  # fmt: skip
    """A dark frame with one thing amiss; noise of 1 DN."""
    random = np.random.default_rng(3)
    values = black_dn + offset_dn + random.standard_normal((240, 360))
    values += gradient * np.linspace(-0.5, 0.5, 360)
    values[1::2, 1::2] += blue_dn
    values[random.random(values.shape) < 0.02] += tail
    mosaic = mosaic_of(
        np.rint(values.clip(0)), np.array([[0, 1], [2, 3]], np.uint8),
        black=BlackLevels(np.full((1, 1), black_dn)),
    )  # fmt: skip
    return dark_frame(measurement(mosaic), 1.0)


@pytest.mark.parametrize(
    ("changes", "dark"),
    [
        ({}, True),
        ({"offset_dn": 130.0}, True),
        ({"offset_dn": 190.0}, False),
        ({"offset_dn": 20.0, "gradient": 0.8}, True),
        ({"offset_dn": 20.0, "gradient": 1.7}, False),
        ({"offset_dn": -20.0, "gradient": 5.2}, True),
        ({"offset_dn": -20.0, "gradient": 7.2}, False),
        ({"offset_dn": 60.0, "blue_dn": 2.8}, True),
        ({"offset_dn": 60.0, "blue_dn": 4.0}, False),
        ({"tail": 2.9}, True),
        ({"tail": 6.0}, False),
        ({"black_dn": 0.0, "offset_dn": 3.75}, True),
        ({"black_dn": 0.0, "offset_dn": 3.58}, False),
    ],
    ids=str,
)
def test_a_dark_frame_is_even_narrow_and_near_black(changes: dict[str, float], dark: bool) -> None:
    assert (frame(**changes) is not None) == dark


def moved(*darks: tuple[float, float], time_s: float) -> tuple[float, ...] | None:
    """Settle a frame of a time by dark frames of (offset, time)."""
    evidence = ClipEvidence(("Brackwell", "F45", "7"), 100.0, 14, ())
    known = {str(n): DarkFrame((offset,), dark_s) for n, (offset, dark_s) in enumerate(darks)}
    frames = dict.fromkeys((*known, "own"), evidence)
    return settle_blacks(frames, dict.fromkeys(known, 1.0) | {"own": time_s}, known).get("own")


def test_a_long_dark_frame_tells_no_black_of_short_frames() -> None:
    assert moved((9.0, 240.0), time_s=0.01) is None
    assert moved((9.0, 240.0), time_s=240.0) == (9.0,)
    assert moved((9.0, 1.2 * DARK_LONGEST), time_s=0.01) is None
    assert moved((9.0, 0.8), time_s=0.01) == (9.0,)
    assert moved((2.0, 1.0), (9.0, 240.0), time_s=300.0) == (9.0,)
    assert moved((2.0, 1.0), (9.0, 240.0), time_s=100.0) == (2.0,)


def test_dark_frames_are_asked_for_their_median_and_move_a_dn_or_more() -> None:
    assert moved((9.0, 1.0), (9.4, 1.0), (30.0, 0.9), time_s=1.0) == (9.4,)
    assert moved((0.8, 1.0), time_s=1.0) is None
    assert moved((1.2, 1.0), time_s=1.0) == (1.2,)
