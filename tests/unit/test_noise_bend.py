"""A response that bends over before it clips: seen by its noise, and told instead of a headroom."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.model.audit import FrameResult
from auditor.model.codes import TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.model.measurement import FrameMeasurement, MosaicMeasurement, Pictures
from auditor.model.settings import Settings
from auditor.model.settled import settle
from auditor.noise.bend import bend_dn
from auditor.noise.blocks import Blocks
from auditor.noise.estimate import _straight, _Tones
from auditor.noise.level_bins import rank_blocks
from auditor.noise.photon_transfer import TransferFit
from sample_generation.camera import SimulatedCamera
from tests.built_effects import bent, remade
from tests.built_mosaics import (
    SATURATION_E,
    coast,
    exposed,
    measured,
    noises_of,
    true_or_null,
)
from tests.judge_maker import card_file
from tests.told import judge_frame

SPAN_DN = 15872.0 - 512.0


def taken(layout: str, scale: float, **body: Any) -> MosaicMeasurement:
    camera = SimulatedCamera(layout=layout, width=1500, height=1000, **body)
    light = coast(1000, 1500) * np.float32(SATURATION_E * 64.0 * scale)
    return measured(camera.expose(light, 1.0, 8.0, 100.0, rng=3).mosaic)


def judged(*mosaics: MosaicMeasurement) -> list[FrameResult]:
    """Judge frames of one body at one ISO."""
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "Brackwell F45", "7"),
        exposure=ExposureFacts(1.0, TimeSource.APEX, 1.0, 8.0, 100.0),
    )
    frames = [FrameMeasurement(facts, mosaic, None, Pictures(b"")) for mosaic in mosaics]
    levels = settle_levels({str(n): clip_evidence(frame) for n, frame in enumerate(frames)})
    return [
        judge_frame(
            card_file(), settle(f, levels[str(n)], [p.noise for p in f.mosaic.planes]),
            Settings().judge,
        )
        for n, f in enumerate(frames)
    ]  # fmt: skip


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "MONO", "LINEAR"])
def test_a_soft_knee_is_told_instead_of_a_headroom(layout: str) -> None:
    """The last third of a stop bends: from 0.8 of the range on."""
    mosaic = taken(layout, 1.0, knee=0.2)
    (result,) = judged(mosaic)
    seen = 0
    for plane, channel in zip(mosaic.planes, result.channels, strict=True):
        bright = (plane.histogram.last_dn - plane.black_dn) / SPAN_DN
        if bright > 0.95:
            seen += 1
            assert channel.linear_limit_dn is not None
            assert (channel.linear_limit_dn - 512.0) / SPAN_DN == pytest.approx(0.8, abs=0.03)
            if not channel.blown_fraction:
                assert channel.headroom_stops is None
                assert any("bends over" in note for note in channel.notes)
        elif bright < 0.7:
            assert plane.bends_from_dn is None
    assert seen
    assert result.headroom_stops is None or result.blown_fraction


def test_a_frame_under_the_knee_keeps_its_headroom_and_is_told_the_limit_of_its_sister() -> None:
    bright, dark = judged(taken("MONO", 1.0, knee=0.2), taken("MONO", 0.4, knee=0.2))
    assert bright.headroom_stops is None
    assert dark.headroom_stops is not None
    assert dark.headroom_stops > 0.3
    assert dark.channels[0].linear_limit_dn == bright.channels[0].linear_limit_dn


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "MONO", "LINEAR"])
@pytest.mark.parametrize("scale", [0.6, 1.0, 1.4])
@pytest.mark.parametrize(
    "body",
    [{}, {"saturation_spread_dn": 61.0}, {"spill": 0.1, "saturation_spread_dn": 30.0}],
    ids=str,
)
def test_a_straight_response_is_not_said_to_bend(
    layout: str, scale: float, body: dict[str, Any]
) -> None:
    mosaic = taken(layout, scale, **body)
    assert [plane.bends_from_dn for plane in mosaic.planes] == [None] * len(mosaic.planes)


FIT = TransferFit(
    read_dn2=4.0, gain_dn_per_e=0.3, uneven=0.0, read_error_dn2=0.1, gain_error=0.001,
    uneven_error=1e-6,
)  # fmt: skip
TOP = 10000.0


def blocks(
    *, fallen: float = 0.4, count: int = 40, windows: int = 4, before: float = 1.0,
    unrest: float = 1.0, freedom: float = 16.0,
) -> Blocks:  # fmt: skip
    """Calm blocks at every level; the noise of the topmost ``windows`` has fallen."""
    edges = TOP * np.arange(0.5, 0.94, 0.02)
    signal = np.repeat(edges + 0.01 * TOP, count)
    part = np.repeat(np.arange(len(edges))[::-1], count)
    ratio = np.where(part < windows, fallen, np.where(part < windows + 2, before, 1.0))
    model = FIT.variance_dn2(signal)
    noise = (model * ratio).astype(np.float32)
    texture = (model * unrest).astype(np.float32)
    dn = signal.astype(np.float32)
    return Blocks(dn, noise, texture, noise, dn, dn, 0 * dn, 0 * dn, freedom)


@pytest.mark.parametrize(
    ("change", "bends_from"),
    [
        ({}, 0.86),
        ({"fallen": 0.55}, 0.86), ({"fallen": 0.7}, None),
        ({"count": 13}, 0.86), ({"count": 9}, None),
        ({"windows": 3}, 0.88), ({"windows": 2}, None),
        ({"before": 0.95}, 0.86), ({"before": 0.8}, 0.82),
        ({"unrest": 1.25}, 0.86), ({"unrest": 1.4}, None),
        ({"freedom": 5.6, "count": 16}, 0.86),
        ({"freedom": 3.6, "count": 16}, None),
    ],
    ids=str,
)  # fmt: skip
def test_each_limit_is_where_it_is(change: dict[str, Any], bends_from: float | None) -> None:
    found = bend_dn(blocks(**change), FIT, TOP)
    assert found == (None if bends_from is None else pytest.approx(bends_from * TOP, rel=0.02))


@pytest.mark.parametrize(
    "border", [{}, {"margin_top": 0, "margin_left": 0}], ids=["border", "no border"]
)
@pytest.mark.parametrize("scene", ["coast", "wedge"])
@pytest.mark.parametrize(
    ("knee", "share", "power"),
    [(0.2, 0.0, 1.0), (0.3, 0.0, 1.0), (0.0, 0.1, 3.0), (0.0, 0.05, 6.0)],
)
def test_gain_is_right_or_null_where_the_response_bends(
    knee: float, share: float, power: float, scene: str, border: dict[str, Any]
) -> None:
    """A sky down to a dark ground told up to 1.36 of it: what unevenness loses the gain gets."""
    frame = exposed("RGGB", 100.0, 1200, 800, scene, knee=knee, **border)
    true_or_null(frame, noises_of(measured(remade(frame, bent(share, power)))))


def test_a_response_is_straight_over_half_of_its_levels() -> None:
    signal = np.linspace(100.0, 10000.0, 2000).astype(np.float32)
    same = np.ones_like(signal)
    ranked = rank_blocks(
        Blocks(signal, same, same, same, 0 * same, same, same, same, 16.0), 2e4, -1
    )
    kept = _straight(_Tones(ranked)).level_bins
    assert kept is not None
    assert 4500.0 < kept.signal_dn.max() < 5500.0
