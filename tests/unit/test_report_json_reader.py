"""audit.json read back: as it was written, of 1.x too, and nothing else by that name."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.errors import WrongCall
from auditor.report.json_reader import CODES, read_audit
from auditor.report.json_report import json_parts
from auditor.report.plain_records import audit_to_plain
from auditor.words.kinds import KINDS
from tests.builders import make_audit

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


def written(folder: Path, plain: object) -> Path:
    (folder / "audit.json").write_text(json.dumps(plain))
    return folder / "audit.json"


@pytest.mark.parametrize("hostile", [False, True])
def test_an_audit_is_read_back_as_it_was_written(hostile: bool, tmp_path: Path) -> None:
    made = make_audit(24, hostile=hostile)[0]
    (tmp_path / "audit.json").write_bytes(b"".join(json_parts(made)))
    back = read_audit(tmp_path)
    assert audit_to_plain(back) == json.loads(b"".join(json_parts(made)))
    assert read_audit(str(tmp_path / "audit.json")) == back


def first(version: str) -> dict[str, Any]:
    """An ``audit.json`` that a program of that schema wrote."""
    found: dict[str, Any] = json.loads((DATA / f"audit-{version}.json").read_bytes())
    assert found["schema_version"] == version
    return found


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_an_audit_of_the_first_schema_is_read_under_the_names_of_today(
    version: str, tmp_path: Path
) -> None:
    plain, back = first(version), read_audit(DATA / f"audit-{version}.json")
    assert back.schema_version == SCHEMA_VERSION
    for frame, old in zip(back.frames, plain["frames"], strict=True):
        assert (frame.id, frame.verdict) == (old["id"], old["verdict"])
        assert frame.headroom_stops == old["spare_stops"]
        codes = [CODES.get(one["code"], one["code"]) for one in old["findings"]]
        assert [one.code for one in frame.findings] == codes
        early = frame.preview and frame.preview.early_by_channel_stops
        assert early == (old["preview"] and old["preview"]["cries_early_stops"])
        assert [one.saturation_dn for one in frame.channels] == [
            one["saturation_dn"] for one in old["channels"]
        ]
    assert [one.not_needed for one in back.brackets] == [
        tuple(one["spare"]) for one in plain["brackets"]
    ]
    assert [list(one.frames) for one in back.panoramas] == [r["frames"] for r in plain["runs"]]
    assert [one.filter_stops for one in back.siblings] == [
        one["filter_stops"] for one in plain["siblings"]
    ]
    old_judge = plain["settings"]["judge"]
    assert back.settings.judge.headroom_limit_stops == old_judge["spare_limit_stops"]
    assert back.rejected == ()
    (tmp_path / "audit.json").write_bytes(b"".join(json_parts(back)))
    assert read_audit(tmp_path) == back, "written anew it is one of today"


def test_the_kept_audits_hold_every_kind_of_record() -> None:
    plain = first("1.1")
    lists = (
        "setups",
        "siblings",
        "brackets",
        "grads",
        "runs",
        "skies",
        "keepers",
        "light",
        "prints",
    )
    assert all(plain[name] for name in lists)
    assert {frame["status"] for frame in plain["frames"]} == {"measured", "unreadable"}


@pytest.mark.parametrize(("old", "new"), CODES.items())
def test_a_finding_of_the_first_schema_has_the_code_of_today(
    old: str, new: str, tmp_path: Path
) -> None:
    plain = first("1.1")
    plain["frames"][0]["findings"][0]["code"] = old
    assert read_audit(written(tmp_path, plain)).frames[0].findings[0].code == new
    assert new in KINDS


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
    plain: Any = json.loads(b"".join(json_parts(audit)))
    plain["settings"]["judge"]["blown_limit"] = -1
    with pytest.raises(WrongCall, match="blown_limit"):
        read_audit(written(tmp_path, plain))
