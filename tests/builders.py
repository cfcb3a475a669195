"""A whole invented audit for the reporters' tests: plausible, or hostile in every text.

The figures come from simulated pixels, so shares, stops, maps and pictures agree.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from auditor.model.audit import SCHEMA_VERSION, Audit, FrameResult, FrameSize, HotFigures
from auditor.model.codes import FrameStatus, TimeSource, Verdict
from auditor.model.errors import FrameFailure
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts, LensFacts, Position
from auditor.model.findings import Finding, Severity
from auditor.model.measurement import FrameMeasurement
from auditor.model.orientation import upright
from auditor.model.settings import Settings
from tests.built_groups import grouped
from tests.built_hostile import poisoned
from tests.built_measures import (
    as_other_body,
    channels_of,
    measurement_of,
    patch_of,
    story_of,
    thirds_of,
    tiles,
)
from tests.built_scene import BLACK_DN, SENSOR_H, SENSOR_W, Exposed, expose
from tests.built_shots import Shot, nominal_s, shots

LIMIT_BLOWN, LIMIT_BLOCKED = 5e-4, 0.01


class DictMeasurementSource:
    """Measurements in memory, each made when asked for, so thousands stay cheap."""

    def __init__(self, recipes: dict[str, tuple[Shot, int, FileFacts]]) -> None:
        self.recipes = recipes
        self.asked: list[str] = []

    def measurement(self, frame_id: str) -> FrameMeasurement:
        shot, seed, facts = self.recipes[frame_id]
        self.asked.append(frame_id)
        return measurement_of(_exposed(shot, seed), facts, turned=shot.plan.turned)


def make_audit(
    frames: int = 24, *, hostile: bool = False, seed: int = 1
) -> tuple[Audit, DictMeasurementSource]:
    """Build an audit of ``frames`` files and the source of its measured ones.

    24 frames hold every kind once: a bracket of five, filtered siblings with second tries, a
    grad pair, a panned run, a dark frame, one blown in red only, a blocked, a blown, a frame
    on two cards, an unreadable file. More frames repeat the cycle through the evening.
    """
    plan = shots(frames)
    results = tuple(_result(shot, seed) for shot in plan)
    recipes = {
        result.id: (shot, seed, _facts(shot))
        for shot, result in zip(plan, results, strict=True)
        if result.status == FrameStatus.MEASURED
    }
    audit = Audit(
        schema_version=SCHEMA_VERSION, tool_version="0.0.test", made_at="2031-09-14T21:40:03+01:00",
        settings=Settings(), inputs=("card-a", "card-b"), frames=results,
        passed_over={".jpg": 3, ".mov": 1}, notes=("The clock of one body stood still.",),
    )  # fmt: skip
    audit = grouped(audit, plan)
    measurements = DictMeasurementSource(recipes)
    return poisoned(audit, measurements) if hostile else (audit, measurements)


class Repeated:
    """A source of measurements for :func:`repeated`."""

    def __init__(self, measurements: DictMeasurementSource) -> None:
        self.measurements = measurements

    def measurement(self, frame_id: str) -> FrameMeasurement:
        return self.measurements.measurement(frame_id.partition("/")[2])


def repeated(times: int) -> tuple[Audit, Repeated]:
    """The evening of 24 frames over and over, without its groups: many frames, cheaply."""
    audit, measurements = make_audit()
    frames = tuple(
        replace(frame, id=f"{turn}/{frame.id}", file=f"{turn}/{frame.file}")
        for turn in range(times)
        for frame in audit.frames
    )
    bare = Audit(audit.schema_version, audit.tool_version, audit.made_at, audit.settings,
                 audit.inputs, frames)  # fmt: skip
    return bare, Repeated(measurements)


def _exposed(shot: Shot, seed: int) -> Exposed:
    plan = shot.plan
    placed = shot.scene_ev - _ev(shot) - plan.filter_stops
    return expose(
        shot.scene, round(5 * placed) / 5, cast=plan.cast, still=shot.time_s > 0.5, grad=plan.grad,
        dark=plan.role == "dark", turned=plan.turned, seed=seed,
    )  # fmt: skip


def _ev(shot: Shot) -> float:
    return float(np.log2(121.0 / shot.time_s))


def _facts(shot: Shot) -> FileFacts:
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "F45", "F45-001207"),
        lens=LensFacts("Brackwell 24-70 mm f/4", 24.0 + 11 * (shot.scene % 4), None, 4.2),
        exposure=ExposureFacts(
            shot.time_s,
            TimeSource.APEX,
            nominal_s(shot.time_s),
            11.0,
            100.0,
            0.0,
            "manual",
            "pattern",
            False,
        ),
        captured_at=shot.taken.isoformat(timespec="milliseconds"),
        orientation=6 if shot.plan.turned else 1,
        position=Position(12.0, 3.5, 4.0),
        temperature_c=11.5,
        white_balance={"R": 1.82, "G": 1.0, "B": 1.47},
    )
    return as_other_body(facts, "F24") if shot.plan.role in ("blocked", "blown") else facts


def _result(shot: Shot, seed: int) -> FrameResult:
    facts = _facts(shot)
    file = f"100SELMR/S{shot.index + 1:04d}.dng"
    base = FrameResult(
        id=file, input=0, file=file, status=FrameStatus.MEASURED, error=None, camera=facts.camera,
        lens=facts.lens, orientation=facts.orientation, captured_at=facts.captured_at,
        exposure=facts.exposure, position=facts.position, temperature_c=facts.temperature_c,
        white_balance=facts.white_balance, kind="dng",
    )  # fmt: skip
    if shot.plan.role == "unreadable":
        return _unreadable(base)
    if shot.plan.role == "copy":
        base = replace(base, also_at=(f"2:{file}",), companions=(file.replace(".dng", ".jpg"),))
    return _judged(replace(base, **_figures(_exposed(shot, seed), base.orientation)), shot)


def _unreadable(base: FrameResult) -> FrameResult:
    failure = FrameFailure("cut-off", "The file ends before its picture does. Copy it again.")
    return replace(
        base, status=FrameStatus.UNREADABLE, error=failure, camera=CameraFacts(), lens=LensFacts(),
        exposure=ExposureFacts(), captured_at=None, white_balance={},
    )  # fmt: skip


@lru_cache(maxsize=256)
def _figures(seen: Exposed, orientation: int | None) -> dict[str, Any]:
    channels = channels_of(seen)
    blown = seen.dn >= channels[0].blown_from_dn
    any_blown = upright(blown.any(axis=0).astype(float), orientation)
    floor = channels[0].noise_floor_dn or 0.0
    signals = np.stack([tiles(dn - BLACK_DN) for dn in seen.dn])
    blocked = upright((signals < floor).all(axis=0).astype(float), orientation)
    headrooms = [c.headroom_stops for c in channels if c.headroom_stops is not None]
    darks = [c.dynamic_range_stops - c.shadow_room_stops for c in channels
             if c.dynamic_range_stops is not None and c.shadow_room_stops is not None]  # fmt: skip
    return {
        "channels": channels, "size": FrameSize(SENSOR_W, SENSOR_H, 14), "layout": "bayer",
        "blown_fraction": float(any_blown.mean()),
        "blown_all_fraction": float(blown.all(axis=0).mean()),
        "blocked_fraction": float(blocked.mean()),
        "largest_blown_area": patch_of(any_blown, "upper left third"),
        "largest_blocked_area": patch_of(blocked, "lower right third"),
        "thirds": thirds_of(any_blown, blocked),
        "tone_range_stops": max(darks) - min(headrooms) if darks and headrooms else None,
        "headroom_stops": min(headrooms) if headrooms else None,
        "preview": story_of(seen, channels), "hot_pixels": HotFigures(41, 1.9, 7), "sharpness": 2.4,
    }  # fmt: skip


def _judged(frame: FrameResult, shot: Shot) -> FrameResult:
    blown, blocked = frame.blown_fraction or 0.0, frame.blocked_fraction or 0.0
    if shot.plan.role == "dark":
        note = Finding("dark-frame", Severity.NOTE, "No light reached the sensor: a dark frame.")
        return replace(frame, verdict=Verdict.DARK_FRAME, findings=(note,))
    is_blown, is_blocked = blown > LIMIT_BLOWN, blocked > LIMIT_BLOCKED
    verdict = {(True, True): "both", (True, False): "blown", (False, True): "blocked"}.get(
        (is_blown, is_blocked), "held"
    )
    return replace(
        frame, verdict=Verdict(verdict), findings=tuple(_findings(frame, blown, blocked))
    )


def _findings(frame: FrameResult, blown: float, blocked: float) -> list[Finding]:
    found: list[Finding] = []
    red, green = frame.channels[0], frame.channels[1]
    if blown > LIMIT_BLOWN:
        text = f"{100 * blown:.2f} % of the frame is blown in at least one channel."
        found.append(Finding("blown-area", Severity.LOST, text, blown, LIMIT_BLOWN, "share"))
    if red.blown_fraction > LIMIT_BLOWN and green.blown_fraction < red.blown_fraction / 4:
        text = f"Red alone is blown over {100 * red.blown_fraction:.2f} % of its pixels."
        share = red.blown_fraction
        found.append(
            Finding("blown-channel", Severity.RISK, text, share, LIMIT_BLOWN, "share", channel="R")
        )
    if blocked > LIMIT_BLOCKED:
        text = f"{100 * blocked:.1f} % of the frame lies under the noise floor."
        found.append(Finding("blocked-area", Severity.LOST, text, blocked, LIMIT_BLOCKED, "share"))
    if (frame.headroom_stops or 0.0) > 1.0:
        text = f"The frame could have taken {frame.headroom_stops:.1f} stops more light."
        found.append(
            Finding("headroom-left", Severity.NOTE, text, frame.headroom_stops, 1.0, "stops")
        )
    return found
