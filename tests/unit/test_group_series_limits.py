"""On either side of the numbers that panoramas and brackets are told by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.group.brackets import find_brackets
from auditor.group.likeness import Ballot, Likeness
from auditor.group.panoramas import find_panoramas
from auditor.group.refusals import Refusals
from auditor.model.facts import ExposureFacts, FileFacts
from auditor.model.remark import RemarkCode
from auditor.model.settings import GroupSettings

ROWS, COLS = 64, 96


def step(
    right: float = 0.3, down: float = 0.0, *, like: float = 0.9, strong: float = 0.9
) -> Likeness:
    """From one framing to the next, in shares of the frame."""
    ballot = Ballot(agreeing=9, voting=12, strong=9, strong_agreement=strong)
    return Likeness(like, ballot, overlap=0.6, right=right * COLS, down=down * ROWS)


@dataclass
class Told:
    """A comparer that says what it was told to, one after the other."""

    steps: list[Likeness]

    def compare(self, *_: Any, **__: Any) -> Likeness:
        return self.steps.pop(0)


def shots_of(count: int, gap_s: float = 10.0, red: Sequence[float] = (1.0,)) -> list[Any]:
    image = SimpleNamespace(
        shape=(ROWS, COLS), lost_bright=np.zeros((ROWS, COLS)), lost_dark=np.zeros((ROWS, COLS)),
        areas=lambda: np.full((ROWS, COLS), 1.0 / (ROWS * COLS)),
    )  # fmt: skip
    return [
        SimpleNamespace(
            id=str(place), image=image, start_s=place * gap_s, end_s=place * gap_s,
            facts=FileFacts(
                exposure=ExposureFacts(time_s=0.1, f_number=8.0, iso=100.0),
                white_balance={"R": red[place % len(red)], "G": 1.0, "B": 1.5},
            ),
        )
        for place in range(count)
    ]  # fmt: skip


def panned(*steps: Likeness, **more: Any) -> Any:
    """The one panorama of frames that are each a framing of their own; None without one."""
    setups: list[Any] = [SimpleNamespace(shots=[shot]) for shot in shots_of(len(steps) + 1, **more)]
    comparer: Any = Told(list(steps))
    found = list(find_panoramas(setups, GroupSettings(), comparer, Refusals()))
    return found[0] if found else None


@pytest.mark.parametrize(("gap_s", "told"), [(75.0, True), (105.0, False)])
def test_framings_follow_each_other_soon(gap_s: float, *, told: bool) -> None:
    assert (panned(step(), step(), step(), gap_s=gap_s) is not None) == told


@pytest.mark.parametrize(
    ("turn", "neighbours"),
    [
        (step(like=0.5), False), (step(like=0.6), True),
        (step(0.8, like=0.7), False), (step(0.8, like=0.8), True),
        (step(0.78, like=0.65), False), (step(0.72, like=0.65), True),
        (step(strong=0.7), False), (step(strong=0.8), True),
        (step(down=0.07), False), (step(down=0.05), True),
        (step(0.07), False), (step(0.09), True),
    ],
)  # fmt: skip
def test_neighbours_are_parts_of_one_view(turn: Likeness, *, neighbours: bool) -> None:
    """Twice the same, so that neither is borne out by one that is surer."""
    assert (panned(turn, turn) is not None) == neighbours


@dataclass
class Sharing:
    """A comparer that finds the one match, if frames may share as little as they do there."""

    step: Likeness
    shared: float

    def compare(self, *_: Any, least_overlap: float, **__: Any) -> Likeness:
        return self.step if self.shared >= least_overlap else step(like=0.1)


def test_of_two_brackets_frames_exposed_alike_are_compared() -> None:
    """Not the last of one with the first of the next, which differ by two stops."""
    shots, seen = shots_of(6), []
    for number, shot in enumerate(shots):
        time_s = (0.1, 0.4)[number % 2]
        shot.image = SimpleNamespace(**vars(shot.image), time_s=time_s)
        shot.facts = FileFacts(exposure=ExposureFacts(time_s=time_s, f_number=8.0, iso=100.0))

    def compare(first: Any, second: Any, *_: Any, **__: Any) -> Likeness:
        seen.append((first.time_s, second.time_s))
        return step()

    setups: list[Any] = [SimpleNamespace(shots=shots[start : start + 2]) for start in (0, 2, 4)]
    comparer: Any = SimpleNamespace(compare=compare)
    assert len(list(find_panoramas(setups, GroupSettings(), comparer, Refusals()))) == 1
    assert seen == [(0.4, 0.4), (0.4, 0.4)]


@pytest.mark.parametrize(("shared", "told"), [(0.08, False), (0.12, True)])
def test_neighbours_share_a_tenth_of_the_frame(shared: float, *, told: bool) -> None:
    """Matches are looked for so far out, and no farther: a strip of sky is alike anywhere."""
    setups: list[Any] = [SimpleNamespace(shots=[shot]) for shot in shots_of(4)]
    comparer: Any = Sharing(step(1.0 - shared), shared)
    found = list(find_panoramas(setups, GroupSettings(), comparer, Refusals()))
    assert bool(found) == told


@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize(
    ("weak", "believed"),
    [
        (step(0.74, like=0.45), False), (step(0.86, like=0.55), True),
        (step(0.71, strong=0.6), False), (step(0.73, strong=0.6), True),
        (step(0.8, down=0.07, like=0.6), False), (step(0.8, down=0.05, like=0.6), True),
    ],
)  # fmt: skip
def test_a_weak_match_is_believed_where_the_camera_turned_alike_beside_it(
    weak: Likeness, *, believed: bool, after: bool
) -> None:
    """Where only what was before it, or only what came after it, bears it out."""
    sure = step(0.8)
    found = panned(weak, sure, sure) if after else panned(sure, sure, weak)
    assert len(found.frames) == 3 + believed


@pytest.mark.parametrize(
    ("blocks", "agreement", "believed"), [(12, 0.35, False), (12, 0.5, True), (8, 0.35, True)]
)
def test_a_weak_match_of_many_strong_blocks_that_disagree_is_another_place(
    blocks: int, agreement: float, *, believed: bool
) -> None:
    weak, sure = step(like=0.52), step()
    ballot = replace(weak.ballot, strong=blocks, strong_agreement=agreement)
    assert len(panned(sure, sure, replace(weak, ballot=ballot)).frames) == 3 + believed


def test_no_weaker_match_is_borne_out_by_what_comes_after_it_nor_by_one_part_alone() -> None:
    weaker, sure = step(like=0.4), step()
    assert len(panned(weaker, sure, sure).frames) == 3
    for agreeing, count in ((1, 3), (2, 4)):
        ballot = replace(sure.ballot, agreeing=agreeing)
        assert len(panned(sure, sure, replace(sure, ballot=ballot)).frames) == count


def test_two_weak_matches_do_not_bear_each_other_out() -> None:
    assert panned(*[step(like=0.5)] * 4) is None


@pytest.mark.parametrize(
    ("second", "believed"),
    [
        (step(like=0.25), False), (step(like=0.35), True),
        (step(0.36, like=0.4), False), (step(0.34, like=0.4), True),
    ],
)  # fmt: skip
def test_a_weaker_match_is_believed_where_the_camera_turned_just_as_before(
    second: Likeness, *, believed: bool
) -> None:
    found = panned(step(), second, step(), step())
    assert (found is not None and len(found.frames) == 5) == believed


@pytest.mark.parametrize(("right", "alike"), [(0.42, True), (0.48, False), (0.12, False)])
def test_steps_of_one_panorama_are_alike(right: float, *, alike: bool) -> None:
    found = panned(step(), step(), step(), step(right))
    assert (len(found.frames) == 5) == alike


@pytest.mark.parametrize(("stops", "told"), [(0.025, False), (0.035, True)])
def test_a_change_of_white_balance_shows_where_frames_are_joined(
    stops: float, *, told: bool
) -> None:
    found = panned(step(), step(), red=(2.0, 2.0 * 2.0**stops))
    assert any(one.code is RemarkCode.WHITE_BALANCE_CHANGED for one in found.remarks) == told


@pytest.mark.parametrize(
    ("stops", "drift", "told"),
    [
        (0.22, 0.0, False), (0.28, 0.0, True), (3.7, 0.0, True), (4.3, 0.0, False),
        (1.0, 0.32, True), (1.0, 0.38, False),
    ],
)  # fmt: skip
def test_a_bracket_has_steps_of_its_own_in_steady_light(
    stops: float, drift: float, *, told: bool
) -> None:
    levels = SimpleNamespace(
        settings_stops=stops * np.arange(3.0), level_stops=drift * np.arange(3.0)
    )
    view: Any = SimpleNamespace(
        setup=SimpleNamespace(shots=shots_of(3, gap_s=1.0)), levels=levels,
        flagged=np.zeros(3, np.bool_), setup_id="S01",
    )  # fmt: skip
    settings = replace(GroupSettings(), exposure_tolerance_stops=0.2)
    assert (len(list(find_brackets(view, settings, Refusals()))) == 1) == told
