"""From measurements to opinions: what a shoot's frames tell of one another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from auditor.clipping.settle import LevelHistory
from auditor.conclude import Past, conclude
from auditor.history.filters import known_filters
from auditor.history.rows import sensor_rows
from auditor.history.shots import gather
from auditor.model.codes import NoiseSource
from auditor.model.facts import CameraFacts, CardFile
from auditor.model.measurement import FrameMeasurement, NoiseEstimate
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import Settings
from tests.evenings import evenings
from tests.judge_maker import SIDE_TILES, TILE_PX, card_file, measured_mono
from tests.memory_source import MemoryMeasurementSource

DIM = np.random.default_rng(4).normal(3000.0, 60.0, (SIDE_TILES * TILE_PX,) * 2).round()
BODY = CameraFacts("Brackwell", "Brackwell F45", "7")
SILENT = NoiseEstimate(None, None, None, (remark(RemarkCode.FEW_LEVELS),))


def frame(name: str, noise: NoiseEstimate, key: str) -> tuple[CardFile, FrameMeasurement]:
    measured = measured_mono(DIM)
    planes = tuple(replace(plane, noise=noise) for plane in measured.mosaic.planes)
    mosaic = replace(measured.mosaic, planes=planes)
    facts = replace(measured.facts, camera=BODY)
    return replace(card_file(name), content_key=key), replace(measured, facts=facts, mosaic=mosaic)


def gain_lent(*frames: tuple[CardFile, FrameMeasurement]) -> list[float | None]:
    files = [file for file, _ in frames]
    measurements = MemoryMeasurementSource({file.id: measured for file, measured in frames})
    judged = conclude(files, {}, measurements, Settings()).frames
    return [result.channels[0].gain_dn_per_e for result in judged]


def test_earlier_shoots_are_counted_once_for_all_that_they_teach() -> None:
    past = Past.of(LevelHistory(), iter(evenings()))
    assert past.filters == known_filters(evenings()) != ()
    assert past.sensors == sensor_rows(gather(evenings()).shots) != ()


def test_a_frame_bears_witness_once_however_many_copies_there_are() -> None:
    silent = frame("A/1.DNG", SILENT, "silent")
    one, other = (NoiseEstimate(3.0, gain, NoiseSource.TRANSFER) for gain in (1.0, 1.1))
    copies = [frame(f"{card}/2.DNG", one, "one") for card in "ABC"]
    last = frame("A/3.DNG", other, "other")
    assert gain_lent(silent, *copies, last) == [1.05, 1.0, 1.0, 1.0, 1.1]
    assert gain_lent(silent, copies[0], last) == [1.05, 1.0, 1.1]


def test_a_copy_of_a_silent_frame_is_lent_the_same() -> None:
    told = frame("A/1.DNG", NoiseEstimate(3.0, 2.0, NoiseSource.TRANSFER), "told")
    silent = [frame(f"{card}/2.DNG", SILENT, "silent") for card in "AB"]
    assert gain_lent(told, *silent) == [2.0, 2.0, 2.0]


def test_stamps_that_would_let_exposures_overlap_are_told_as_the_closing() -> None:
    made = [frame(f"A/BRK_{n:04d}.DNG", SILENT, str(n)) for n in range(3)]
    files = [file for file, _ in made]
    kept = {
        file.id: replace(
            measured,
            facts=replace(
                measured.facts, captured_at=f"2026-09-12T17:0{at_s // 60}:{at_s % 60:02d}",
                exposure=replace(measured.facts.exposure, time_s=time_s),
            ),
        )
        for (file, measured), (at_s, time_s) in zip(
            made, ((60, 60.0), (65, 0.5), (130, 60.0)), strict=True
        )
    }  # fmt: skip
    judged = conclude(files, {}, MemoryMeasurementSource(kept), Settings()).frames
    assert [result.exposure.stamp_at_end for result in judged] == [True] * 3
    assert judged[1].captured_at == "2026-09-12T17:01:05"
