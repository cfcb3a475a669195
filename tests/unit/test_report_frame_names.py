"""Frames are named by as little of their path as tells them apart."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.model.audit import FrameResult
from auditor.report.frame_names import short_names, with_short_names
from tests.builders import make_audit

FRAME = make_audit(1)[0].frames[0]


def frames(*files: str) -> list[FrameResult]:
    return [replace(FRAME, id=f"{n}:{file}", file=file) for n, file in enumerate(files)]


@pytest.mark.parametrize(
    ("files", "names"),
    [
        (["DCIM/100/A.DNG", "DCIM/100/B.DNG"], ["A.DNG", "B.DNG"]),
        (["DCIM/100/A.DNG", "DCIM/101/A.DNG"], ["100/A.DNG", "101/A.DNG"]),
        (["A.DNG", "DCIM/A.DNG"], ["A.DNG", "DCIM/A.DNG"]),
        (["x/a/A.DNG", "y/a/A.DNG", "z/b/A.DNG"], ["x … A.DNG", "y … A.DNG", "b/A.DNG"]),
        (
            ["card-1/DCIM/100/A.DNG", "card-2/DCIM/100/A.DNG", "card-2/DCIM/100/B.DNG"],
            ["card-1 … A.DNG", "card-2 … A.DNG", "B.DNG"],
        ),
        (["x/a/A", "x/b/A", "y/a/A", "y/b/A"], ["x/a/A", "x/b/A", "y/a/A", "y/b/A"]),
        (["x/a/A", "y/a/A", "x … A"], ["x/a/A", "y/a/A", "x … A"]),
    ],
)
def test_names_are_as_short_as_they_can_be(files: list[str], names: list[str]) -> None:
    assert list(short_names(frames(*files)).values()) == names


def test_one_path_from_two_inputs_is_told_apart() -> None:
    first, second = frames("DCIM/A.DNG", "DCIM/A.DNG")
    named = short_names([first, replace(second, input=1)])
    assert list(named.values()) == ["A.DNG (card 1)", "A.DNG (card 2)"]


@given(st.lists(st.text("ab/.", max_size=9), unique=True, max_size=12))
def test_no_two_frames_share_a_name(files: list[str]) -> None:
    assert len(set(short_names(frames(*files)).values())) == len(files)


def test_sentences_name_frames_shortly_and_keep_all_else() -> None:
    names = {"DCIM/100/A.DNG": "A.DNG", "2:DCIM/B.DNG": "B.DNG (card 2)"}
    told = (
        "1/125 s, 12 % of DCIM/100/A.DNG, then 2:DCIM/B.DNG: DCIM/100/A.DNG-2 too. DCIM/100/A.DNG."
    )
    assert with_short_names(told, names) == (
        "1/125 s, 12 % of A.DNG, then B.DNG (card 2): DCIM/100/A.DNG-2 too. A.DNG."
    )
