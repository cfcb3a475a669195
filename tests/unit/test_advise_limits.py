"""What speaks against a frame, weighed against light that another could have taken."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from auditor.advise import keepers as keepers_room
from auditor.detail.steadiness import Steadiness
from auditor.group.grouping import group_shoot
from auditor.model.audit import HotFigures
from auditor.model.codes import Damage, Verdict
from auditor.model.grouping import Grouping
from auditor.model.measurement import DamageSign
from auditor.model.settings import GroupSettings, JudgeSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import coast
from tests.unit.test_advise_keepers import ALIKE, figures, results

BLOWN: dict[str, object] = {"verdict": Verdict.BLOWN}
PER_MEGAPIXEL = 32.0 * JudgeSettings().hot_limit_per_megapixel


@lru_cache(maxsize=1)
def two_frames() -> tuple[Shoot, Grouping]:
    shoot, place = Shoot(1), coast(1)
    for at_s in (0.0, 10.0):
        shoot.take(place, at_s, 1 / 10)
    return shoot, group_shoot(shoot.frames, GroupSettings())


def first_is_kept(against: dict[str, object], other: dict[str, object]) -> bool:
    """Whether the first of two frames is kept, each told by how it differs from a perfect one."""
    shoot, grouping = two_frames()
    judged = results(shoot, f1=ALIKE | against, f2=ALIKE | other)
    (choice,) = keepers_room.choose_keepers(shoot.frames, judged, grouping, JudgeSettings())
    return choice.best.id == shoot.frames[0].id


@pytest.mark.parametrize(
    ("against", "less", "more"),
    [
        ({"blown_fraction": 0.01}, 0.94, 1.26),
        (BLOWN | {"blown_fraction": 0.005}, 3.4, 4.6),
        ({"blocked_fraction": 0.01}, 2.4, 3.0),
        ({"blocked_fraction": 0.1}, 5.6, 7.0),
        ({"channels": (replace(figures(12.5), median_stops=6.0),)}, 3.1, 4.2),
        ({"hot_pixels": HotFigures(9, PER_MEGAPIXEL)}, 3.1, 4.2),
    ],
    ids=["1 % blown", "an area", "1 % blocked", "10 % blocked", "2 stops darker", "hot pixels"],
)
def test_a_loss_weighs_as_much_as_so_many_stops_not_given(
    against: dict[str, object], less: float, more: float
) -> None:
    assert not first_is_kept(against, {"headroom_stops": less})
    assert first_is_kept(against, {"headroom_stops": more})


@pytest.mark.parametrize(("stops", "kept"), [(0.25, True), (0.42, False)])
def test_a_third_of_a_stop_that_was_not_given_is_free(stops: float, *, kept: bool) -> None:
    assert first_is_kept({"headroom_stops": stops}, {}) == kept


@pytest.mark.parametrize(
    ("sharpness", "moved", "spare", "kept"),
    [(0.95, 0.0, 0.0, True), (0.9, 0.0, 0.0, False), (0.8, 0.0, 5.6, False),
     (0.8, 0.0, 8.0, True), (1.0, 0.12, 0.0, True), (1.0, 0.18, 0.0, False)],
)  # fmt: skip
def test_what_shook_or_moved_is_weighed_too(
    monkeypatch: pytest.MonkeyPatch, sharpness: float, moved: float, spare: float, *, kept: bool
) -> None:
    first = two_frames()[0].frames[0].id
    told = {first: Steadiness(sharpness, moved, np.zeros((1, 1), np.float32))}
    monkeypatch.setattr(keepers_room, "compare_steadiness", lambda _: told)
    monkeypatch.setattr(keepers_room, "moved_places", lambda *_: ())
    assert first_is_kept({}, {"headroom_stops": spare}) == kept


@pytest.mark.parametrize(("blown", "kept"), [(0.3, False), (0.45, True)])
def test_data_that_are_damaged_weigh_as_much_as_a_third_of_the_frame(
    blown: float, *, kept: bool
) -> None:
    shoot, _ = two_frames()
    first = shoot.frames[0].id
    whole = shoot.kept[first]
    signs = (DamageSign(Damage.ROW_JUMP, 0.1, {"row": 90}),)
    shoot.kept[first] = replace(whole, mosaic=replace(whole.mosaic, damage=signs))
    try:
        assert first_is_kept({}, BLOWN | {"blown_fraction": blown}) == kept
    finally:
        shoot.kept[first] = whole
