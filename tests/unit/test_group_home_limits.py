"""On either side of the numbers that put a frame to a set-up, told by what two frames are like."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.group.likeness import Ballot, Likeness
from auditor.group.refusals import Refusals
from auditor.group.setups import SetupShots, _over_jump, sorted_out
from auditor.model.facts import ExposureFacts, FileFacts, LensFacts
from auditor.model.settings import GroupSettings

ALIKE = Likeness(0.9, Ballot(agreeing=9, voting=12), overlap=0.9)
NOTHING = Likeness(0.0, Ballot(), overlap=0.9)


@dataclass
class Told:
    """A comparer that says what it was told to, and of frames laid over each other another."""

    likeness: Likeness
    still: Likeness = NOTHING

    def compare(self, *_: Any, **__: Any) -> Likeness:
        return self.likeness

    def compare_still(self, *_: Any) -> Likeness:
        return self.still


def together(
    comparer: Told, *, gap_s: float | None = 10.0, times_s: tuple[float, float] = (0.1, 0.1),
    focal_mm: float = 24.0,
) -> bool:  # fmt: skip
    """Whether a second frame, so long after the first, is put to its set-up."""
    image = SimpleNamespace(shape=(64, 96), orientation=1)
    shots: list[Any] = [
        SimpleNamespace(
            id=str(place), image=image, time_s=time_s, start_s=start_s,
            end_s=None if start_s is None else start_s + time_s,
            clock_was_set=False, follows=lambda _: False,
            facts=FileFacts(lens=LensFacts("L", mm), exposure=ExposureFacts(time_s=time_s)),
        )
        for place, time_s, start_s, mm in (
            (0, times_s[0], 0.0, 24.0),
            (1, times_s[1], None if gap_s is None else times_s[0] + gap_s, focal_mm),
        )
    ]  # fmt: skip
    anyone: Any = comparer
    return len(sorted_out(shots, GroupSettings(), anyone, Refusals())) == 1


@pytest.mark.parametrize(("focal_mm", "same"), [(24.4, True), (24.6, False)])
def test_zoom_lenses_tell_one_focal_length_within_two_percent(
    focal_mm: float, *, same: bool
) -> None:
    assert together(Told(ALIKE), focal_mm=focal_mm) == same


@pytest.mark.parametrize(("gap_s", "same"), [(25.0, True), (35.0, False)])
def test_a_frame_that_cannot_be_compared_belongs_to_the_one_before(
    gap_s: float, *, same: bool
) -> None:
    assert together(Told(NOTHING), gap_s=gap_s) == same


@pytest.mark.parametrize("gap_s", [10.0, None])
def test_without_a_clock_a_frame_joins_by_its_picture_alone(gap_s: float | None) -> None:
    """Black frames and bare horizons belong to the one before only where a time says so."""
    sea = Likeness(0.2, Ballot(agreeing=2, voting=12, strong=1), overlap=0.9, level_rows=0.9)
    assert [together(Told(likeness), gap_s=gap_s) for likeness in (ALIKE, NOTHING, sea)] == [
        True,
        gap_s is not None,
        gap_s is not None,
    ]


@pytest.mark.parametrize(
    ("gap_s", "rows", "same"),
    [(700.0, 0.9, True), (1050.0, 0.9, False), (700.0, 0.7, False), (700.0, 0.88, True)],
)
def test_a_bare_horizon_matches_for_a_quarter_of_an_hour(
    gap_s: float, rows: float, *, same: bool
) -> None:
    sea = Likeness(0.2, Ballot(agreeing=2, voting=12, strong=1), overlap=0.9, level_rows=rows)
    assert together(Told(sea), gap_s=gap_s) == same


@pytest.mark.parametrize(
    ("overlap", "both", "same"),
    [(0.6, 0.5, True), (0.8, 0.5, False), (0.6, 0.09, True), (0.6, 0.07, False)],
)
def test_where_little_is_recorded_by_both_frames_are_laid_over_each_other(
    overlap: float, both: float, *, same: bool
) -> None:
    apart = Likeness(0.1, Ballot(agreeing=1, voting=12), overlap=overlap)
    still = Likeness(0.9, Ballot(agreeing=9, voting=12), overlap=both)
    assert together(Told(apart, still)) == same


@pytest.mark.parametrize(
    ("correlation", "error_tiles", "strong", "right", "same"),
    [
        (0.6, None, 0.7, 0.4, False), (0.7, None, 0.7, 0.4, True),
        (0.6, 0.08, 0.7, 0.4, True), (0.6, 0.12, 0.7, 0.4, False),
        (0.6, None, 0.95, 0.4, True), (0.6, None, 0.85, 0.4, False),
        (0.6, None, 0.85, 0.24, True), (0.6, None, 0.75, 0.24, False),
        (0.6, None, 0.85, 0.26, False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("first", [True, False])
def test_a_weak_match_also_tells_its_shift_or_agrees_in_what_is_strong(
    correlation: float, error_tiles: float | None, strong: float, right: float,
    *, first: bool, same: bool,
) -> None:  # fmt: skip
    """In what is strong in either of the two: where the tide came in it is not so in both."""
    each = ((9, strong), (12, 0.6)) if first else ((12, 0.6), (9, strong))
    ballot = Ballot(9, 12, 12, 0.6, *each)
    weak = Likeness(correlation, ballot, overlap=0.9, right=right, error_tiles=error_tiles)
    assert together(Told(weak)) == same


@pytest.mark.parametrize(("strong", "same"), [(8, True), (12, False)])
def test_over_little_but_water_a_weak_match_is_one(strong: int, *, same: bool) -> None:
    """A sliver of a headland agrees; the waves, which are most of the picture, never do."""
    weak = Likeness(0.5, Ballot(9, 12, strong, 0.85), overlap=0.9, right=0.5)
    assert together(Told(weak)) == same


@pytest.mark.parametrize(
    ("times_s", "same"),
    [((0.42, 0.01), False), ((0.58, 0.01), True), ((2.0, 0.3), False), ((2.0, 0.21), True)],
)
def test_waves_are_no_rocks_beside_smooth_water(
    times_s: tuple[float, float], *, same: bool
) -> None:
    """The blocks that are strong in the frame of smooth water agree, those of the waves do not."""
    ballot = Ballot(
        agreeing=9, voting=12, strong=9, strong_agreement=0.1,
        strong_first=(5, 0.9), strong_second=(9, 0.1),
    )  # fmt: skip
    assert together(Told(Likeness(0.9, ballot, overlap=0.9)), times_s=times_s) == same


@pytest.mark.parametrize(("right", "same"), [(6.5, True), (9.0, False)])
def test_a_knocked_tripod_moves_the_picture_so_far(right: float, *, same: bool) -> None:
    moved = Likeness(0.9, Ballot(agreeing=9, voting=12), overlap=0.9, right=right)
    assert together(Told(moved)) == same


@pytest.mark.parametrize(
    ("apart_stops", "stood_still"), [(0.25, True), (-0.25, True), (0.35, False)]
)
def test_where_the_light_stood_still_it_was_the_clock_that_jumped(
    apart_stops: float, *, stood_still: bool
) -> None:
    """Two hours later by the clock: the same picture at the same settings, and the next number."""
    setups = []
    for place, level in enumerate((9.0, 9.0 + apart_stops)):
        image = SimpleNamespace(
            shape=(64, 96),
            orientation=1,
            main=0,
            stops=lambda _, told=level: np.full((64, 96), told),
        )
        shot: Any = SimpleNamespace(
            id=str(place), image=image, time_s=0.1, start_s=7200.0 * place,
            end_s=7200.0 * place + 0.1, clock_was_set=False, follows=lambda _: True,
            facts=FileFacts(exposure=ExposureFacts(time_s=0.1)),
        )  # fmt: skip
        setups.append(SetupShots())
        setups[-1].add(shot, (0.0, 0.0))
    anyone: Any = Told(ALIKE)
    found = _over_jump(setups[0], setups[1], GroupSettings(), anyone)
    assert (found is not None) == stood_still
