from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime

import pytest

from auditor.light.optics import crop_factor, depth_of_field, pixel_pitch_um
from auditor.model.audit import FrameSize
from auditor.model.facts import LensFacts
from auditor.model.remark import RemarkCode, remark
from tests.evenings import ZONE, frame_at
from tests.told import frame_optics

FRAME = frame_at("S.dng", datetime(2031, 9, 14, 19, tzinfo=ZONE))


def test_pixel_pitch_of_a_full_frame_sensor() -> None:
    lens = LensFacts(focal_mm=35.0, focal_35mm=35.0)
    assert pixel_pitch_um(lens, FrameSize(6000, 4000, 14)) == pytest.approx(6.0)


def test_pixel_pitch_shrinks_with_the_crop() -> None:
    lens = LensFacts(focal_mm=24.0, focal_35mm=36.0)
    assert crop_factor(lens) == pytest.approx(1.5)
    assert pixel_pitch_um(lens, FrameSize(6000, 4000, 14)) == pytest.approx(4.0)


@pytest.mark.parametrize(
    "lens",
    [LensFacts(), LensFacts(focal_mm=35.0), LensFacts(focal_mm=0.0, focal_35mm=35.0),
     LensFacts(focal_mm=35.0, focal_35mm=35000.0)],
)  # fmt: skip
def test_a_sensor_of_unknown_size_has_no_pitch_but_a_reason(lens: LensFacts) -> None:
    told = frame_optics(replace(FRAME, lens=lens))
    assert told.pitch_um is None
    assert told.depth is None
    assert any("sensor's size" in reason for reason in told.reasons)


@pytest.mark.parametrize(
    ("lens", "reason"),
    [
        (LensFacts(focal_mm=35.0), "does not tell the focal length in 35 mm terms"),
        (LensFacts(focal_mm=0.0, focal_35mm=35.0), "nothing without the true one"),
        (LensFacts(focal_mm=35.0, focal_35mm=35000.0), "fit no sensor"),
        (replace(FRAME.lens, focus_distance_m=0.02), "shorter than the focal length"),
    ],
)
def test_the_reason_is_the_true_one(lens: LensFacts, reason: str) -> None:
    told = frame_optics(replace(FRAME, lens=lens)).reasons
    assert sum(reason in entry for entry in told) == 1
    own = "in 35 mm terms, so" in " ".join(told)
    assert own == (lens.focal_35mm is None), "what the file does tell is not called absent"


def test_a_frame_tells_depth_and_diffraction_for_its_own_settings() -> None:
    told = frame_optics(FRAME)
    assert told.depth is not None
    assert told.diffraction is not None
    assert told.depth.hyperfocal_m == pytest.approx((35**2 / (11 * 0.012586) + 35) / 1000, rel=1e-4)
    assert told.depth.near_m is None
    assert told.diffraction.airy_um == pytest.approx(2.44 * 0.55 * 11)
    assert told.pitch_um == pytest.approx(4.394, abs=2e-3)
    assert told.reasons == ("The file does not tell the focus distance.",)


def test_a_known_focus_distance_gives_the_limits() -> None:
    focused = replace(FRAME, lens=replace(FRAME.lens, focus_distance_m=2.0))
    depth = frame_optics(focused).depth
    assert depth is not None
    assert depth.near_m is not None
    assert depth.far_m is not None
    assert depth.near_m < 2.0 < depth.far_m < math.inf


@pytest.mark.parametrize("f_number", [0.0, -1.0, 1e9, math.inf, math.nan])
def test_an_aperture_no_glass_can_have_is_told_as_absent(f_number: float) -> None:
    told = frame_optics(replace(FRAME, exposure=replace(FRAME.exposure, f_number=f_number)))
    assert told.f_number is None
    assert told.diffraction is None


def test_focus_nearer_than_the_focal_length_counts_as_unknown() -> None:
    assert depth_of_field(50.0, 8.0, 0.03, focus_m=0.01).near_m is None


def test_a_proxy_is_as_sharp_as_the_lens_drew_on_the_original() -> None:
    """Made smaller by six: its pixels tell nothing of the sensor's."""
    small = replace(FRAME, size=FrameSize(1000, 666, 8))
    proxy = replace(small, remarks=(remark(RemarkCode.PROXY, width=6000, height=3996),))
    whole = frame_optics(replace(FRAME, size=FrameSize(6000, 3996, 14)))
    assert frame_optics(proxy).pitch_um == whole.pitch_um
    assert frame_optics(proxy).depth == whole.depth
    assert frame_optics(small).pitch_um == pytest.approx(6.0 * (whole.pitch_um or 0.0), rel=1e-3)


def test_a_smaller_sensor_asks_for_a_smaller_circle() -> None:
    """H = f² / (N c) + f, with c = 0.012586 mm on full frame over the crop factor 1.5."""
    lens = LensFacts(focal_mm=24.0, focal_35mm=36.0)
    depth = frame_optics(replace(FRAME, lens=lens)).depth
    assert depth is not None
    assert depth.hyperfocal_m == pytest.approx(
        (24**2 / (11 * 0.012586 / 1.5) + 24) / 1000, rel=1e-4
    )
