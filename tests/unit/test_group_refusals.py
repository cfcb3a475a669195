"""What grouping considered and did not take: the reason, its figure, its limit, its sentence."""

from __future__ import annotations

import json
import logging
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from auditor.between import explain_frames
from auditor.cli import app
from auditor.group.grouping import group_shoot
from auditor.model.audit import Audit, Setup
from auditor.model.codes import FrameStatus
from auditor.model.errors import WrongCall
from auditor.model.facts import LensFacts
from auditor.model.grouping import Grouping
from auditor.model.rejected import GroupKind, Reason, Rejected
from auditor.model.settings import GroupSettings
from auditor.report.json_report import json_parts
from auditor.words.refusals import _PHRASES, AuditedFile, Groups, between_frames, refusal_sentence
from tests.builders import make_audit
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, coast

LONG_LENS = LensFacts("Brackwell 70-200 mm f/4", 100.0, 100.0)


def two_places(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1, 1), 20.0)


def two_lenses(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 20.0, lens=LONG_LENS)


def two_hours(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 7200.0)


def longer_without_filter(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 20.0, 0.5)


def uneven_steps(shoot: Shoot) -> None:
    for at_s, time_s in ((0.0, 0.125), (2.0, 0.25), (4.0, 2.0)):
        shoot.take(coast(1), at_s, time_s)


def two_of_a_bracket(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0, 0.25)
    shoot.take(coast(1), 2.0, 0.125)


def cloud_before_the_sun(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 60.0, sky_less_ground=-1.5)


def two_framings(shoot: Shoot) -> None:
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 6.0, pan=0.35)


CASES: list[tuple[Callable[[Shoot], None], GroupKind, set[Reason]]] = [
    (two_places, GroupKind.SETUP, {Reason.LITTLE_ALIKE, Reason.PARTS_DISAGREE}),
    (two_lenses, GroupKind.SETUP, {Reason.OTHER_LENS}),
    (two_hours, GroupKind.SETUP, {Reason.TOO_LATE}),
    (longer_without_filter, GroupKind.PAIR, {Reason.NO_FILTER}),
    (uneven_steps, GroupKind.BRACKET, {Reason.UNEVEN_STEPS}),
    (two_of_a_bracket, GroupKind.BRACKET, {Reason.TOO_FEW_FRAMES}),
    (cloud_before_the_sun, GroupKind.GRAD,
     {Reason.NO_EDGE, Reason.FOLLOWS_THE_SCENE, Reason.SIDES_DISAGREE}),
    (two_framings, GroupKind.PANORAMA, {Reason.TOO_FEW_FRAMES}),
]  # fmt: skip


def grouped(shoot: Shoot) -> Grouping:
    return group_shoot(shoot.frames, GroupSettings())


def told(shoot: Shoot) -> list[str]:
    found = grouped(shoot)
    kinds = [name for name in Groups.__dataclass_fields__ if name != "frames"]
    groups = Groups(**{name: getattr(found, name) for name in kinds})
    return list(between_frames(groups, shoot.frames[0].id, shoot.frames[-1].id))


@pytest.mark.parametrize(
    ("take", "what", "reasons"), CASES, ids=lambda c: getattr(c, "__name__", "")
)
def test_each_refusal_has_its_reason(
    take: Callable[[Shoot], None], what: GroupKind, reasons: set[Reason]
) -> None:
    shoot = Shoot(1)
    take(shoot)
    (found,) = (one for one in grouped(shoot).rejected if one.what is what)
    assert found.reason in reasons
    assert set(found.frames) <= {frame.id for frame in shoot.frames}
    assert (found.value is None) == (found.limit is None)


def test_two_places_are_refused_by_figures_that_say_so() -> None:
    shoot = Shoot(1)
    two_places(shoot)
    found = next(one for one in grouped(shoot).rejected if one.what is GroupKind.SETUP)
    assert found.value is not None
    assert found.limit is not None
    assert found.value < found.limit


def test_frames_that_belong_together_are_told_so() -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 20.0, 8.0, nd=SIX)
    together, pair = told(shoot)
    assert "belong to one set-up, S01, of 2 frames." in together
    assert "They are a filtered pair" in pair
    assert "measures 6.0" in pair


def test_a_graduated_filter_is_told_between_its_frames() -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 25.0, grad=GradGlass(3.0, 0.4, 0.1))
    assert any("has a graduated filter of" in sentence for sentence in told(shoot))


def test_two_set_ups_are_told_with_their_reason() -> None:
    shoot = Shoot(1)
    two_places(shoot)
    first, *others = told(shoot)
    assert "different set-ups, S01 and S02" in first
    assert any("too little alike" in one or "too few parts" in one for one in others)


def test_what_was_never_compared_is_said() -> None:
    shoot = Shoot(1)
    for place in range(5):
        shoot.take(coast(1, place), 30.0 * place)
    assert "They were not compared" in told(shoot)[-1]


def test_the_records_stay_few_on_a_long_shoot() -> None:
    shoot = Shoot(1)
    for place in range(12):
        shoot.take(coast(1, place), 100.0 * place)
        shoot.take(coast(1, place), 100.0 * place + 20.0, 0.5)
    assert len(grouped(shoot).rejected) <= 5 * len(shoot.frames)


@pytest.mark.parametrize("reason", Reason)
@pytest.mark.parametrize("value", [None, 0.12])
def test_each_reason_is_a_sentence_without_a_gap(reason: Reason, value: float | None) -> None:
    one = Rejected(what=GroupKind.PAIR, frames=("a", "b"), reason=reason, value=value, limit=value)
    sentence = refusal_sentence(one)
    assert sentence.startswith("a and b are not a filtered pair: ")
    assert sentence.endswith(".")
    assert not set("{}") & set(sentence)
    assert set(_PHRASES) == set(Reason)


def test_decisions_are_logged(caplog: pytest.LogCaptureFixture) -> None:
    shoot = Shoot(1)
    two_places(shoot)
    with caplog.at_level(logging.DEBUG, "auditor.group"):
        grouped(shoot)
    assert any("no set-up:" in record.getMessage() for record in caplog.records)


@pytest.fixture(name="report")
def made_report(tmp_path: Path) -> tuple[Path, Audit]:
    audit, _ = make_audit()
    path = tmp_path / "audit.json"
    path.write_bytes(b"".join(json_parts(audit)))
    return path, audit


def test_two_frames_of_a_report_are_explained(report: tuple[Path, Audit]) -> None:
    path, audit = report
    setup = next(setup for setup in audit.setups if len(setup.frames) > 1)
    first, second = setup.frames[:2]
    done = CliRunner().invoke(app, ["explain", first, second, "--audit", str(path)])
    assert done.exit_code == 0, done.output
    assert "belong to one set-up" in " ".join(done.output.split())


def test_a_frame_answers_to_the_end_of_its_name(report: tuple[Path, Audit]) -> None:
    path, audit = report
    first, second = audit.setups[0].frames[0], audit.setups[1].frames[0]
    stems = [Path(frame).stem for frame in (first, second)]
    by_stem = explain_frames(stems[0], stems[1], path, None)
    assert by_stem == explain_frames(first, second, path, None)


@pytest.mark.parametrize(
    ("names", "words"),
    [(("nowhere", "0001"), "holds no frame"), (("", "0001"), "holds no frame")],
)
def test_a_name_that_no_frame_bears_is_refused(
    names: tuple[str, str], words: str, report: tuple[Path, Audit]
) -> None:
    with pytest.raises(WrongCall, match=words):
        explain_frames(*names, report[0], None)


@pytest.mark.parametrize(
    "content",
    [b"", b"[]", b"{}", b'{"frames": [1]}', b'{"frames": [], "grads": [1]}',
     b'{"frames": [], "rejected": [{"what": "new"}]}', b"\xff", b"[" * 20000],
    ids=range(8),
)  # fmt: skip
def test_what_is_no_audit_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "audit.json"
    path.write_bytes(content)
    with pytest.raises(WrongCall, match=r"no audit\.json|holds no frame"):
        explain_frames("0001", "0002", path, None)


def test_one_frame_twice_is_refused(report: tuple[Path, Audit]) -> None:
    path, audit = report
    with pytest.raises(WrongCall, match="one frame"):
        explain_frames(audit.frames[0].id, audit.frames[0].id, path, None)


def test_the_last_audit_is_asked_where_none_is_named(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["explain", "0001", "0002", "--store", str(tmp_path / "none")])
    assert done.exit_code != 0


def test_the_records_stand_in_the_json(report: tuple[Path, Audit]) -> None:
    assert json.loads(report[0].read_bytes())["rejected"] == []


def test_an_audit_too_large_to_be_one_is_never_read(tmp_path: Path) -> None:
    (tmp_path / "audit.json").touch()
    os.truncate(tmp_path / "audit.json", 1 << 36)  # nothing of it is on the disk
    with pytest.raises(WrongCall, match="too large"):
        explain_frames("1", "2", tmp_path / "audit.json", None)


@pytest.mark.parametrize(
    ("status", "also_at", "why"),
    [
        (FrameStatus.UNREADABLE, (), "it could not be read"),
        (FrameStatus.UNREADABLE, ("a",), "it could not be read"),
        (FrameStatus.MEASURED, ("c", "a"), "it is a copy of a, which belongs to s1"),
        (FrameStatus.MEASURED, (), "it is dark all over"),
        (FrameStatus.MEASURED, ("c",), "it is dark all over"),
    ],
)
def test_why_a_file_belongs_to_no_set_up(
    status: FrameStatus, also_at: tuple[str, ...], why: str
) -> None:
    files = (
        AuditedFile(id="a", status=FrameStatus.MEASURED),
        AuditedFile(id="b", status=status, also_at=also_at),
    )
    groups = Groups(setups=(Setup("s1", ("a",), None, None, (None,)),), frames=files)
    for order in ("ab", "ba"):
        assert list(between_frames(groups, *order)) == [f"b belongs to no set-up: {why}."]


def test_each_of_two_files_that_belong_to_no_set_up_is_told() -> None:
    files = (
        AuditedFile(id="a", status=FrameStatus.UNREADABLE),
        AuditedFile(id="b", status=FrameStatus.MEASURED),
    )
    assert list(between_frames(Groups(frames=files), "a", "b")) == [
        "a belongs to no set-up: it could not be read.",
        "b belongs to no set-up: it is dark all over.",
    ]
