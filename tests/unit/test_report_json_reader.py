"""audit.json read back: as it was written, of 1.x too, and nothing else by that name."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.model.audit import Audit
from auditor.model.errors import WrongCall
from auditor.report.json_reader import CODES, read_audit
from auditor.report.json_report import audit_to_plain, build_json
from tests.builders import make_audit


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


def written(folder: Path, plain: object) -> Path:
    (folder / "audit.json").write_text(json.dumps(plain))
    return folder / "audit.json"


@pytest.mark.parametrize("hostile", [False, True])
def test_an_audit_is_read_back_as_it_was_written(hostile: bool, tmp_path: Path) -> None:
    made = make_audit(24, hostile=hostile)[0]
    (tmp_path / "audit.json").write_bytes(build_json(made))
    back = read_audit(tmp_path)
    assert audit_to_plain(back) == json.loads(build_json(made))
    assert read_audit(str(tmp_path / "audit.json")) == back


def as_first_schema(audit: Audit) -> dict[str, Any]:
    """The same audit under the names of 1.1."""
    plain: Any = json.loads(build_json(audit))
    plain |= {"schema_version": "1.1", "runs": plain.pop("panoramas")}
    for name in ("rejected", "filters", "dark_frames", "isos", "forecast"):
        del plain[name]
    judge = plain["settings"]["judge"]
    judge["spare_limit_stops"] = judge.pop("headroom_limit_stops")
    for bracket in plain["brackets"]:
        bracket["spare"] = bracket.pop("not_needed")
        del bracket["blend"], bracket["noisy_fraction"]
    for frame in plain["frames"]:
        frame["spare_stops"] = frame.pop("headroom_stops")
        if frame["preview"]:
            frame["preview"]["cries_early_stops"] = frame["preview"].pop("early_by_channel_stops")
        for finding in frame["findings"]:
            old = {new: old for old, new in CODES.items()}
            finding["code"] = old.get(finding["code"], finding["code"])
    renamed: dict[str, Any] = plain
    return renamed


def test_an_audit_of_the_first_schema_is_read_under_the_names_of_today(
    audit: Audit, tmp_path: Path
) -> None:
    plain = as_first_schema(audit)
    back = read_audit(written(tmp_path, plain))
    assert back.schema_version == "2.0"
    assert [f.headroom_stops for f in back.frames] == [f["spare_stops"] for f in plain["frames"]]
    assert back.brackets[0].not_needed == audit.brackets[0].not_needed
    assert back.panoramas == audit.panoramas
    assert back.settings == audit.settings
    assert [[f.code for f in one.findings] for one in back.frames] == [
        [f.code for f in one.findings] for one in audit.frames
    ]
    assert back.frames[0].preview is not None
    assert back.frames[0].preview.early_by_channel_stops
    assert back.rejected == ()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("[]", "is no audit.json"),
        ("{", "is no audit.json"),
        ('{"schema_version": 2}', "is no audit.json"),
        ('{"schema_version": "3.0"}', "update this program"),
        ('{"schema_version": "2.0", "frames": 3, "grads": []}', "not as an audit.json is"),
        ('{"schema_version": "1.0"}', "not as an audit.json is"),
        ("[" * 100_000, "is no audit.json"),
    ],
    ids=range(7),
)
def test_what_is_none_is_refused_in_a_sentence(content: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "audit.json").write_text(content)
    with pytest.raises(WrongCall, match=told):
        read_audit(tmp_path)


def test_what_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongCall, match="cannot be read"):
        read_audit(tmp_path / "audit.json")


def test_a_changed_setting_that_cannot_be_is_refused(audit: Audit, tmp_path: Path) -> None:
    plain: Any = json.loads(build_json(audit))
    plain["settings"]["judge"]["blown_limit"] = -1
    with pytest.raises(WrongCall, match="blown_limit"):
        read_audit(written(tmp_path, plain))
