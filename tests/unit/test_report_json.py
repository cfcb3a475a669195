"""audit.json keeps its public layout, and its schema tells the whole of it."""

from __future__ import annotations

import copy
import json
import math
import subprocess
import sys
from dataclasses import replace
from typing import Any

import jsonschema
import numpy as np
import pytest

from auditor.model.audit import Audit
from auditor.model.facts import ExposureFacts
from auditor.report.json_report import AT_A_TIME, build_frame_json, json_parts, json_schema
from auditor.report.plain_records import audit_to_plain, rounded
from tests.builders import make_audit
from tests.elsewhere import Elsewhere
from tests.schema_maker import SCHEMA, build_schema, schema_text, undescribed


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


@pytest.fixture(scope="module")
def plain(audit: Audit) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(b"".join(json_parts(audit)))
    return loaded


def strict(schema: Any) -> Any:
    """The same schema, allowing only the fields that it names."""
    if isinstance(schema, list):
        return [strict(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    closed = {key: strict(value) for key, value in schema.items()}
    if "properties" in schema and "description" in schema:
        closed["additionalProperties"] = False
    return closed


def complaints(schema: dict[str, Any], value: Any) -> list[str]:
    validator = jsonschema.Draft202012Validator(schema)
    return [f"{list(e.absolute_path)}: {e.message[:200]}" for e in validator.iter_errors(value)]


def test_the_schema_is_what_the_records_make() -> None:
    assert undescribed(build_schema()) == []
    assert SCHEMA.read_text(encoding="utf-8") == schema_text(), "stale: run make docs"


def test_no_piece_is_larger_than_some_records(audit: Audit) -> None:
    largest = max(len(build_frame_json(frame)) for frame in audit.frames)
    many = replace(audit, frames=audit.frames * 20)
    assert len(many.frames) > 5 * AT_A_TIME
    assert max(len(piece) for piece in json_parts(many)) <= AT_A_TIME * largest
    assert json.loads(b"".join(json_parts(many))) == json.loads(json.dumps(audit_to_plain(many)))


def test_the_schema_is_a_schema() -> None:
    rules = jsonschema.Draft202012Validator.META_SCHEMA
    assert json_schema()["$schema"] == rules["$id"]
    assert complaints(rules, json_schema()) == []


@pytest.mark.parametrize("hostile", [False, True])
def test_an_audit_obeys_the_schema_and_holds_nothing_that_it_does_not_name(hostile: bool) -> None:
    made, _gallery = make_audit(24, hostile=hostile)
    schema = strict(json_schema())
    if hostile:
        schema["$defs"]["finding"]["properties"]["code"].pop("pattern")
        schema["$defs"]["failure"]["properties"]["code"].pop("pattern")
        schema["$defs"]["keeper"]["properties"].pop("kind")
        schema["$defs"]["keeper"]["additionalProperties"] = True
    assert complaints(schema, json.loads(b"".join(json_parts(made)))) == []


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("frames", 0, "channels", 0, "headroom_stops"), "1.2"),
        (("frames", 0, "channels", 0, "blown_fraction"), 1.2),
        (("frames", 0, "verdict"), "good"),
        (("frames", 0, "error"), {"code": "cut-off", "message": ""}),
        (("frames", 0, "channels"), []),
        (("frames", 23, "error"), None),
        (("siblings", 0, "confidence"), 2),
        (("grads", 0, "with"), None),
        (("schema_version",), "9"),
    ],
)
def test_the_schema_refuses_what_is_wrong(
    plain: dict[str, Any], path: tuple[Any, ...], wrong: Any
) -> None:
    spoilt = copy.deepcopy(plain)
    place = spoilt
    for step in path[:-1]:
        place = place[step]
    assert path[-1] in place if isinstance(place, dict) else True
    place[path[-1]] = wrong
    assert complaints(json_schema(), spoilt)


# Names as promised publicly for audit.json (the README's reference).
FRAME = {"file", "status", "error", "camera", "lens", "orientation", "captured_at", "exposure",
         "size", "layout", "channels", "blown_fraction", "blown_all_fraction", "blocked_fraction",
         "largest_blown_area", "largest_blocked_area", "tone_range_stops", "headroom_stops",
         "preview", "hot_pixels", "findings", "verdict"}  # fmt: skip
CHANNEL = {"name", "black_dn", "black_source", "saturation_dn", "saturation_source",
           "read_noise_dn", "gain_dn_per_e", "noise_floor_dn", "blown_fraction",
           "blocked_fraction", "zero_fraction", "headroom_stops", "shadow_room_stops",
           "median_stops", "mean_stops", "histogram"}  # fmt: skip
SIBLING = {"setup", "short", "long", "exposure_difference_stops", "filter_stops",
           "filter_stops_by_channel", "cast_stops", "light_drift_stops", "nearest_marking",
           "off_marking_stops", "matched_time_s", "placement_difference_stops", "confidence",
           "reasons"}  # fmt: skip
PROMISED: dict[tuple[str | int, ...], set[str]] = {
    (): {"schema_version", "tool_version", "made_at", "settings", "inputs", "frames", "setups",
         "siblings", "brackets", "grads", "panoramas", "keepers", "light"},
    ("frames", 0): FRAME,
    ("frames", 23): FRAME,
    ("frames", 0, "camera"): {"make", "model", "serial"},
    ("frames", 0, "lens"): {"model", "focal_mm", "focal_35mm"},
    ("frames", 0, "exposure"): {"time_s", "f_number", "iso", "bias_ev", "ev100", "program",
                                "metering", "flash"},
    ("frames", 0, "size"): {"width", "height", "bit_depth"},
    ("frames", 0, "channels", 0): CHANNEL,
    ("frames", 0, "channels", 0, "histogram"): {"first_stop", "step", "counts"},
    ("frames", 0, "hot_pixels"): {"count", "per_megapixel"},
    ("frames", 23, "error"): {"code", "message", "kind"},
    ("setups", 0): {"id", "frames", "started_at", "focal_mm", "shift_px"},
    ("siblings", 0): SIBLING,
    ("siblings", 0, "nearest_marking"): {"stops", "density", "factor"},
    ("brackets", 0): {"setup", "frames", "step_stops", "covered_fraction", "needed", "not_needed"},
    ("grads", 0): {"setup", "without", "with", "edge_at", "stops_at_top", "transition"},
    ("panoramas", 0): {"frames", "exposure_spread_stops"},
    ("keepers", 0): {"setup", "frame", "why"},
    ("light", 0): {"captured_at", "scene_ev100"},
}  # fmt: skip


@pytest.mark.parametrize("path", PROMISED, ids=lambda path: ".".join(map(str, path)) or "top")
def test_the_promised_names_are_there(plain: dict[str, Any], path: tuple[str | int, ...]) -> None:
    place: Any = plain
    for step in path:
        place = place[step]
    assert PROMISED[path] <= set(place)


def test_findings_are_told_with_their_figures(plain: dict[str, Any]) -> None:
    findings = [finding for frame in plain["frames"] for finding in frame["findings"]]
    assert findings
    assert all(
        {"code", "severity", "channel", "value", "limit", "text"} <= set(finding)
        for finding in findings
    )


def test_exposure_value_is_told_by_its_definition() -> None:
    # ANSI exposure tables: f/16 at 1/125 s (truly 1/128 s) and ISO 100 is exposure value 15.
    exposure = ExposureFacts(time_s=1 / 128, f_number=16.0, iso=100.0)
    first = replace(make_audit(1)[0].frames[0], exposure=exposure)
    assert json.loads(build_frame_json(first))["exposure"]["ev100"] == 15.0


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_number_that_is_none_is_null(audit: Audit, bad: float) -> None:
    channel = replace(audit.frames[0].channels[0], headroom_stops=bad, mean_stops=bad)
    frame = replace(audit.frames[0], channels=(channel,), sharpness=bad)
    plain = json.loads(b"".join(json_parts(replace(audit, frames=(frame,)))))["frames"][0]
    assert plain["sharpness"] is None
    assert plain["channels"][0]["headroom_stops"] is None


def test_array_library_numbers_are_plain_ones(audit: Audit) -> None:
    frame = replace(
        audit.frames[0],
        orientation=np.int64(6),  # type: ignore[arg-type]
        sharpness=np.float32(1.5),  # type: ignore[arg-type]
    )
    plain = json.loads(build_frame_json(frame))
    assert (plain["orientation"], plain["sharpness"]) == (6, 1.5)


def test_what_no_report_can_tell_is_refused(audit: Audit) -> None:
    with pytest.raises(TypeError, match="sharpness"):
        build_frame_json(replace(audit.frames[0], sharpness=object()))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("number", "name", "told"),
    [
        (1 / 45_000_000, "blown_fraction", 2.222222e-08),
        (-0.00001, "headroom_stops", 0.0),
        (1.23456789, "headroom_stops", 1.2346),
        (54.123456789, "latitude_deg", 54.123457),
        (0.0078125, "time_s", 0.0078125),
        (15892.3712345, "saturation_dn", 15892.37),
    ],
)
def test_rounding_keeps_what_was_measured(number: float, name: str, told: float) -> None:
    assert rounded(number, name) == told
    assert math.copysign(1.0, rounded(number, name) or 0.0) == 1.0


def test_the_same_audit_gives_the_same_bytes(audit: Audit) -> None:
    assert b"".join(json_parts(audit)) == b"".join(json_parts(audit))
    whole = json.loads(b"".join(json_parts(audit)))
    assert list(whole)[:3] == ["schema_version", "tool_version", "made_at"]


def test_one_frame_a_line(audit: Audit) -> None:
    lines = b"".join(json_parts(audit)).decode().splitlines()
    assert sum(line.startswith('  {"id": "100SELMR/') for line in lines) == len(audit.frames)


def test_nothing_hidden_in_the_bytes() -> None:
    content = b"".join(json_parts(make_audit(24, hostile=True)[0]))
    assert all(byte == 10 or 32 <= byte < 127 for byte in content)
    assert "\udcff" not in json.dumps(json.loads(content), ensure_ascii=False)


def test_plain_values_only(audit: Audit) -> None:
    assert json.loads(b"".join(json_parts(audit))) == audit_to_plain(audit)


def test_json_needs_no_drawing_library() -> None:
    code = (
        "import sys, auditor.report.json_report, auditor.report.csv_report, auditor.report.write\n"
        "print(sorted({'matplotlib', 'PIL'} & set(sys.modules)))"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


def test_frames_written_elsewhere_are_the_same_to_the_last_byte(
    audit: Audit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("auditor.report.json_report.AT_A_TIME", 7)
    engine = Elsewhere()
    there = b"".join(json_parts(audit, engine))
    assert there == b"".join(json_parts(audit))
    assert engine.sent == 4
