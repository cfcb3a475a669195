"""A signal that does not grow against a shorter frame is clipped; clouds and falling light do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from auditor.clipping.growth import ceiling_dn, pile_ups_against
from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.conclude import conclude
from auditor.model.codes import TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.model.measurement import FrameMeasurement, Pictures
from auditor.model.settings import Settings
from auditor.model.settled import SettledFrame, settle
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_mosaics import SATURATION_E, coast, measured
from tests.judge_maker import card_file
from tests.memory_source import MemoryMeasurementSource

RED = np.array([2.2, 0.45, 0.4], np.float32)
"""At dusk red alone clips: no other colour tells that it does."""

LOOSE: list[tuple[str, dict[str, Any]]] = [
    ("MONO", {"saturation_spread_dn": 61.0}),
    ("MONO", {"saturation_spread_dn": 61.0, "saturation_row_spread_dn": 46.0}),
    ("MONO", {"saturation_spread_dn": 30.0, "spill": 0.1}),
    ("MONO", {"saturation_spread_dn": 40.0, "margin_top": 0, "margin_left": 0,
              "white_tag_dn": 65535, "bit_depth": 16}),
    ("RGGB", {"saturation_spread_dn": 61.0}),
    ("XTRANS", {"saturation_spread_dn": 61.0, "margin_top": 0, "margin_left": 0}),
]  # fmt: skip


def taken(layout: str, stops: float, **body: Any) -> tuple[Exposure, FrameMeasurement]:
    """The coast in ``stops`` more light than saturates its sky; at dusk where there are colours."""
    camera = SimulatedCamera(layout=layout, width=900, height=600, **body)
    light = coast(600, 900) * (1.0 if layout == "MONO" else RED) * SATURATION_E * 64.0
    made = camera.expose(light * 2.0**stops, 1.0, 8.0, 100.0, rng=round(40 + stops * 4))
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "Brackwell F45", "7"),
        exposure=ExposureFacts(2.0**stops, TimeSource.APEX, 2.0**stops, 8.0, 100.0),
        captured_at=f"2026-09-12T17:00:{10 + round(stops):02d}",
    )
    return made, FrameMeasurement(facts, measured(made.mosaic), None, Pictures(b""))


def settled(measurement: FrameMeasurement) -> SettledFrame:
    levels = settle_levels({"own": clip_evidence(measurement)})["own"]
    return settle(measurement, levels, [plane.noise for plane in measurement.mosaic.planes])


@pytest.mark.parametrize(("layout", "body"), LOOSE, ids=str)
def test_a_loose_level_is_told_by_a_shorter_frame(layout: str, body: dict[str, Any]) -> None:
    """Saturation within 0.4 %, blown within 0.1 point, where the frame itself told neither."""
    stops = 1.5 if layout == "MONO" else 0.0
    (long, whole), (_, short) = taken(layout, stops, **body), taken(layout, stops - 2.0, **body)
    alone = settled(whole)
    plane, truth, found = (
        alone.planes[0], long.truth.planes[0], pile_ups_against(alone, settled(short))[0],
    )  # fmt: skip
    assert plane.level.may_clip, "by itself it only may be"
    assert found is not None
    assert found.level_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
    blown = plane.measured.histogram.at_or_above(found.from_dn) / truth.pixels
    assert blown == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3)


def test_an_audit_tells_it_of_the_frame_and_of_its_sisters() -> None:
    body: dict[str, Any] = {"saturation_spread_dn": 61.0}
    frames = [taken("MONO", stops, **body) for stops in (-0.5, 1.5, 0.3)]
    files = [replace(card_file(f"B_{n}.DNG"), content_key=str(n)) for n in range(len(frames))]
    source = MemoryMeasurementSource(
        {file.id: m for file, (_, m) in zip(files, frames, strict=True)}
    )
    results = conclude(files, {}, source, Settings()).frames
    assert [r.channels[0].saturation_source for r in results] == ["shoot", "measured", "shoot"]
    for result, (made, _) in zip(results, frames, strict=True):
        truth = made.truth.planes[0]
        assert result.channels[0].saturation_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
        assert result.blown_fraction == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3)
    assert results[0].headroom_stops is not None


ROWS, COLS, TOP = 60, 90, 12000.0


def sky(seed: int, stops: float) -> np.ndarray:
    """Tiles: a sky of clouds over even ground that runs down to black."""
    rng = np.random.default_rng(seed)
    clouds = gaussian_filter(rng.standard_normal((ROWS, COLS)), 3.0, mode="wrap")
    light = np.exp2(stops * clouds / clouds.std())
    light[ROWS // 2 :] = np.linspace(0.6, 0.02, ROWS - ROWS // 2)[:, None]
    return np.asarray(light)


@pytest.mark.parametrize("falling", [0.0, 1.0])
@pytest.mark.parametrize("growth", [1.0, 3.0])
def test_the_level_is_found_whatever_the_light_did(falling: float, growth: float) -> None:
    short = 0.4 * TOP * sky(1, 0.4)
    long = np.minimum(short * 2.0 ** (growth + 1.0 - falling), TOP)
    assert ceiling_dn(long, short) == pytest.approx(TOP, rel=1e-3)


def test_a_frame_that_grows_everywhere_is_not_clipped() -> None:
    short = 0.1 * TOP * sky(1, 0.4)
    for fallen in (0.0, 0.5):
        assert ceiling_dn(short * 2.0 ** (2.0 - fallen), short) is None


def test_clouds_evened_out_by_a_long_time_are_not_clipped() -> None:
    short, long = 0.2 * TOP * sky(1, 0.4), 0.8 * TOP * sky(1, 0.0)
    assert ceiling_dn(long, short) is None


@pytest.mark.parametrize("seed", range(6))
def test_clouds_that_moved_on_are_not_clipped(seed: int) -> None:
    short, long = 0.2 * TOP * sky(seed, 0.4), 0.8 * TOP * sky(seed + 50, 0.4)
    assert ceiling_dn(long, short) is None


def test_an_even_sky_tells_nothing() -> None:
    short = 0.8 * TOP * sky(1, 0.02)
    short[ROWS // 2 :] *= 0.2
    assert ceiling_dn(np.minimum(4.0 * short, TOP), short) is None


EDGE = np.full((ROWS, COLS), 0.2)


def edges(**change: Any) -> float | None:
    """A sky of which each number is just enough, or not quite, one at a time."""
    what = {"tiles": 400, "over": 1.5, "span": 0.5, "off": 0.0, "flat": 1.0, "dark": 0} | change
    short, long = EDGE.copy().ravel(), 2.0 * EDGE.copy().ravel()
    part = np.arange(what["tiles"])
    short[part] = what["over"] / 2.0 * np.exp2(what["span"] * part / len(part) * 1.25)
    long[part] = 1.0 + what["off"] * np.where(part % 3, 1.0, -1.0) * (part % 2)
    drift = part[int(what["flat"] * len(part)) :]
    long[drift] = 0.9
    long[1000 : 1000 + what["dark"]] = 1.0
    return ceiling_dn(long.reshape(ROWS, COLS), short.reshape(ROWS, COLS))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, True),
        ({"tiles": 14}, True), ({"tiles": 10}, False),
        ({"over": 1.3, "span": 0.4}, True), ({"over": 0.85, "span": 0.27}, False),
        ({"span": 0.35}, True), ({"span": 0.25}, False),
        ({"off": 0.008}, True), ({"off": 0.012}, False),
        ({"flat": 0.8}, True), ({"flat": 0.6}, False),
        ({"dark": 30}, True), ({"dark": 50}, False),
    ],
    ids=str,
)  # fmt: skip
def test_each_limit_is_where_it_is(change: dict[str, Any], told: bool) -> None:
    assert (edges(**change) is not None) == told
