"""Optics and lasting hot pixels in audit.json: as the schema says, infinity told in words."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from auditor.model.audit import Audit, FrameResult, LastingHotPixels
from auditor.report.json_report import json_parts, json_schema
from tests.builders import make_audit
from tests.told import frame_optics
from tests.unit.test_report_json import complaints, strict

LASTING = LastingHotPixels("Brackwell F45 7", 14, 2, ((40, 7), (3, 3)), (5, 3))


def focused(frame: FrameResult, focus_m: float | None) -> FrameResult:
    lens = replace(frame.lens, focal_mm=35.0, focal_35mm=35.0, focus_distance_m=focus_m)
    sharp = replace(frame, lens=lens, exposure=replace(frame.exposure, f_number=11.0))
    return replace(sharp, optics=frame_optics(sharp))


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    made: Audit = make_audit(6)[0]
    distances = (None, 2.0, 10.0)
    frames = [focused(frame, m) for frame, m in zip(made.frames, distances, strict=False)]
    audit = replace(
        made, frames=(*frames, *made.frames[len(frames) :]), lasting_hot_pixels=(LASTING,)
    )
    loaded: dict[str, Any] = json.loads(b"".join(json_parts(audit)))
    return loaded


def test_the_schema_names_all_of_it(plain: dict[str, Any]) -> None:
    assert plain["frames"][0]["optics"]["depth"] is not None
    assert complaints(strict(json_schema()), plain) == []


def test_infinity_is_told_beside_a_null(plain: dict[str, Any]) -> None:
    unknown, near, far = (frame["optics"]["depth"] for frame in plain["frames"][:3])
    assert (unknown["far_m"], unknown["to_infinity"]) == (None, None)
    assert (round(near["far_m"], 2), near["to_infinity"]) == (2.57, False)
    assert (far["far_m"], far["to_infinity"]) == (None, True)


def test_lasting_hot_pixels_are_listed_by_row_and_column(plain: dict[str, Any]) -> None:
    assert plain["lasting_hot_pixels"] == [
        {
            "body": "Brackwell F45 7",
            "frames": 14,
            "count": 2,
            "positions": [[40, 7], [3, 3]],
            "seen": [5, 3],
            "sensor": "",
        }
    ]
