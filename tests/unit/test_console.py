"""The end of an audit as the terminal tells it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from auditor.audit import AuditEnd
from auditor.console.summary import print_summary
from auditor.model.audit import Lesson
from auditor.rules import KINDS
from tests.builders import make_audit


def summary(lessons: tuple[Lesson, ...], capsys: pytest.CaptureFixture[str]) -> str:
    end = AuditEnd(replace(make_audit()[0], lessons=lessons), (Path("out/audit.json"),))
    print_summary(end, quiet=False)
    return " ".join(capsys.readouterr().out.split())


def test_lessons_name_their_frames_shortly(capsys: pytest.CaptureFixture[str]) -> None:
    told = summary((Lesson("At worst 2 % of 100SELMR/S0001.dng.", "1 of 24 frames"),), capsys)
    assert "1. At worst 2 % of S0001.dng. 1 of 24 frames" in told
    assert "Written: out/audit.json" in told


def test_advice_never_goes_without_its_caution(capsys: pytest.CaptureFixture[str]) -> None:
    lessons = tuple(Lesson(KINDS[code].next_time, "x", code=code) for code in sorted(KINDS))
    told = summary(lessons, capsys)
    cautions = {kind.caution for kind in KINDS.values() if kind.caution}
    assert len(cautions) > 1
    for caution in cautions:
        assert told.count(f"Caution: {caution}") == 1


def test_frames_whose_dark_end_was_not_measured_are_not_counted_as_held_at_both(
    capsys: pytest.CaptureFixture[str],
) -> None:
    audit = make_audit()[0]
    held = next(frame for frame in audit.frames if frame.verdict == "held")
    pair = (held, replace(held, blocked_fraction=None))
    print_summary(AuditEnd(replace(audit, frames=pair), ()), quiet=False)
    told = " ".join(capsys.readouterr().out.split())
    assert "1 frame held at both ends" in told
    assert "1 frame held at the bright end; the dark end is not measured" in told
