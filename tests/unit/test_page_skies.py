"""Skies and grads in words: what a grad did, and which would have done."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.findings.base import ShootView
from auditor.group.set_findings import find_sky_brighter
from auditor.light.graduated import COMMON_STOPS, balancing_strength, left_brighter
from auditor.model.audit import Grad, SkyBalance
from auditor.model.codes import Verdict
from auditor.model.grouping import Grouping
from auditor.model.settings import Settings
from auditor.report.page import build_page
from auditor.words.findings import with_words
from auditor.words.skies import grad_outcome, sky_fact, sky_lines
from tests.builders import make_audit

GRAD = Grad("s1", "a", "b", 0.361, 3.0, 0.221)


def sky(
    frame: str, over: float | None, headroom: float | None = 1.0, *, at_least: bool = False
) -> SkyBalance:
    strength = None if over is None else balancing_strength(over)
    return SkyBalance(frame, over, headroom, strength, 0.4, at_least)


def outcome(without: SkyBalance | None, with_: SkyBalance | None, stops: float = 3.0) -> str:
    return " ".join(grad_outcome(replace(GRAD, stops_at_top=stops), without, with_))


def test_a_grad_too_strong_says_which_would_have_done() -> None:
    assert outcome(sky("a", 2.137), sky("b", -0.774)) == (
        "With it the sky is 0.8 stop darker than the foreground; without it, 2.1 stops brighter. "
        "The sky held. Too strong: a 1-stop (0.3) grad would have done."
    )


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (sky("a", 4.0), sky("b", 1.2), "About the right strength."),
        (sky("a", 6.0), sky("b", 3.0), "Too weak: a 4-stop (1.2) grad was needed."),
        (sky("a", 3.2), sky("b", 2.1), "Much of the bright part lies under its edge."),
        (sky("a", 1.1), sky("b", -1.9), "No grad was needed."),
        (sky("a", 5.1, 0.0, at_least=True), sky("b", 2.8),
         "Too weak: a 4-stop (1.2) grad or more was needed."),
    ],
)  # fmt: skip
def test_a_grad_is_held_against_the_sky_it_left(
    before: SkyBalance, after: SkyBalance, words: str
) -> None:
    assert outcome(before, after).endswith(words)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (0.0, 0.0, "A part of the sky is still blown."),
        (1.0, 0.0, "A part of the sky is blown."),
        (0.0, 0.5, "The sky held; without it a part was blown."),
        (0.7, 0.5, "The sky held."),
    ],
)
def test_whether_the_sky_held_is_said(before: float, after: float, words: str) -> None:
    assert words in outcome(sky("a", 4.0, before), sky("b", 1.0, after))


def test_of_what_was_not_measured_nothing_is_said() -> None:
    assert outcome(sky("a", 3.0), None) == ""
    assert outcome(sky("a", 3.0), sky("b", None, 0.0)) == ""
    bare = outcome(None, sky("b", 1.0, None))
    assert bare == "With it the sky is 1.0 stop brighter than the foreground."
    assert "strong" not in outcome(sky("a", 1.9, 0.0, at_least=True), sky("b", 0.2))


def test_skies_of_a_set_up_are_told_once() -> None:
    (line,) = sky_lines([sky("a", 2.4), sky("b", 1.9)], ())
    assert line == (
        "The sky is 1.9 to 2.4 stops brighter than the foreground in 2 frames; "
        "a 1-stop (0.3) grad would leave it about a stop brighter."
    )


def test_frames_behind_the_grad_and_blown_skies_do_not_choose_the_strength() -> None:
    skies = [sky("a", 3.3), sky("b", 2.1), sky("c", 1.8, 0.0), sky("d", None, 0.0)]
    (line,) = sky_lines(skies, {"b"})
    assert "is 3.3 stops brighter than the foreground in 1 frame; a 2-stop (0.6) grad" in line
    assert sky_lines([sky("a", 1.2), sky("b", 3.0, 0.0)], ()) == []


def test_a_sky_that_is_blown_everywhere_is_told_as_the_least() -> None:
    (line,) = sky_lines([sky("a", 3.3, 0.0, at_least=True)], ())
    assert line == (
        "The sky is at least 3.3 stops brighter than the foreground in 1 frame: it is blown there."
    )


@pytest.mark.parametrize("over", [0.2 * n for n in range(40)])
def test_only_strengths_that_are_sold_are_named(over: float) -> None:
    assert balancing_strength(over) in (None, *COMMON_STOPS)


def test_what_a_grad_leaves_is_said() -> None:
    assert left_brighter(2.1, 1.0) == "about a stop brighter"
    assert left_brighter(6.5, 4.0) == "2.5 stops brighter"


def test_the_sky_of_a_frame_is_measured_at_least_or_not() -> None:
    assert sky_fact(sky("a", 2.14), graded=False).remark.startswith("a 1-stop (0.3) grad would")
    assert sky_fact(sky("a", 2.14), graded=True).remark == ""
    assert sky_fact(sky("a", 2.14, 0.0, at_least=True), graded=False).text == (
        "at least 2.1 stops brighter than the foreground"
    )
    assert sky_fact(sky("a", None, 0.0), graded=False).text == "not measured"


def test_the_report_tells_what_the_grad_did() -> None:
    audit = make_audit()[0]
    grad = audit.grads[0]
    skies = (sky(grad.without, 2.1), sky(grad.with_, -0.8))
    page = build_page(replace(audit, skies=skies), {})
    (sheet,) = (found for setup in page.setups for found in setup.grads)
    assert "its edge lies 42 % of the height from the top and takes 13 % of the height." in (
        sheet.sentence
    )
    assert sheet.sentence.endswith("Too strong: a 1-stop (0.3) grad would have done.")


@pytest.mark.parametrize(
    ("over", "least", "words"),
    [
        (2.1, False, "2.1 stops brighter than the foreground; a 1-stop (0.3) grad would have left "
         "it about a stop brighter."),
        (2.1, True, "at least 2.1 stops brighter than the foreground; a 1-stop (0.3) grad or a "
         "stronger "),
        (0.9, False, None),
        (None, False, None),
    ],
)  # fmt: skip
def test_the_finding_says_what_the_filter_leaves(
    over: float | None, least: bool, words: str | None
) -> None:
    frame = replace(make_audit()[0].frames[0], verdict=Verdict.BLOWN)
    grouping = Grouping(skies=(sky(frame.id, over, 0.0, at_least=least),))
    view = ShootView({frame.id: frame}, grouping, Settings())
    found = [(name, with_words(told)) for name, told in find_sky_brighter(view)]
    assert [words in told.text for _, told in found if words] == [True] * (words is not None)
    assert bool(found) == (words is not None)
