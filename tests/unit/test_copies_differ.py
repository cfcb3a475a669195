"""Copies that are not the same: which one is whole, in one sentence and as a finding."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.findings.base import FrameView, find_copies_differ
from auditor.model.codes import Damage, FrameStatus
from auditor.model.errors import FrameFailure
from auditor.model.facts import DifferingCopy
from auditor.model.measurement import DamageSign
from auditor.model.settings import Settings
from auditor.words.findings import with_words
from auditor.words.notes import copies_differ
from tests.builders import make_audit


@pytest.mark.parametrize(
    ("own", "other", "told"),
    [
        (True, False, "Card 1's copy differs from card 2's copy; card 1's copy is whole: use that"),
        (False, True, "Card 1's copy differs from card 2's copy; card 2's copy is whole: use that"),
        (None, True, "card 2's copy is whole: use that one."),
        (True, True, "neither shows damage: hold them against each other"),
        (False, None, "none of them is whole: keep them all."),
    ],
)
def test_the_sentence_names_what_is_whole(own: bool | None, other: bool | None, told: str) -> None:
    text = copies_differ(DifferingCopy("a", 1, own), [DifferingCopy("2:a", 2, other)])
    assert told in text


def test_two_on_one_card_are_told_by_their_names() -> None:
    text = copies_differ(DifferingCopy("a", 1, False), [DifferingCopy("b/a", 1, True)])
    assert text == "This copy differs from b/a; b/a is whole: use that one."


def test_of_three_copies_every_one_is_told() -> None:
    others = [DifferingCopy("2:a", 2, True), DifferingCopy("3:a", 3, True)]
    text = copies_differ(DifferingCopy("a", 1, False), others)
    assert "differs from card 2's copy and card 3's copy" in text
    assert "card 2's copy and card 3's copy show no damage" in text


def test_the_finding_stands_at_measured_damaged_and_unread_frames() -> None:
    audit, _ = make_audit(24)
    whole = replace(audit.frames[0], differing_copies=(DifferingCopy("2:a", 2, True),))
    sign = DamageSign(Damage.ROW_JUMP, 0.1)
    views = {
        "neither shows damage": FrameView(whole, Settings()),
        "card 2's copy is whole": FrameView(whole, Settings(), damage=(sign,)),
        "differs from card 2's copy; card 2's copy is whole": FrameView(
            replace(whole, status=FrameStatus.UNREADABLE, error=FrameFailure("damaged", "")),
            Settings(),
        ),
    }
    for told, view in views.items():
        (finding,) = map(with_words, find_copies_differ(view))
        assert told in finding.text
    assert list(find_copies_differ(FrameView(audit.frames[0], Settings()))) == []
