"""An extended ISO keeps the gain of another: found by the gains, and used in every exposure."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.conclude import conclude
from auditor.group.grouping import group_shoot
from auditor.light.exposure import exposure_difference_stops
from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import NoiseSource, TimeSource
from auditor.model.facts import ExposureFacts
from auditor.model.measurement import NoiseEstimate
from auditor.model.settings import GroupSettings, Settings
from auditor.noise.settle import true_isos
from tests.memory_source import MemoryMeasurementSource
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, SIX, coast
from tests.unit.test_conclude import frame

BODY = ("Brackwell", "Brackwell F45", "7")


def told(*gains: tuple[float, float]) -> dict[float, float]:
    """The true ISO of each ISO that is off, from (ISO, gain) of some frames."""
    names = {f"{n}": (iso, gain) for n, (iso, gain) in enumerate(gains)}
    planes = (PlaneEvidence("L", 16383, None, 9000),)
    evidence = {name: ClipEvidence(BODY, iso, 14, planes) for name, (iso, _) in names.items()}
    noise = {
        name: (NoiseEstimate(3.0, gain, NoiseSource.TRANSFER),) for name, (_, gain) in names.items()
    }
    return {names[name][0]: iso for name, iso in true_isos(evidence, noise).items()}


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
