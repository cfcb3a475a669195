"""An extended ISO keeps the gain of another: found by the gains, and used in every exposure."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from auditor.conclude import Conclusions, conclude
from auditor.examine import examine_file
from auditor.group.grouping import group_shoot
from auditor.light.exposure import exposure_difference_stops
from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import NoiseSource, TimeSource
from auditor.model.facts import ExposureFacts
from auditor.model.measurement import NoiseEstimate
from auditor.model.remark import Doubt
from auditor.model.settings import GroupSettings, MeasureSettings, Settings
from auditor.noise.settle import true_isos
from auditor.read.card import find_files
from auditor.task import ExamineTask
from sample_generation.camera import SimulatedCamera
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.facts import FrameFacts
from sample_generation.filters import NeutralFilter
from tests.built_mosaics import SATURATION_E, clouds
from tests.memory_source import MemoryMeasurementSource
from tests.shoot_maker import EVENING, Shoot
from tests.shoot_plans import SEEDS, SIX, coast
from tests.unit.test_conclude import frame

BODY = ("Brackwell", "Brackwell F45", "7")


def told(
    *gains: tuple[float, float | None], baselines: tuple[float, ...] = ()
) -> dict[float, float]:
    """The true ISO of each ISO that is off, from (ISO, gain) of some frames."""
    names = {f"{n}": (iso, gain) for n, (iso, gain) in enumerate(gains)}
    planes = (PlaneEvidence("L", 16383, None, 9000),)
    evidence = {name: ClipEvidence(BODY, iso, 14, planes) for name, (iso, _) in names.items()}
    noise = {
        name: (NoiseEstimate(3.0, gain, NoiseSource.TRANSFER),) for name, (_, gain) in names.items()
    }
    moved = {f"{n}": stops for n, stops in enumerate(baselines)}
    return {names[name][0]: iso for name, (iso, _) in true_isos(evidence, noise, moved).items()}


def by_baseline(*frames: tuple[float, float]) -> dict[float, float]:
    """The same from (ISO, BaselineExposure), where no gain is measured."""
    silent = [(iso, None) for iso, _ in frames]
    return told(*silent, baselines=tuple(stops for _, stops in frames))


def test_an_iso_under_the_base_with_the_gain_of_the_base_is_pulled() -> None:
    assert told((50, 2.0), (100, 2.04)) == {50: 100.0}
    assert told((50, 1.0), (100, 2.0)) == {}, "a true one has half the gain"
    assert told((64, 2.0), (100, 2.0), (200, 4.0)) == {64: pytest.approx(101.6, abs=1.0)}


def test_of_several_isos_the_odd_one_is_off() -> None:
    assert told((100, 2.0), (200, 2.0), (400, 8.0), (800, 16.0)) == {200: 100.0}
    assert told((100, 4.0), (200, 4.0)) == {100: 200.0}, "of two the lower is the extended one"


def test_what_a_gain_may_be_off_by_accuses_no_iso() -> None:
    assert told((50, 2.0 * 0.7), (100, 2.0)) == {}
    assert told((50, 2.0 * 0.8), (100, 2.0)) == {50: pytest.approx(79.4, abs=1.0)}
    assert told((50, 2.0)) == {}, "nothing to hold it against"


@pytest.mark.parametrize("seed", SEEDS)
def test_a_filter_between_two_isos_is_what_it_is(seed: int) -> None:
    """Six stops, the long frame at ISO 50 that is pulled from 100: by its name five."""
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    long = shoot.take(place, 20.0, 16.0, iso=50.0, nd=SIX, gain_stops=1.0)
    frames = [
        one
        if one.id != long
        else replace(
            one,
            facts=replace(one.facts, exposure=replace(one.facts.exposure, gain_iso=100.0)),
        )
        for one in shoot.frames
    ]
    (by_name,), (by_gain,) = (
        group_shoot(some, GroupSettings()).siblings for some in (shoot.frames, frames)
    )
    assert by_name.filter_stops == pytest.approx(SIX[1] - 1.0, abs=0.1)
    assert by_name.confidence <= 0.5, "no gain tells it: doubted"
    assert by_gain.filter_stops == pytest.approx(SIX[1], abs=0.1)
    assert by_gain.confidence >= 0.65


def test_an_audit_says_so_and_calculates_by_the_gain() -> None:
    files, measured = [], {}
    for iso in (50.0, 100.0, 200.0):
        gain = 2.0 * max(iso, 100.0) / 100.0
        file, made = frame(
            f"A/{iso:.0f}.DNG", NoiseEstimate(3.0, gain, NoiseSource.TRANSFER), f"{iso}"
        )
        exposure = ExposureFacts(1.0, TimeSource.APEX, 1.0, 8.0, iso)
        files.append(file)
        measured[file.id] = replace(made, facts=replace(made.facts, exposure=exposure))
    results = conclude(files, {}, MemoryMeasurementSource(measured), Settings()).frames
    assert [one.exposure.gain_iso for one in results] == [100.0, None, None]
    assert results[0].exposure.iso == 50.0
    assert results[0].exposure.ev100 == results[1].exposure.ev100
    assert exposure_difference_stops(results[0].exposure, results[1].exposure) == 0.0
    assert any("the gain is that of ISO 100" in note for note in results[0].notes)


def test_baseline_exposures_that_differ_tell_the_iso() -> None:
    assert by_baseline((50, -1.0), (100, 0.0)) == {50: 100.0}
    assert by_baseline((100, 0.0), (200, 1.0)) == {200: 100.0}, "highlights saved"
    assert by_baseline((100, -1.0), (200, 0.0)) == {100: 200.0}, "pulled"
    assert by_baseline((50, -0.65), (100, 0.35), (200, 0.35), (400, 0.35)) == {50: 100.0}
    assert by_baseline((64, -0.67), (100, 0.0)) == {64: pytest.approx(101.6, abs=1.0)}


def test_baseline_exposures_alike_or_alone_tell_nothing() -> None:
    assert by_baseline((50, 0.0), (100, 0.0), (200, 0.0)) == {}
    assert by_baseline((50, -1.0)) == by_baseline((200, 1.0)) == {}


@pytest.mark.parametrize(("off", "believed"), [(0.015, True), (0.025, False)])
def test_baseline_exposures_set_by_the_scene_tell_no_iso(off: float, *, believed: bool) -> None:
    """No thirds of a stop apart, or unlike at one ISO."""
    expected = {50: 100.0} if believed else {}
    assert by_baseline((50, -1.0 - off), (100, 0.0)) == expected
    assert by_baseline((50, -1.0), (100, 0.0), (100, off / 2.0), (100, -off / 2.0)) == expected


def test_measured_gains_go_before_baseline_exposures() -> None:
    frames = ((50, 1.0), (100, 2.0), (200, None))
    assert told(*frames, baselines=(-1.0, 0.0, 0.0)) == {}, "the gains say that ISO 50 is true"
    assert told(*frames, baselines=(0.0, 0.0, 1.0)) == {200: 100.0}, "and nothing of ISO 200"
    assert told(*frames, baselines=(-1.0, 0.0, 1.0)) == {}, "wrong once, believed of none"
    assert told((50, 2.0), (100, 2.0), baselines=(-1.0, 0.0)) == {50: 100.0}
    assert told((50, 2.0), (100, 2.0), baselines=(0.0, 0.0)) == {50: 100.0}
    assert told((50, None), (100, 2.0), baselines=(-1.0, 0.0)) == {50: 100.0}


SIX_STOPS = NeutralFilter(6.0, (6.0, 6.0, 6.0))


def three_files(root: Path, named: float, read_at: float, baseline: float) -> Conclusions:
    """Audit three files of one place: at ISO 100, through six stops, and at ISO 100 again.

    The filtered one names one ISO and was read at another; nothing in any tells a gain.
    """
    camera = SimulatedCamera(width=900, height=600, margin_top=0, margin_left=0)
    light = (clouds(600, 900) * 0.5 * SATURATION_E * 64.0**2).astype(np.float32)
    long_s = 100.0 / read_at
    shots = (
        (0.0, 2.0**-6, 100.0, 100.0, 0.0, ()),
        (20.0, long_s, named, read_at, baseline, (SIX_STOPS,)),
        (45.0, 2.0**-6, 100.0, 100.0, 0.0, ()),
    )
    for n, (at_s, time_s, iso, true_iso, moved, filters) in enumerate(shots):
        taken = camera.expose(light, time_s, 8.0, true_iso, filters=filters, rng=n)
        facts = FrameFacts(time_s, 8.0, iso, EVENING + timedelta(seconds=at_s))
        told_so = DngOptions(preview=False, baseline_exposure_stops=moved)
        (root / f"F45_{n}.DNG").write_bytes(dng_bytes(taken, facts, options=told_so))
    files = [replace(file, content_key=file.id) for file in find_files([str(root)]).files]
    measured = {
        file.id: examine_file(ExamineTask(file.path, file.kind, MeasureSettings()))
        for file in files
    }
    planes = [plane for one in measured.values() for plane in one.mosaic.planes]
    assert {plane.noise.gain_dn_per_e for plane in planes} == {None}
    return conclude(files, {}, MemoryMeasurementSource(measured), Settings())


@pytest.mark.parametrize(("named", "baseline"), [(50.0, -1.0), (200.0, 1.0)])
def test_a_filter_between_isos_that_files_tell_apart_is_what_it_is(
    tmp_path: Path, named: float, baseline: float
) -> None:
    """Both were read at ISO 100; by its name the filter is a stop off."""
    found = three_files(tmp_path, named, 100.0, baseline)
    (pair,) = found.grouping.siblings
    assert pair.filter_stops == pytest.approx(6.0, abs=0.1)
    assert pair.confidence >= 0.85
    assert pair.doubts == ()
    long = found.frames[1]
    assert (long.exposure.iso, long.exposure.gain_iso) == (named, 100.0)
    assert long.exposure.baseline_exposure_stops == baseline
    assert any("by its baseline exposure" in note for note in long.notes)


def test_an_iso_under_the_base_that_no_file_tells_apart_stays_doubted(tmp_path: Path) -> None:
    (pair,) = three_files(tmp_path, 50.0, 100.0, 0.0).grouping.siblings
    assert pair.filter_stops == pytest.approx(5.0, abs=0.1)
    assert [doubt.code for doubt in pair.doubts] == [Doubt.EXTENDED_ISO]
    assert pair.confidence <= 0.5


def test_isos_that_are_true_stay_as_named(tmp_path: Path) -> None:
    found = three_files(tmp_path, 200.0, 200.0, 0.0)
    (pair,) = found.grouping.siblings
    assert pair.filter_stops == pytest.approx(6.0, abs=0.1)
    assert pair.confidence >= 0.85
    assert {frame.exposure.gain_iso for frame in found.frames} == {None}
