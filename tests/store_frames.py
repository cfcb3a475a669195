"""Measurements and audits to keep: every field filled, and told apart by their number."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from auditor.model import measurement as m
from auditor.model.audit import (
    SCHEMA_VERSION,
    Audit,
    ChannelFigures,
    FrameResult,
    PreviewStory,
    StopHistogram,
)
from auditor.model.codes import (
    BlackSource,
    Damage,
    FrameStatus,
    Layout,
    LevelSource,
    NoiseSource,
    PlaneName,
    TimeSource,
    Verdict,
)
from auditor.model.errors import FrameFailure
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts, LensFacts, Position
from auditor.model.findings import Finding, Severity
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import MeasureSettings, Settings

SETTINGS = MeasureSettings()
CUT_OFF = FrameFailure("cut-off", "The file ends before its picture does.")
NAMES = ("R", "G1", "G2", "B")


def measurement(
    number: int = 0, *, iso: float = 100.0, clipped: bool = True, rows: int = 8
) -> m.FrameMeasurement:
    """A frame of the invented body; ``number`` sets its noise, ``rows`` the size of its maps."""
    noise = np.random.default_rng(number)
    exposure = ExposureFacts(
        1 / 60, TimeSource.APEX, 1 / 60, 11.0, iso, 0.0, "manual", "spot", False
    )
    facts = FileFacts(
        CameraFacts("Brackwell", "Brackwell F45", f"F45-{number:06d}"),
        LensFacts("Brackwell 24-70 mm f/4", 24.0, 24.0, None),
        exposure,
        "2031-09-14T18:52:07.250000+01:00",
        6,
        Position(54.5, -3.5),
        18.5,
        {"R": 1.9, "G": 1.0, "B": 1.6},
        {"R": (1e-5, 2e-9)},
        tuple(
            remark(RemarkCode.READ_BY_LIBRAW, reason=text)
            for text in ("odd \udcff name", 'quote " and \\ and \x00')
        ),
    )
    mosaic = m.MosaicMeasurement(
        Layout.BAYER, 8256, 5504, 14,
        tuple(_plane(name, noise, number, clipped=clipped) for name in NAMES),
        _maps(noise, rows),
        m.HotPixels(2, 0.04, noise.integers(0, 5504, (2, 2)).astype(np.uint32)),
        (m.DamageSign(Damage.ROW_JUMP, 0.01, {"row": 100.0}),), 1.7,
    )  # fmt: skip
    return m.FrameMeasurement(
        facts, mosaic, _preview(), m.Pictures(noise.bytes(90), None, 360, 240), "invented 1.0"
    )


def _plane(
    name: str, noise: np.random.Generator, number: int, *, clipped: bool
) -> m.PlaneMeasurement:
    counts = noise.integers(0, 90_000, 400).astype(np.uint32)
    heap = m.PileUp(15871.25 + number, 15866, 1.5, 0.003) if clipped else None
    return m.PlaneMeasurement(
        name, 11_360_256, 512.0, BlackSource.MASKED_BORDER, 16383.0, 16000.0,
        m.Histogram(505, counts), heap,
        m.NoiseEstimate(3.1, None, NoiseSource.BORDER, (remark(RemarkCode.FEW_LEVELS),)), 15866.0,
        np.array([900, 4000], np.uint16), 2, 512.0, 512.125, 0.004,
        (remark(RemarkCode.BORDER_FAR_OFF, offset_dn=-80.5),),
    )  # fmt: skip


def _maps(noise: np.random.Generator, rows: int) -> m.TileMaps:
    shape = (rows, rows * 3 // 2)
    over = np.zeros((4, *shape), np.float32)
    over[:, 0, 0] = 0.25
    detail = noise.normal(1, 0.1, shape).astype(np.float32)
    detail[-1, -1] = np.nan
    return m.TileMaps(
        43,
        noise.normal(2000, 300, (4, *shape)).astype(np.float32),
        noise.integers(3000, 16000, (4, *shape)).astype(np.uint16),
        over, over[0], over[1], detail,
    )  # fmt: skip


def _preview() -> m.PreviewMeasurement:
    return m.PreviewMeasurement(
        1620, 1080, 0.1, 0.02, {"R": 6700.5}, {},
        {name: tuple(range(64)) for name in "RGB"}, (remark(RemarkCode.BARS_LEFT_OUT),),
    )  # fmt: skip


def audit(*numbers: int, made_at: str = "2031-09-15T09:00:00+01:00", folder: str = "") -> Audit:
    """An audit of frames named by their numbers, found under ``folder``."""
    frames = tuple(_result(number, folder) for number in numbers)
    return Audit(SCHEMA_VERSION, "0.1.0", made_at, Settings(), ("card",), frames)


def _result(number: int, folder: str) -> FrameResult:
    drawn = StopHistogram(0.0, 0.125, tuple(range(112)))
    channel = ChannelFigures(
        PlaneName.G1, 512.0, BlackSource.METADATA, 15871.0, LevelSource.SHOOT, 15866.0, 3.1, 0.5,
        3.4, NoiseSource.BORDER, 0.001, None, 0.0, 0.2, 1.5, 3.0, 3.3, 12.1, 0.0, None, drawn,
    )  # fmt: skip
    preview = PreviewStory(
        1620, 1080, 0.1, 0.0, {"R": 1.2}, 1.2, {"R": 0.9}, {"R": (1, 2)}, "It clips early."
    )
    return FrameResult(
        f"{folder}F45_{number:04d}.dng", 0, f"{folder}F45_{number:04d}.dng", FrameStatus.MEASURED,
        None,
        CameraFacts("Brackwell", "Brackwell F45", "F45-000217"), LensFacts(), 1,
        f"2031-09-14T18:{number // 60 % 60:02d}:{number % 60:02d}+01:00", ExposureFacts(),
        channels=(channel,), preview=preview,
        findings=(Finding("blown-area", Severity.LOST, "Blown.", 0.1, 0.05, "share", "G1"),),
        verdict=Verdict.BLOWN,
    )  # fmt: skip


def same(one: Any, other: Any) -> bool:
    """Whether two records hold the same, arrays to the bit, NaN equal to NaN."""
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return bool(
            one.dtype == other.dtype
            and one.shape == other.shape
            and one.tobytes() == other.tobytes()
        )
    if dataclasses.is_dataclass(one):
        return all(
            same(getattr(one, field.name), getattr(other, field.name))
            for field in dataclasses.fields(one)
        )
    if isinstance(one, tuple | list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    return bool(one == other or (one != one and other != other))  # noqa: PLR0124 - NaN
