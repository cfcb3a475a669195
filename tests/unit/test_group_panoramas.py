"""Panned runs and their warnings."""

from __future__ import annotations

import pytest

from auditor.findings.base import ShootView
from auditor.group.set_findings import find_panorama_uneven
from auditor.model.audit import Panorama
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import GroupSettings, Settings
from auditor.words.findings import with_words
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, coast
from tests.told import group_shoot


def runs(shoot: Shoot) -> tuple[Panorama, ...]:
    return group_shoot(shoot.frames, GroupSettings()).panoramas


def pan(shoot: Shoot, seed: int, *, step: float = 0.35, count: int = 5, start: float = 0.0,
        times: tuple[float, ...] = (), gains: tuple[float, ...] = ()) -> list[str]:  # fmt: skip
    """Pan across a view, a frame every six seconds; ``times`` are shutter times."""
    return [
        shoot.take(
            coast(seed, 2), start + 6.0 * i, times[i] if times else 1 / 30, pan=step * i,
            white_balance={"R": gains[i], "G": 1.0, "B": 1.5} if gains else None,
        )
        for i in range(count)
    ]  # fmt: skip


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("step", [0.25, 0.5, 0.7])
def test_frames_and_overlaps(seed: int, step: float) -> None:
    shoot = Shoot(seed)
    frames = pan(shoot, seed, step=step, count=3)
    (run,) = runs(shoot)
    assert run.frames == tuple(frames)
    assert run.overlaps == pytest.approx([1.0 - step] * 2, abs=0.03)
    assert run.exposure_spread_stops == 0.0
    assert run.notes == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_panning_to_the_left_is_panning_too(seed: int) -> None:
    shoot = Shoot(seed)
    frames = pan(shoot, seed, step=-0.3, count=4)
    (run,) = runs(shoot)
    assert run.frames == tuple(frames)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_view_panned_twice_makes_two_runs(seed: int) -> None:
    shoot = Shoot(seed)
    first = pan(shoot, seed, count=4)
    second = pan(shoot, seed, count=4, start=300.0)
    assert [run.frames for run in runs(shoot)] == [tuple(first), tuple(second)]


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_taken_before_at_the_first_framing_is_no_part_of_it(seed: int) -> None:
    shoot = Shoot(seed)
    for at_s in (0.0, 20.0, 40.0):
        shoot.take(coast(seed, 2), at_s)
    frames = pan(shoot, seed, start=60.0)
    (run,) = runs(shoot)
    assert run.frames == tuple(frames)


@pytest.mark.parametrize("seed", SEEDS)
def test_two_framings_are_no_run_and_other_places_end_one(seed: int) -> None:
    shoot = Shoot(seed)
    pan(shoot, seed, count=2)
    shoot.take(coast(seed), 20.0)
    pan(shoot, seed, count=2, start=30.0)
    assert runs(shoot) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_frames_minutes_apart_are_no_run(seed: int) -> None:
    shoot = Shoot(seed)
    for i in range(4):
        shoot.take(coast(seed, 2), 240.0 * i, pan=0.3 * i)
    assert runs(shoot) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_it_warns_where_exposure_or_white_balance_changed_or_a_frame_is_blown(seed: int) -> None:
    shoot = Shoot(seed)
    frames = pan(
        shoot, seed, count=4,
        times=(1 / 30, 1 / 30, 1 / 20, 1.0), gains=(2.0, 2.0, 2.2, 2.2),
    )  # fmt: skip
    (run,) = runs(shoot)
    assert run.exposure_spread_stops == pytest.approx(4.907, abs=0.01)
    notes = " ".join(run.notes)
    assert "exposure changed by 4.9 stops" in notes
    assert "white balance changed" in notes
    assert f"{frames[3]} is blown" in notes
    assert frames[0] not in notes


@pytest.mark.parametrize("seed", SEEDS)
def test_a_narrow_overlap_is_told(seed: int) -> None:
    shoot = Shoot(seed)
    pan(shoot, seed, step=0.85, count=3)
    (run,) = runs(shoot)
    assert any("a third is safe" in note for note in run.notes)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_bracket_at_every_framing(seed: int) -> None:
    shoot = Shoot(seed)
    for turn in range(3):
        for i, step in enumerate((0, -2, 2)):
            shoot.take(coast(seed, 2), 10.0 * turn + i, 2.0 ** (step - 5), pan=0.3 * turn)
    grouping = group_shoot(shoot.frames, GroupSettings())
    assert [len(setup.frames) for setup in grouping.setups] == [3, 3, 3]
    assert [len(bracket.frames) for bracket in grouping.brackets] == [3, 3, 3]
    (run,) = grouping.panoramas
    assert len(run.frames) == 9
    assert run.overlaps == pytest.approx([1, 1, 0.7, 1, 1, 0.7, 1, 1], abs=0.03)
    assert run.exposure_spread_stops == 0.0, "the steps of the brackets are no change"
    assert not any("exposure changed" in note for note in run.notes)


def test_a_bracket_that_was_set_anew_inside_the_run_is_told() -> None:
    shoot = Shoot(1)
    for turn in range(3):
        for i, step in enumerate((0, -2, 2)):
            time_s = 2.0 ** (step - 5 + (turn == 2))
            shoot.take(coast(1, 2), 10.0 * turn + i, time_s, pan=0.3 * turn)
    (run,) = runs(shoot)
    assert run.exposure_spread_stops == pytest.approx(1.0, abs=0.01)
    assert any("changed by 1.0 stop " in note for note in run.notes)


def test_a_panorama_is_uneven_for_its_exposures_not_for_a_blown_frame() -> None:
    blown = remark(RemarkCode.FRAME_BLOWN, frame="B", share=0.01)
    white = remark(RemarkCode.WHITE_BALANCE_CHANGED)
    for spread, remarks, words in (
        (0.0, (blown,), None),
        (0.0, (blown, white), "The white balance changed inside the panorama"),
        (0.3, (), "Exposure differs by 0.3 stop over 2 frames."),
    ):
        run = Panorama(("A", "B"), spread, remarks=remarks)
        found = find_panorama_uneven(ShootView({}, Grouping(panoramas=(run,)), Settings()))
        told = [with_words(one).text for _, one in found]
        assert told == [] if words is None else told[0].startswith(words)
