"""Whole invented shoots, several seeds: everything found, nothing invented, figures right."""

from __future__ import annotations

from functools import cache

import pytest

from auditor.model.grouping import Grouping
from tests.shoot_plans import PLANS, SHOOT_SEEDS, Planned

CASES = [(name, seed) for name in PLANS for seed in SHOOT_SEEDS]
MOVING = {"light falls a stop", "dusk with filters", "a lot at once"}


@cache
def case(name: str, seed: int) -> tuple[Planned, Grouping]:
    planned = PLANS[name](seed)
    return planned, planned.grouped()


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_set_ups_are_exact(name: str, seed: int) -> None:
    planned, grouping = case(name, seed)
    found = sorted(sorted(setup.frames) for setup in grouping.setups)
    assert found == sorted(sorted(frames) for frames in planned.setups)


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_each_filtered_frame_has_its_sibling_and_no_other_frame_has(name: str, seed: int) -> None:
    planned, grouping = case(name, seed)
    assert sorted(pair.long for pair in grouping.siblings) == sorted(planned.filters)
    for pair in grouping.siblings:
        assert pair.short in planned.shorts[pair.long]


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_filters_are_measured_in_each_channel(name: str, seed: int) -> None:
    planned, grouping = case(name, seed)
    allowed = 0.1 if name in MOVING else 0.05
    for pair in grouping.siblings:
        truth = dict(zip("RGB", planned.filters[pair.long], strict=True))
        assert pair.filter_stops_by_channel == pytest.approx(truth, abs=allowed)
        assert pair.filter_stops == pair.filter_stops_by_channel["G"]
        for channel in "RB":
            cast = truth[channel] - truth["G"]
            assert pair.cast_stops[channel] == pytest.approx(cast, abs=0.03)


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_brackets_are_found_and_none_invented(name: str, seed: int) -> None:
    planned, grouping = case(name, seed)
    assert [bracket.frames for bracket in grouping.brackets] == planned.brackets


@pytest.mark.parametrize("seed", SHOOT_SEEDS)
def test_an_evening_has_its_grad_its_pan_and_no_more(seed: int) -> None:
    planned, grouping = case("a lot at once", seed)
    (grad,) = grouping.grads
    assert grad.stops_at_top == pytest.approx(3.0, abs=0.1)
    assert grad.edge_at == pytest.approx(0.4, abs=0.03)
    (run,) = grouping.panoramas
    assert [{frame} for frame in run.frames] == planned.setups[2:7]
    assert run.overlaps == pytest.approx([0.65] * 4, abs=0.02)


@pytest.mark.parametrize("name", [name for name in PLANS if name != "a lot at once"])
@pytest.mark.parametrize("seed", SHOOT_SEEDS)
def test_no_grad_and_no_pan_is_invented(name: str, seed: int) -> None:
    _, grouping = case(name, seed)
    assert grouping.grads == ()
    assert grouping.panoramas == ()


@pytest.mark.parametrize("seed", SHOOT_SEEDS)
def test_a_dark_frame_belongs_to_no_composition(seed: int) -> None:
    planned, grouping = case("a lot at once", seed)
    grouped = {frame for setup in grouping.setups for frame in setup.frames}
    everything = {frame.id for frame in planned.shoot.frames}
    (dark,) = everything - grouped
    exposure = next(f.facts.exposure for f in planned.shoot.frames if f.id == dark)
    assert exposure.time_s == 8.0
    assert dark not in {sky.frame for sky in grouping.skies}


@pytest.mark.parametrize("seed", SHOOT_SEEDS)
def test_each_measurement_is_fetched_once(seed: int) -> None:
    planned = PLANS["steady pairs"](seed)
    planned.grouped()
    assert planned.shoot.fetched == len(planned.shoot.frames)


@pytest.mark.parametrize("seed", SHOOT_SEEDS)
def test_the_order_in_which_frames_come_does_not_matter(seed: int) -> None:
    planned, grouping = case("two bodies", seed)
    planned.shoot.frames.reverse()
    assert planned.grouped() == grouping
