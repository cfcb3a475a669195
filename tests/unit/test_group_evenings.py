"""A body's frames are worked on evening by evening, and what is found is what all at once tell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from auditor.files.laid import AtHand, Folder, Laid
from auditor.group import grouping
from auditor.group.evenings import evenings_of
from auditor.group.grouping import OwnHands, group_shoot
from auditor.group.shots import by_body
from auditor.group.tile_image import UNSEEN
from auditor.model.codes import ShiftSource
from auditor.model.grouping import Grouping
from auditor.model.rejected import GroupKind, Reason
from auditor.model.settings import GroupSettings
from tests.built_patches import Scene
from tests.shoot_maker import Shoot
from tests.shoot_plans import SECOND_BODY, SIX, TEN, coast

DAY_S = 86400.0


def pairs(shoot: Shoot, seed: int, at_s: float, **more: object) -> None:
    """Take a filtered frame between unfiltered ones, a framing beside it, and a dark frame."""
    here, there = coast(seed), coast(seed, other=1)
    shoot.take(here, at_s, **more)  # type: ignore[arg-type]
    shoot.take(here, at_s + 20.0, 16.0, nd=SIX, **more)  # type: ignore[arg-type]
    shoot.take(here, at_s + 60.0, **more)  # type: ignore[arg-type]
    shoot.take(there, at_s + 400.0, **more)  # type: ignore[arg-type]
    shoot.take(there, at_s + 420.0, 60.0, nd=TEN, **more)  # type: ignore[arg-type]
    shoot.take(None, at_s + 600.0, **more)  # type: ignore[arg-type]


def days(seed: int = 1) -> Shoot:
    """Three evenings: on the last day the light jumps, and a panorama ends the second."""
    shoot = Shoot(seed, light=lambda at_s: 0.3 * (at_s // 60 % 2) if at_s > 2 * DAY_S else 0.0)
    pairs(shoot, seed, 0.0)
    pairs(shoot, seed + 1, DAY_S)
    for number in range(4):
        shoot.take(coast(seed + 1), DAY_S + 900.0 + 10.0 * number, pan=0.4 * number)
    pairs(shoot, seed, 2 * DAY_S)
    for number in range(6):
        shoot.take(coast(seed), 2 * DAY_S + 2000.0 + 30.0 * number)
    return shoot


def two_bodies() -> Shoot:
    shoot = days(2)
    for day in range(3):
        pairs(shoot, 3, day * DAY_S + 50.0, camera=SECOND_BODY)
    return shoot


def over_a_jump() -> Shoot:
    """The clock is set a day on in the middle of a set-up, and the camera's count goes on."""
    shoot, here = Shoot(5), coast(5)
    shoot.take(coast(5, other=1), -300.0)
    shoot.take(here, 0.0)
    shoot.take(here, 20.0, 8.0, nd=SIX, clock_s=20.0 + DAY_S)
    shoot.take(here, 60.0, clock_s=60.0 + DAY_S)
    pairs(shoot, 6, 3 * DAY_S)
    return shoot


def without_clocks() -> Shoot:
    shoot = days(3)
    shoot.take(coast(3), 3 * DAY_S, clock=False)
    shoot.take(coast(3), 3 * DAY_S + 20.0, 16.0, nd=SIX, clock=False)
    return shoot


def a_dark_evening_between() -> Shoot:
    shoot = Shoot(4)
    pairs(shoot, 4, 0.0)
    shoot.take(None, DAY_S)
    pairs(shoot, 4, 2 * DAY_S)
    return shoot


PLANS = (days, two_bodies, over_a_jump, without_clocks, a_dark_evening_between)


def all_at_once(shoot: Shoot, patch: pytest.MonkeyPatch) -> Grouping:
    with patch.context() as whole:
        whole.setattr(grouping, "evenings_of", lambda shots, *_given: [list(shots)])
        return group_shoot(shoot.frames, GroupSettings())


@pytest.mark.parametrize("plan", PLANS)
def test_evening_by_evening_tells_the_same_to_the_last_figure(
    plan: Callable[[], Shoot], monkeypatch: pytest.MonkeyPatch
) -> None:
    shoot, seen = plan(), []
    whole = all_at_once(shoot, monkeypatch)

    class Counted(OwnHands):
        def see(self, parts):  # type: ignore[no-untyped-def]
            seen.append(len(parts))
            return super().see(parts)

    cut = group_shoot(shoot.frames, GroupSettings(), (), Counted(shoot.frames, GroupSettings()))
    assert cut == whole
    assert cut.rejected == whole.rejected, "in the same order too"
    assert list(cut.levels) == list(whole.levels)
    assert whole.siblings
    assert seen[0] == {days: 3, two_bodies: 6, over_a_jump: 3, without_clocks: 1}.get(plan, 3)


def test_what_only_a_jump_of_the_clock_parts_is_looked_at_again_as_one() -> None:
    shoot = over_a_jump()
    found = group_shoot(shoot.frames, GroupSettings())
    assert [len(setup.frames) for setup in found.setups] == [1, 3, 3, 2]


def test_the_evening_before_is_among_what_a_frame_was_held_against() -> None:
    found = group_shoot(days().frames, GroupSettings())
    late = [
        one for one in found.rejected
        if one.reason is Reason.TOO_LATE and one.what is GroupKind.SETUP
    ]  # fmt: skip
    assert len(late) == 6, "two of each later evening's first frame, one of its next set-up's"
    runs = [one for one in found.rejected if one.what is GroupKind.PANORAMA]
    assert sum((one.value or 0.0) > DAY_S / 2 for one in runs) == 2


def test_few_frames_are_taken_together_with_the_next_evening() -> None:
    shots = by_body((frame, UNSEEN) for frame in days().frames)[0]
    cut = partial(evenings_of, shots, GroupSettings())
    assert [len(part) for part in cut()] == [6, 10, 12]
    assert [len(part) for part in cut(7)] == [16, 12]
    assert [len(part) for part in cut(17)] == [28]


def test_what_lies_in_a_folder_is_what_was_laid(tmp_path: Path) -> None:
    laid = Folder(str(tmp_path))({"a": 1})
    assert isinstance(laid, Laid)
    assert laid.whole == {"a": 1}


def test_where_there_is_no_room_it_is_kept_in_memory(tmp_path: Path) -> None:
    kept = Folder(str(tmp_path / "gone"))({"a": 1})
    assert kept == AtHand({"a": 1})


def test_shifts_are_told_on_patches_where_the_frames_hold_some() -> None:
    """What tiles alone cannot tell: two pixels of sixty to a tile."""
    shoot, rock = Shoot(1), Scene()
    for number, right_px in enumerate((0.0, 2.0)):
        name = shoot.take(coast(1), 20.0 * number)
        patches = rock.patches(number, (0.0, right_px))
        shoot.kept[name] = replace(shoot.kept[name], patches=patches)
    (setup,) = group_shoot(shoot.frames, GroupSettings()).setups
    assert setup.shift_source == (None, ShiftSource.PATCHES)
    assert setup.shift_px[1] == pytest.approx((2.0, 0.0), abs=0.1)
