"""On either side of the numbers that tell whether two frames are one composition."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from auditor.group.likeness import Ballot, Likeness
from auditor.group.setups import _better_turned
from auditor.model.rejected import Reason

PLAIN = Ballot(agreeing=9, voting=12)


def moved(correlation: float = 0.9, ballot: Ballot = PLAIN, **more: Any) -> Likeness:
    return Likeness(correlation, ballot, **{"overlap": 0.9, "right": 4.0} | more)


def unmoved(correlation: float = 0.9, ballot: Ballot = PLAIN, **more: Any) -> Likeness:
    return moved(correlation, ballot, right=0.3, **more)


def votes(agreeing: int, voting: int = 30, *, strong: int = 0, agreement: float = 0.0) -> Ballot:
    return Ballot(agreeing, voting, strong, agreement)


@pytest.mark.parametrize(("overlap", "tells"), [(0.043, False), (0.057, True)])
def test_what_both_record_is_enough_to_compare(overlap: float, tells: bool) -> None:
    assert moved(overlap=overlap).can_tell == tells


@pytest.mark.parametrize(("voting", "tells"), [(3, False), (4, True), (5, True)])
def test_so_many_blocks_have_something_to_say(voting: int, tells: bool) -> None:
    assert moved(ballot=votes(3, voting)).can_tell == tells


@pytest.mark.parametrize(("strong", "bare"), [(2, True), (3, False)])
def test_with_few_strong_blocks_there_is_nothing_but_sky_and_water(strong: int, bare: bool) -> None:
    assert moved(ballot=votes(9, strong=strong)).featureless == bare


@pytest.mark.parametrize(("right", "same"), [(0.65, True), (0.85, False)])
def test_a_shift_of_next_to_nothing_is_itself_a_sign(right: float, same: bool) -> None:
    assert moved(0.45, right=right).matches == same


@pytest.mark.parametrize(
    ("likeness", "same"),
    [
        (unmoved(0.37), False),
        (unmoved(0.43), True),
        (moved(0.45), False),
        (moved(0.55), True),
        (unmoved(ballot=votes(5)), False),
        (unmoved(ballot=votes(6)), True),
        (moved(ballot=votes(2)), False),
        (moved(ballot=votes(3)), True),
        (unmoved(ballot=votes(9, strong=9, agreement=0.43)), False),
        (unmoved(ballot=votes(9, strong=9, agreement=0.57)), True),
        (moved(ballot=votes(9, strong=9, agreement=0.60)), False),
        (moved(ballot=votes(9, strong=9, agreement=0.75)), True),
        (moved(ballot=votes(9, strong=3, agreement=0.1)), True),
        (moved(ballot=votes(9, strong=4, agreement=0.1)), False),
    ],
)  # fmt: skip
def test_frames_are_as_alike_as_one_composition_is(likeness: Likeness, same: bool) -> None:
    assert likeness.matches == same


@pytest.mark.parametrize(
    ("ballot", "same"),
    [
        (votes(18, agreement=0.9), False),  # 60 % of 30 agree
        (votes(24, agreement=0.9), True),
        (votes(24, agreement=0.7), False),
        (votes(24, agreement=0.87), True),
        (votes(4, 5, agreement=0.9), False),
        (votes(5, 5, agreement=0.9), True),
    ],
)
def test_where_nearly_all_blocks_agree_the_whole_may_say_what_it_will(
    ballot: Ballot, same: bool
) -> None:
    assert unmoved(0.2, ballot).matches == same


@pytest.mark.parametrize(
    ("first", "turned", "better"),
    [
        (moved(0.60), moved(0.72, right=40.0), False),
        (moved(0.60), moved(0.78, right=40.0), True),
        (moved(0.60), moved(0.78, right=7.0), False),  # within what a knocked tripod moves
        (moved(0.60), moved(0.78, right=9.0), True),
        (moved(0.78), moved(0.99, right=40.0), False),  # sure by itself
        (moved(0.72), moved(0.99, right=40.0), True),
    ],
)
def test_a_turned_camera_is_told_from_a_knocked_one(
    first: Likeness, turned: Likeness, better: bool
) -> None:
    """A headland looks like another: the neighbour in a panorama matches far better."""
    image: Any = SimpleNamespace(shape=(64, 96))
    comparer: Any = SimpleNamespace(compare=lambda *_, **__: turned)
    why = _better_turned(first, image, image, comparer)
    assert (why is not None and why.reason is Reason.CAMERA_TURNED) == better
