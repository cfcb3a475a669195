"""On either side of the numbers that tell filters from falling light, its pace, and structure."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from auditor.group.drift import Series, filtered
from auditor.group.pace import Pace, pace_of
from auditor.group.structure import BLOCK, Structure, votes
from auditor.model.arrays import F32


@pytest.mark.parametrize(
    ("at_s", "levels", "flagged"),
    [
        ((0.0, 0.0), (0.0, -1.04), False), ((0.0, 0.0), (0.0, -1.06), True),
        ((0.0, 600.0, 1200.0), (0.0, -2.6, -2.0), False),
        ((0.0, 600.0, 1200.0), (0.0, -2.9, -2.0), True),
        ((0.0, 600.0, 6000.0), (0.0, -3.42, -3.0), False),
        ((0.0, 600.0, 6000.0), (0.0, -3.58, -3.0), True),
    ],
)  # fmt: skip
def test_how_low_a_frame_lies_that_had_a_filter(
    at_s: tuple[float, ...], levels: tuple[float, ...], *, flagged: bool
) -> None:
    """By more than its error; under the line between two others by more than light bends; lower
    than both."""
    times = np.array([0.1, 8.0, 0.1][: len(at_s)])
    series = Series(np.array(at_s), times, np.array(levels))
    assert bool(filtered(series, 1.0)[1]) == flagged


def told(*stretches: tuple[float, float, float]) -> Pace:
    """The pace of (middle, span, stops a second)."""
    at_s, span_s, rate = np.array(stretches).T
    return Pace(at_s, span_s, np.column_stack([rate, rate * np.nan, rate * np.nan]))


@pytest.mark.parametrize(
    ("moment_s", "stretches", "known"),
    [
        (800.0, [(0.0, 900.0, 0.0)] * 6, True), (1000.0, [(0.0, 900.0, 0.0)] * 6, False),
        (0.0, [(0.0, 38.0, 0.0)], False), (0.0, [(0.0, 52.0, 0.0)], True),
        (0.0, [(0.0, 100.0, 0.00085), (0.0, 100.0, -0.00085)], True),
        (0.0, [(0.0, 100.0, 0.00115), (0.0, 100.0, -0.00115)], False),
    ],
)  # fmt: skip
def test_where_the_pace_of_the_light_is_known(
    moment_s: float, stretches: list[tuple[float, float, float]], *, known: bool
) -> None:
    assert (told(*stretches).rate_at(moment_s) is not None) == known


@pytest.mark.parametrize(
    ("span_s", "tells"), [(12.0, False), (18.0, True), (750.0, True), (1050.0, False)]
)
def test_over_what_time_a_change_tells_a_pace(span_s: float, *, tells: bool) -> None:
    series = Series(np.array([0.0, span_s]), np.full(2, 0.1), np.array([0.0, -0.01]))
    assert bool(len(pace_of([(series, np.zeros(2, np.bool_))]).at_s)) == tells


WAVES: F32 = np.where(np.indices((BLOCK, BLOCK)).sum(axis=0) % 2, 1.0, -1.0).astype(np.float32)
BARS: F32 = np.where(np.arange(BLOCK) % 2, 1.0, -1.0).astype(np.float32) * np.ones(
    (BLOCK, 1), np.float32
)


def block(values: Any) -> Structure:
    known = np.ones((BLOCK, BLOCK), np.float32)
    return Structure(values.astype(np.float32), known, np.zeros(BLOCK - 1, np.float32))


@pytest.mark.parametrize(
    ("stops", "voting", "strong"), [(0.06, 0, 0), (0.08, 1, 0), (0.3, 1, 0), (0.4, 1, 1)]
)
def test_how_much_structure_a_block_has_to_show(stops: float, voting: int, strong: int) -> None:
    ballot = votes(block(stops * WAVES), block(stops * WAVES), 0, 0)
    assert (ballot.voting, ballot.strong) == (voting, strong)


@pytest.mark.parametrize(("like", "agreeing"), [(0.7, 0), (0.8, 1)])
def test_how_alike_a_block_has_to_be(like: float, agreeing: int) -> None:
    other = like * WAVES + np.sqrt(1.0 - like**2) * BARS
    assert votes(block(WAVES), block(other), 0, 0).agreeing == agreeing
