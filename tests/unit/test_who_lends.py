"""Who may lend: levels, noise, black and the history never mix the sensors of one body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
import pytest

from auditor.advise.isos import iso_figures
from auditor.black.settle import DarkFrame, settle_blacks
from auditor.clipping.settle import LevelHistory, clip_evidence, module_text, settle_levels
from auditor.history.rows import sensor_rows
from auditor.history.shots import Shot, sensor_of
from auditor.model.audit import FrameSize
from auditor.model.clip_evidence import ClipEvidence
from auditor.model.codes import Layout, NoiseSource, TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts, LensFacts
from auditor.model.measurement import FrameMeasurement, NoiseEstimate, Pictures
from auditor.model.mosaic import BlackLevels
from auditor.model.settings import JudgeSettings
from auditor.noise.settle import settle_noise
from auditor.store.packing import pack_measurement
from auditor.words.next_time import iso_lines
from tests.built_mosaics import RGGB, measured, mosaic_of
from tests.evenings import ZONE, frame_at
from tests.unit.test_clipping_settle import pile_up

MAIN, WIDE = LensFacts(focal_mm=4.25, focal_35mm=26.0), LensFacts(focal_mm=1.54, focal_35mm=13.0)
"""Two modules of a phone, of one size, depth and black."""


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What a frame was taken with."""

    iso: float = 100.0
    bits: int = 14
    size: tuple[int, int] = (240, 360)
    black_dn: float = 512.0
    pattern: Any = None
    serial: str = "7"
    lens: LensFacts = MAIN

    def measurement(self) -> FrameMeasurement:
        values = np.random.default_rng(1).normal(self.black_dn + 300.0, 5.0, self.size)
        mosaic = mosaic_of(
            np.rint(values), RGGB if self.pattern is None else self.pattern,
            bit_depth=self.bits, black=BlackLevels(np.full((1, 1), self.black_dn)),
        )  # fmt: skip
        facts = FileFacts(
            camera=CameraFacts("Brackwell", "Brackwell F45", self.serial), lens=self.lens,
            exposure=ExposureFacts(1.0, TimeSource.APEX, 1.0, 8.0, self.iso),
        )  # fmt: skip
        return FrameMeasurement(facts, measured(mosaic), None, Pictures(b""))


OTHERS = {
    "another ISO": Taken(iso=200.0),
    "another depth": Taken(bits=12),
    "another size": Taken(size=(180, 240)),
    "another black": Taken(black_dn=64.0),
    "no colours": Taken(pattern=np.zeros((1, 1), np.uint8)),
    "another body": Taken(serial="8"),
    "another module of the phone": Taken(lens=WIDE),
}


def evidence(taken: Taken, *, clips: bool = False) -> ClipEvidence:
    """Of one plane, named the same in all layouts; told to clip at 15,800 DN."""
    found = clip_evidence(taken.measurement())
    plane = replace(found.planes[0], name="R", pile_up=pile_up(15800) if clips else None)
    return replace(found, planes=(plane,))


def lent(lender: Taken, borrower: Taken = Taken()) -> set[str]:
    """What a frame takes from another: its level, its noise, its black, a remembered level."""
    frames = {"own": evidence(borrower), "other": evidence(lender, clips=True)}
    found = set()
    if settle_levels(frames)["own"][0].source == "shoot":
        found.add("level")
    silent, told = NoiseEstimate(None, None), NoiseEstimate(3.0, 2.0, NoiseSource.TRANSFER)
    settled = settle_noise(frames, {"own": (silent,), "other": (told,)})
    if settled["own"][0].gain_dn_per_e is not None:
        found.add("noise")
    dark = {"other": DarkFrame((9.0,), 1.0)}
    if "own" in settle_blacks(frames, dict.fromkeys(frames, 1.0), dark):
        found.add("black")
    known = LevelHistory({frames["other"].key("R"): ((15800.0, 15790.0),) * 3})
    if settle_levels({"own": frames["own"]}, known)["own"][0].source == "history":
        found.add("history")
    return found


def test_a_frame_of_the_same_sensor_lends_all() -> None:
    assert lent(Taken()) == {"level", "noise", "black", "history"}


@pytest.mark.parametrize("other", OTHERS)
def test_a_frame_of_another_sensor_or_setting_lends_nothing(other: str) -> None:
    assert lent(OTHERS[other]) == set()


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        (LensFacts(focal_mm=24.0, focal_35mm=24.0), LensFacts(focal_mm=70.0, focal_35mm=70.0), 1),
        (LensFacts(focal_mm=12.0, focal_35mm=24.0), LensFacts(focal_mm=40.0, focal_35mm=80.0), 1),
        (LensFacts(focal_mm=8.8, focal_35mm=24.0), LensFacts(focal_mm=25.7, focal_35mm=70.0), 1),
        (LensFacts(focal_mm=7.8), LensFacts(focal_mm=24.0), 1),
        (LensFacts(), LensFacts(), 1),
        (MAIN, WIDE, 0),
        (LensFacts(focal_mm=4.25), LensFacts(focal_mm=6.0), 0),
        (LensFacts(focal_mm=6.8, focal_35mm=24.0), LensFacts(focal_mm=2.2, focal_35mm=13.0), 0),
    ],
)
def test_a_zoom_is_no_other_sensor_and_a_phone_s_module_is(
    first: LensFacts, second: LensFacts, same: int
) -> None:
    """Full frame, Four Thirds and one-inch sensors; phones with and without the crop."""
    assert (module_text(first) == module_text(second)) == bool(same)


@pytest.mark.parametrize(("focal_35mm", "told"), [(3.2 * 6.0, False), (3.8 * 6.0, True)])
def test_modules_have_a_crop_of_three_and_a_half(focal_35mm: float, *, told: bool) -> None:
    assert bool(module_text(LensFacts(focal_mm=6.0, focal_35mm=focal_35mm))) == told


@pytest.mark.parametrize(("focal_mm", "told"), [(6.9, True), (8.0, False)])
def test_without_a_crop_a_module_has_a_very_short_lens(focal_mm: float, *, told: bool) -> None:
    assert bool(module_text(LensFacts(focal_mm=focal_mm))) == told


@pytest.mark.parametrize("lens", [MAIN, WIDE, LensFacts(focal_mm=50.0, focal_35mm=50.0)])
def test_what_the_store_remembers_bears_the_key_that_is_asked_for(lens: LensFacts) -> None:
    measurement = Taken(lens=lens).measurement()
    planes = tuple(replace(plane, pile_up=pile_up(15800)) for plane in measurement.mosaic.planes)
    whole = replace(measurement, mosaic=replace(measurement.mosaic, planes=planes))
    keys = {row[:6] for row in pack_measurement(whole).pile_ups}
    assert keys == {clip_evidence(whole).key(plane.name) for plane in planes}


def shots(*sensors: tuple[FrameSize, LensFacts]) -> Sequence[Shot]:
    frame = frame_at("S.dng", datetime(2031, 9, 14, 12, tzinfo=ZONE))
    return [
        Shot(replace(frame, size=size, lens=lens, layout=Layout.BAYER), 0, JudgeSettings())
        for size, lens in sensors
    ]


FULL = LensFacts(focal_mm=35.0, focal_35mm=35.0)


@pytest.mark.parametrize(
    ("other", "rows"),
    [
        ((FrameSize(6000, 4000, 14), LensFacts(focal_mm=70.0, focal_35mm=70.0)), 1),
        ((FrameSize(6000, 4000, 12), FULL), 2),
        ((FrameSize(4000, 3000, 14), FULL), 2),
        ((FrameSize(6000, 4000, 14), MAIN), 2),
    ],
)
def test_the_history_sums_up_each_sensor_and_depth_for_itself(
    other: tuple[FrameSize, LensFacts], rows: int
) -> None:
    found = sensor_rows(shots((FrameSize(6000, 4000, 14), FULL), other))
    greens = [row for row in found if row.channel == "G1"]
    assert [row.frames for row in greens] == [2 // rows] * rows
    assert len({row.sensor for row in greens}) == rows
    figures = [
        replace(one, range_stops=11.0) for one in iso_figures(found) if one.body == greens[0].body
    ]
    assert len(figures) == rows
    lines = " ".join(iso_lines(figures))
    assert ("6000 × 4000, 14 bit" in lines) == (rows == 2), "named where there are several"


def test_a_frame_is_held_against_its_own_sensor() -> None:
    (shot,) = shots((FrameSize(4032, 3024, 12), MAIN))
    assert sensor_of(shot.frame) == "bayer 4032 × 3024, 12 bit lens 4.25 mm"
    assert sensor_of(replace(shot.frame, size=None)) == ""
