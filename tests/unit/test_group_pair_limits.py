"""On either side of the numbers by which pairs are taken, known again, and told."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from auditor.group.known import recognised
from auditor.group.pair_findings import (
    find_filter_off_marking,
    find_light_changed,
    find_placement_off,
)
from auditor.group.pairing import may_be_polariser, no_filter
from auditor.group.set_findings import (
    find_bracket_gap,
    find_panorama_uneven,
    find_tripod_moved,
)
from auditor.light.filters import nearest_marking
from auditor.model.audit import Bracket, Panorama, Setup, SiblingPair
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.settings import GroupSettings
from tests.unit.test_advise_lessons import pair
from tests.unit.test_group_confidence import setting


@pytest.mark.parametrize(
    ("told", "taken"),
    [
        ({"overlap": 0.025}, False), ({"overlap": 0.035}, True),
        ({"stops": 3.2, "by_tone_stops": 0.1}, False), ({"stops": 3.8, "by_tone_stops": 0.1}, True),
        ({"stops": 3.2, "by_tone_stops": 0.05}, True),
        ({"stops": 3.2, "by_tone_stops": 0.07}, False),
        ({"stops": 1.2, "uneven_stops": 0.45}, True),
        ({"stops": 1.2, "uneven_stops": 0.55}, False),
        ({"stops": 3.2, "uneven_stops": 0.85}, True), ({"stops": 3.2, "uneven_stops": 1.1}, False),
        ({"stops": 3.8, "uneven_stops": 1.5}, True),
    ],
    ids=str,
)  # fmt: skip
def test_what_is_taken_for_a_filter(told: dict[str, Any], *, taken: bool) -> None:
    assert (no_filter(*setting(**told), GroupSettings()) is None) == taken


@pytest.mark.parametrize(
    ("stops", "uneven", "may"),
    [(1.0, 0.1, False), (1.4, 0.1, True), (3.0, 0.1, True), (3.6, 0.1, False),
     (2.0, 0.05, False), (2.0, 0.07, True)],
)  # fmt: skip
def test_what_may_be_a_polariser(stops: float, uneven: float, *, may: bool) -> None:
    assert may_be_polariser(*setting(stops, colour_uneven_stops=uneven)) == may


@pytest.mark.parametrize(
    ("spread", "off", "cast", "known"),
    [
        (0.0, 0.1, 0.0, True), (0.0, 0.14, 0.0, False),
        (0.06, 0.15, 0.0, True), (0.06, 0.21, 0.0, False),
        (0.2, 0.2, 0.0, True), (0.2, 0.3, 0.0, False),
        (0.0, 0.0, 0.04, True), (0.0, 0.0, 0.06, False),
    ],
)  # fmt: skip
def test_a_filter_is_known_again_by_its_stops_and_its_cast(
    spread: float, off: float, cast: float, *, known: bool
) -> None:
    own = KnownFilter("six", {"G": 6.0}, spread, {"R": 0.0}, nearest_marking(6.0), 4, 2)
    assert (recognised({"G": 6.0 + off}, {"R": cast}, [own]) == "six") == known


def told_of(find: Any, grouping: Grouping) -> bool:
    return bool(list(find(SimpleNamespace(grouping=grouping))))


def of(one: SiblingPair) -> Grouping:
    return Grouping(siblings=(one,))


@pytest.mark.parametrize(("off", "told"), [(0.42, False), (-0.58, True)])
def test_a_placement_that_is_off(off: float, *, told: bool) -> None:
    assert told_of(find_placement_off, of(pair(1, 6.0, placed=off))) == told


@pytest.mark.parametrize(("off", "told"), [(0.2, False), (-0.3, True)])
def test_a_filter_off_its_marking(off: float, *, told: bool) -> None:
    assert told_of(find_filter_off_marking, of(pair(1, 10.0 + off))) == told


@pytest.mark.parametrize(("drift", "told"), [(0.28, False), (-0.38, True)])
def test_light_that_changed(drift: float, *, told: bool) -> None:
    drifted = replace(pair(1, 6.0), light_drift_stops=drift)
    assert told_of(find_light_changed, of(drifted)) == told


@pytest.mark.parametrize(("left_out", "told"), [(0.004, False), (0.006, True)])
def test_a_bracket_with_a_gap(left_out: float, *, told: bool) -> None:
    bracket = Bracket("S01", ("a", "b", "c"), 1.0, 1.0 - left_out, {}, (), ())
    assert told_of(find_bracket_gap, Grouping(brackets=(bracket,))) == told


@pytest.mark.parametrize(("stops", "told"), [(0.08, False), (0.12, True)])
def test_a_panorama_of_uneven_exposure(stops: float, *, told: bool) -> None:
    run = Panorama(("a", "b", "c"), stops)
    assert told_of(find_panorama_uneven, Grouping(panoramas=(run,))) == told


@pytest.mark.parametrize(
    ("error_px", "step_px", "told"),
    [(0.0, 0.8, False), (0.0, 1.2, True), (2.0, 6.8, False), (2.0, 9.2, True)],
)
def test_a_tripod_that_moved(error_px: float, step_px: float, *, told: bool) -> None:
    setup = Setup(
        "S01", ("a", "b"), None, 24.0, ((0.0, 0.0), (step_px, 0.0)),
        shift_error_px=(0.0, error_px),
    )  # fmt: skip
    assert told_of(find_tripod_moved, Grouping(setups=(setup,))) == told
