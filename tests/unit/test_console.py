"""The end of an audit as the terminal tells it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from auditor.audit import AuditEnd
from auditor.console.summary import print_summary, report_lines
from auditor.model.audit import Audit, Lesson
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.errors import FrameFailure
from auditor.words.cautions import IN_ONE_LINE
from auditor.words.kinds import KINDS
from tests.builders import make_audit


def summary(lessons: tuple[Lesson, ...], capsys: pytest.CaptureFixture[str]) -> str:
    end = AuditEnd(replace(make_audit()[0], lessons=lessons), (Path("out/audit.json"),))
    print_summary(end, quiet=False)
    return " ".join(capsys.readouterr().out.split())


def test_lessons_name_their_frames_shortly(capsys: pytest.CaptureFixture[str]) -> None:
    told = summary((Lesson("At worst 2 % of 100SELMR/S0001.dng.", "1 of 24 frames"),), capsys)
    assert "1. At worst 2 % of S0001.dng. 1 of 24 frames" in told
    assert "Report: out/audit.json" in told


@pytest.mark.parametrize("terminal", [True, False])
def test_advice_never_goes_without_a_line_of_caution(
    terminal: bool, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Console, "is_terminal", property(lambda _: terminal))
    monkeypatch.setenv("COLUMNS", "140")
    lessons = tuple(Lesson(KINDS[code].next_time, "x", code=code) for code in sorted(KINDS))
    told = summary(lessons, capsys)
    assert told.count("Caution") == told.count(f"Caution: {IN_ONE_LINE}") == 1


def test_frames_whose_dark_end_was_not_measured_are_not_counted_as_held_at_both(
    capsys: pytest.CaptureFixture[str],
) -> None:
    audit = make_audit()[0]
    held = next(frame for frame in audit.frames if frame.verdict == Verdict.HELD)
    pair = (held, replace(held, blocked_fraction=None))
    print_summary(AuditEnd(replace(audit, frames=pair), ()), quiet=False)
    told = " ".join(capsys.readouterr().out.split())
    assert "1 frame held at both ends" in told
    assert "1 frame held at the bright end; the dark end is not measured" in told


def test_thousands_of_pictures_do_not_bury_the_report() -> None:
    out = Path("/out")
    pictures = [out / "report-pictures" / f"{n:06d}.jpg" for n in range(7201)]
    sheets = [out / "sheets" / f"{n}.png" for n in range(1)]
    pages = [out / "contact-sheet.png", out / "contact-sheet-2.png"]
    written = (*pictures, out / "report.html", *pages, *sheets, out / "audit.json")
    assert list(report_lines(written)) == [
        "Report: /out/report.html",
        "Beside it: 7,201 pictures, 2 contact sheets, 1 sheet, audit.json",
    ]
    assert list(report_lines((out / "frames.csv",))) == ["Report: /out/frames.csv"]
    assert list(report_lines(())) == []


def failed(audit: Audit, code: str, count: int) -> Audit:
    frame, error = audit.frames[0], FrameFailure(code, f"It is {code}.")
    lost = replace(
        frame, status=FrameStatus.UNREADABLE, verdict=Verdict.UNREADABLE, channels=(), error=error
    )
    return replace(audit, frames=tuple(replace(lost, id=f"F{n}.DNG") for n in range(count)))


def test_files_not_reached_are_one_count_and_no_list(capsys: pytest.CaptureFixture[str]) -> None:
    stopped = replace(failed(make_audit()[0], "interrupted", 88), complete=False)
    print_summary(AuditEnd(stopped, ()), quiet=False)
    told = capsys.readouterr()
    assert "88 files not reached before the stop" in " ".join(told.out.split())
    assert told.err == ""
    assert "same command" not in told.out


def test_many_files_with_one_reason_are_named_up_to_twenty(
    capsys: pytest.CaptureFixture[str],
) -> None:
    print_summary(AuditEnd(failed(make_audit()[0], "damaged", 47), ()), quiet=True)
    told = capsys.readouterr().err
    assert told.count("It is damaged.") == 20
    assert "and 27 more, for the same reason" in told
