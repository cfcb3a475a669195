"""Odd sensors and packing: gain and read noise within 15 % of the truth, or null with a reason."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.conclude import conclude
from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import NoiseSource, TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.model.measurement import FrameMeasurement, NoiseEstimate, Pictures
from auditor.model.mosaic import Mosaic
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import Settings
from auditor.noise.settle import over_black, settle_noise
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_effects import (
    NO_BLACK,
    Effect,
    banded,
    climbing,
    coarse,
    companded,
    cut_at,
    cut_at_black,
    dark_smoothed,
    drifting,
    halves,
    leaking,
    packed_in_steps,
    phase_pixels,
    remade,
    rooted,
    two_gains,
    warmed,
    without_peaks,
)
from tests.built_mosaics import BLACK_DN, SATURATION_E, coast, measured, noises_of, true_or_null
from tests.judge_maker import card_file
from tests.memory_source import MemoryMeasurementSource

NO_BORDER = {"margin_top": 0, "margin_left": 0}
SIZE = (800, 1200)


def taken(iso: float, border: dict[str, Any]) -> Exposure:
    camera = SimulatedCamera(width=SIZE[1], height=SIZE[0], **border)
    light = coast(*SIZE) * np.float32(SATURATION_E * 64.0 * 100.0 / iso)
    return camera.expose(light, 1.0, 8.0, iso, rng=3)


def noises(mosaic: Mosaic) -> list[NoiseEstimate]:
    return noises_of(measured(mosaic))


EFFECTS: dict[str, Effect] = {
    "rows 1 DN": banded(1.0),
    "rows 12 DN": banded(12.0),
    "black climbs by 10 DN": drifting(10.0),
    "black falls by 10 DN": drifting(-10.0),
    "light leaks 40 DN": leaking(40.0),
    "light leaks 400 DN": leaking(400.0),
    "steps of 4": coarse(4.0),
    "steps of 16": coarse(16.0),
    "shadows smoothed to 20 DN": dark_smoothed(20.0),
    "shadows smoothed to 100 DN": dark_smoothed(100.0),
    "shadows smoothed to 400 DN": dark_smoothed(400.0),
    "peaks filtered out": without_peaks,
    "halves 2 DN apart": halves(2.0),
    "halves 8 DN apart": halves(8.0),
    "pixels with half the light": phase_pixels(0.5, 6),
    "pixels with most of the light": phase_pixels(0.9, 12),
}
AT_ANY_ISO: dict[str, Effect] = {
    "cut off at black": cut_at(BLACK_DN),
    "by square roots, 8 bits": companded(8),
    "by square roots, 9 bits": companded(9),
    "by square roots, 10 bits": companded(10),
    "by square roots, 11 bits": companded(11),
    "by square roots, 12 bits": companded(12),
    "by roots from black on, 1.4 DN": rooted(1.4),
    "by roots from black on, 2 DN": rooted(2.0),
    "by roots from black on, 8 DN": rooted(8.0),
    "every second code": coarse(2.0),
    "steps as wide as the noise": packed_in_steps(1.0),
    "steps three times as wide": packed_in_steps(3.0),
    "steps four times as wide": packed_in_steps(4.0),
    "black climbs by 20 DN in the picture alone": climbing(20.0),
    "black climbs by 8 DN in the picture alone": climbing(8.0),
}


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize(
    ("effect", "iso"),
    [
        *((effect, 100.0) for effect in (EFFECTS | AT_ANY_ISO).values()),
        *((effect, 1600.0) for effect in AT_ANY_ISO.values()),
    ],
    ids=[*EFFECTS, *AT_ANY_ISO, *(f"{name} at ISO 1600" for name in AT_ANY_ISO)],
)
def test_gain_and_read_noise_are_right_or_null(
    effect: Effect, iso: float, border: dict[str, Any]
) -> None:
    frame = taken(iso, border)
    true_or_null(frame, noises(remade(frame, effect)))


@pytest.mark.parametrize("toward", ["right", "down"])
@pytest.mark.parametrize(("iso", "dn"), [(100.0, 400.0), (1600.0, 400.0), (100.0, 40.0)])
def test_warmth_that_grows_over_the_sensor_makes_no_read_noise(
    iso: float, dn: float, toward: str
) -> None:
    frame = taken(iso, {})
    true_or_null(frame, noises(remade(frame, warmed(dn, 0.3 * iso / 100.0, toward))))


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize(
    ("iso", "read"), [(125.0, False), (160.0, True), (250.0, True), (1250.0, True)]
)
def test_multiplied_values_tell_read_noise_but_where_rounding_twice_is_as_large(
    iso: float, read: bool, border: dict[str, Any]
) -> None:
    """ISOs a third of a stop off: 1 DN of noise times 1.25 is 17 % less once it is rounded."""
    frame = taken(iso, border)
    found = noises(frame.mosaic)
    true_or_null(frame, found)
    assert [noise.read_noise_dn is not None for noise in found] == [read] * 4


@pytest.mark.parametrize("seed", [3, 4])
@pytest.mark.parametrize("under_dn", [0.0, 1000.0])
def test_a_sky_whose_dark_part_was_smoothed_tells_no_gain(under_dn: float, seed: int) -> None:
    """Nothing is as dark as its read noise, and no border tells it: the relation bends instead."""
    camera = SimulatedCamera(width=SIZE[1], height=SIZE[0], margin_top=0, margin_left=0)
    sky = np.linspace(1.4, 0.02, SIZE[0])[:, None, None] * np.ones((1, SIZE[1], 3), np.float32)
    frame = camera.expose(sky * np.float32(SATURATION_E * 64.0), 1.0, 8.0, 100.0, rng=seed)
    found = noises(remade(frame, dark_smoothed(under_dn)) if under_dn else frame.mosaic)
    true_or_null(frame, found)
    assert under_dn or all(noise.gain_dn_per_e is not None for noise in found)


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
def test_black_that_was_cut_off_tells_no_read_noise(border: dict[str, Any]) -> None:
    mosaic = replace(remade(taken(100.0, border), cut_at_black), black=NO_BLACK)
    assert [noise.read_noise_dn for noise in noises(mosaic)] == [None] * 4


@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize(("share", "told"), [(0.92, True), (0.89, False), (0.25, False)])
def test_rows_of_two_gains_tell_none(share: float, told: bool, iso: float) -> None:
    found = noises(remade(taken(iso, NO_BORDER), two_gains(share)))
    assert [noise.gain_dn_per_e is not None for noise in found] == [told] * 4
    assert told or all(remark(RemarkCode.LINES_TAKE_TURNS) in noise.remarks for noise in found)


@pytest.mark.parametrize(("step", "told"), [(2.0, True), (4.0, False)])
def test_codes_wider_than_the_read_noise_tell_none(step: float, told: bool) -> None:
    for border in ({}, NO_BORDER):
        found = noises(remade(taken(100.0, border), coarse(step)))
        assert {noise.read_noise_dn is not None for noise in found} == {told}
        assert told or all(noise.remarks for noise in found)
        assert told or any(remark(RemarkCode.COARSE_DARK) in noise.remarks for noise in found)


def test_a_frame_that_noise_reduction_smoothed_is_lent_no_noise() -> None:
    """As bodies do it in long exposures alone: its sisters' noise is not its own."""
    frame, files, kept = taken(100.0, NO_BORDER), [], {}
    for n, mosaic in enumerate(
        (frame.mosaic, taken(100.0, NO_BORDER).mosaic, remade(frame, dark_smoothed(400.0)))
    ):
        facts = FileFacts(
            camera=CameraFacts("Brackwell", "Brackwell F45", "7"),
            exposure=ExposureFacts(1.0, TimeSource.APEX, 1.0, 8.0, 100.0),
        )
        files.append(replace(card_file(f"{n}.DNG"), content_key=str(n)))
        kept[files[-1].id] = FrameMeasurement(facts, measured(mosaic), None, Pictures(b""))
    *_, smoothed = conclude(files, {}, MemoryMeasurementSource(kept), Settings()).frames
    assert [channel.noise_floor_dn for channel in smoothed.channels] == [None] * 4
    for channel in smoothed.channels:
        assert any("less noise than the read noise of the other" in note for note in channel.notes)


def test_read_noise_follows_a_black_that_is_moved() -> None:
    own = NoiseEstimate(3.0, 0.5, NoiseSource.TRANSFER, darkest_dn=4.0)
    assert over_black(own, 14.0, unlit=False).read_noise_dn == pytest.approx(4.0)
    assert over_black(own, -18.0, unlit=False).read_noise_dn is None
    assert over_black(replace(own, read_noise_dn=None), 9.0, unlit=True).read_noise_dn == 4.0
    assert over_black(replace(own, gain_dn_per_e=None), 9.0, unlit=False).read_noise_dn == 3.0


@pytest.mark.parametrize(("darkest_dn", "lent"), [(2.7, True), (2.4, False)])
def test_noise_is_lent_where_the_darkest_places_have_that_of_the_sisters(
    darkest_dn: float, lent: bool
) -> None:
    plane = PlaneEvidence("L", 16383.0, None, 9000)
    frame = ClipEvidence(("Brackwell", "F45", "7"), 100.0, 14, (plane,))
    told = NoiseEstimate(3.0, 0.5, NoiseSource.TRANSFER, darkest_dn=3.0)
    silent = NoiseEstimate(None, None, None, (), darkest_dn)
    noise = {"a": (told,), "b": (told,), "own": (silent,)}
    (own,) = settle_noise(dict.fromkeys(noise, frame), noise)["own"]
    assert (own.floor_dn is not None) == lent
