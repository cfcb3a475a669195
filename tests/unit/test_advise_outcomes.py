"""What became of each frame, the largest losses, and the audit's suggestions."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.advise.outcomes import Outcome, largest_losses, lost_fraction, outcome_of, outcomes
from auditor.advise.suggestions import Basis, Mark, suggestions
from auditor.model.audit import Audit, FrameResult, Patch, RankedBehind
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.findings import Finding, Severity
from auditor.report.json_report import json_parts
from auditor.sidecar.from_audit import marks_from_audit
from auditor.words.page import OUTCOME_MEANINGS, OUTCOMES, place_text, suggestion_text
from tests.builders import make_audit


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit()[0]


def plain(audit: Audit) -> FrameResult:
    """A measured frame that lost nothing."""
    base = audit.frames[0]
    return replace(
        base, id="x", findings=(), verdict=Verdict.HELD, blown_fraction=0.0, blown_all_fraction=0.0,
        blocked_fraction=0.0, largest_blown_area=None, largest_blocked_area=None,
    )  # fmt: skip


def blown(frame: FrameResult, share: float, in_all: float) -> FrameResult:
    patch = Patch(share, (0.5, 0.5), (0.4, 0.4, 0.6, 0.6))
    found = Finding("blown-area", Severity.LOST, "", share)
    return replace(
        frame, findings=(found,), verdict=Verdict.BLOWN, blown_fraction=share,
        blown_all_fraction=in_all, largest_blown_area=patch,
    )  # fmt: skip


def test_a_loss_is_told_from_what_was_meant_and_from_the_sun(audit: Audit) -> None:
    frame = plain(audit)
    assert outcome_of(frame, ()) is Outcome.CLEAN
    assert outcome_of(replace(frame, blown_fraction=1e-6), ()) is Outcome.POINTS
    assert outcome_of(replace(frame, verdict=Verdict.MAY_BE_CLIPPED), ()) is Outcome.MAY_BE_CLIPPED
    lost = blown(frame, 0.02, 0.01)
    assert outcome_of(lost, ()) is Outcome.LOST
    assert outcome_of(lost, {"x"}) is Outcome.BRACKETED
    patch = Finding("blown-area", Severity.RISK, "", 4e-4)
    small = replace(frame, blown_fraction=6e-4, findings=(patch,))
    assert outcome_of(small, ()) is Outcome.POINTS, "a patch is not an area"
    damaged = replace(frame, findings=(Finding("damaged-data", Severity.LOST, ""),))
    assert outcome_of(damaged, {"x"}) is Outcome.LOST, "a bracket means no damage"
    assert outcome_of(replace(frame, verdict=Verdict.DARK_FRAME), ()) is Outcome.DARK
    assert outcome_of(replace(frame, status=FrameStatus.UNREADABLE), ()) is Outcome.UNREADABLE


def test_every_frame_has_an_outcome_with_words(audit: Audit) -> None:
    told = outcomes(audit)
    assert told.keys() == {frame.id for frame in audit.frames}
    assert set(OUTCOMES) == set(OUTCOME_MEANINGS) == set(Outcome)
    bracketed = [told[frame] for bracket in audit.brackets for frame in bracket.frames]
    assert Outcome.LOST not in bracketed
    assert Outcome.BRACKETED in bracketed


def test_the_largest_losses_come_first_one_a_composition(audit: Audit) -> None:
    worst = largest_losses(audit)
    assert len(worst) == 3
    shares = [lost_fraction(audit.frame(frame)) for frame in worst]
    assert shares == sorted(shares, reverse=True)
    setups = {frame: setup.id for setup in audit.setups for frame in setup.frames}
    assert len({setups[frame] for frame in worst}) == 3
    every = largest_losses(audit, 99)
    assert sorted(every) == sorted(f for f, o in outcomes(audit).items() if o is Outcome.LOST)


def test_suggestions_are_the_marks_that_the_command_would_write(
    audit: Audit, tmp_path: Path
) -> None:
    path = tmp_path / "audit.json"
    path.write_bytes(b"".join(json_parts(audit)))
    written = {mark.frame: mark.mark for mark in marks_from_audit(path).marks if mark.mark}
    assert {frame: found.mark.value for frame, found in suggestions(audit).items()} == written
    assert json.loads(path.read_bytes())["keepers"]


def test_every_suggestion_says_why(audit: Audit) -> None:
    names = {frame.id: frame.file.rpartition("/")[2] for frame in audit.frames}
    found = suggestions(audit)
    assert {entry.basis for entry in found.values()} == set(Basis) - {Basis.NOT_NEEDED}
    assert Mark.DROP not in {entry.mark for entry in found.values()}
    for entry in found.values():
        assert suggestion_text(entry, names)
    behind = next(entry for entry in found.values() if entry.basis is Basis.BEHIND)
    assert behind.ahead is not None
    assert names[behind.ahead] in suggestion_text(behind, names)


def test_reasons_against_a_frame_stand_at_that_frame(audit: Audit) -> None:
    keeper = next(keeper for keeper in audit.keepers if len(keeper.rank) > 1)
    other = keeper.rank[1]
    behind = RankedBehind(frame=other, why="0.4 % more is blown")
    told = replace(keeper, why=("sharper by a third", "said of the other"), behind=(behind,))
    found = suggestions(replace(audit, keepers=(told,), brackets=()))
    assert found[keeper.frame].reasons == ("sharper by a third",)
    assert found[other].reasons == ("0.4 % more is blown",)


def test_a_place_is_told_to_a_tenth_of_a_degree() -> None:
    assert place_text(12.0, 3.5) == "12.0° N, 3.5° E"
    assert place_text(-33.94, -0.04) == "33.9° S, 0.0° W"
