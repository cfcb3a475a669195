"""On either side of the numbers that tell a graduated filter from a change of the light."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.group import grads
from auditor.group.grad_curve import Curve
from auditor.group.refusals import Refusals
from auditor.model.rejected import Reason, Why

Y = (np.arange(64) + 0.5) / 64


def setup_of(gap_s: float) -> Any:
    shots = [SimpleNamespace(id=str(place), middle_s=place * gap_s) for place in range(2)]
    return SimpleNamespace(shots=shots)


@pytest.mark.parametrize(
    ("top", "base", "gap_s", "glass"),
    [
        (0.55, 0.0, 0.0, False), (0.65, 0.0, 0.0, True),
        (1.8, 0.0, 600.0, False), (2.4, 0.0, 600.0, True),
        (2.0, -0.25, 0.0, True), (2.0, -0.35, 0.0, False),
        (2.0, -0.85, 120.0, True), (2.0, -1.1, 120.0, False),
    ],
)  # fmt: skip
def test_glass_does_at_once_what_light_does_slowly(
    top: float, base: float, gap_s: float, *, glass: bool
) -> None:
    pair = grads.GradPair(0, 1, Curve(base, top, 0.4, 0.03), (), 0.0)
    why = grads._not_sudden(setup_of(gap_s), pair, np.zeros(2, np.bool_))
    assert (why is None) == glass


@pytest.mark.parametrize(
    ("apart", "gap_s", "asked"),
    [(0.35, 60.0, False), (0.45, 60.0, True), (1.0, 750.0, True), (1.0, 1050.0, False)],
)
def test_frames_that_are_held_against_each_other(
    monkeypatch: pytest.MonkeyPatch, apart: float, gap_s: float, *, asked: bool
) -> None:
    monkeypatch.setattr(grads, "_pair", lambda *_: Why(Reason.NO_EDGE))
    refusals, frame, levels = Refusals(), object(), SimpleNamespace(sky_stops=[apart, 0.0])
    seen: Any = [frame, frame]
    known: Any = levels
    grads.find_grads(setup_of(gap_s), seen, known, np.zeros(2, np.bool_), refusals)
    assert bool(refusals.records()) == asked


@pytest.mark.parametrize(("height", "glass"), [(0.018, False), (0.022, True)])
def test_no_edge_so_near_before_the_lens_is_sharp(height: float, *, glass: bool) -> None:
    curve = Curve(0.0, 2.0, 0.4, height / (2.0 * np.log(9.0)))
    other: Any = SimpleNamespace(image=SimpleNamespace(main=0, stops=lambda _: np.zeros((64, 96))))
    nothing = np.full((64, 96), np.nan, np.float32)
    assert grads._can_be_glass(curve, nothing, other, Y) == glass
