"""Keepers: ranked within their kind, with reasons; nothing is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from auditor.advise import keepers as keepers_room
from auditor.advise.keeper_kinds import keeper_kinds
from auditor.detail.steadiness import compare_steadiness, contrast_of, softer_than
from auditor.figures.frame import loss_of
from auditor.group.tile_image import tile_image
from auditor.light.filters import nearest_marking
from auditor.model.audit import (
    Bracket,
    ChannelFigures,
    FrameResult,
    HotFigures,
    Keeper,
    Patch,
    SiblingPair,
    StopHistogram,
)
from auditor.model.codes import (
    BlackSource,
    Damage,
    FrameStatus,
    LevelSource,
    NoiseSource,
    PlaneName,
    Verdict,
)
from auditor.model.facts import ExposureFacts
from auditor.model.measurement import DamageSign
from auditor.model.settings import GroupSettings, JudgeSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, SIX, TEN, a_lot_at_once, coast
from tests.shoot_scene import Scene
from tests.told import choose_keepers, group_shoot


def figures(range_stops: float) -> ChannelFigures:
    return ChannelFigures(
        name=PlaneName.G1, black_dn=512.0, black_source=BlackSource.METADATA, saturation_dn=15600.0,
        saturation_source=LevelSource.SHOOT, blown_from_dn=15592.0, read_noise_dn=2.4,
        gain_dn_per_e=0.25,
        noise_floor_dn=2.5, noise_source=NoiseSource.TRANSFER, blown_fraction=0.0,
        blocked_fraction=0.0, zero_fraction=0.0, headroom_stops=0.3, shadow_room_stops=2.0,
        median_stops=4.0, mean_stops=4.0, dynamic_range_stops=range_stops,
        blown_one_stop_less=0.0, blocked_one_stop_more=0.0,
        histogram=StopHistogram(0.0, 0.125, ()),
    )  # fmt: skip


def results(shoot: Shoot, **changes: Mapping[str, object]) -> dict[str, FrameResult]:
    """Judge the frames by their images; ``changes`` are by the frame's place, "f1" and on."""
    judged = {}
    for number, frame in enumerate(shoot.frames, start=1):
        image, facts = tile_image(frame), frame.facts
        brightest = float(np.nan_to_num(image.pixels.whole.signal_dn[1], nan=15088.0).max())
        iso = facts.exposure.iso or 100.0
        result = FrameResult(
            id=frame.id, input=0, file=frame.id, status=FrameStatus.MEASURED, error=None,
            camera=facts.camera, lens=facts.lens, orientation=facts.orientation,
            captured_at=facts.captured_at, exposure=facts.exposure,
            channels=(figures(12.5 - float(np.log2(iso / 100.0))),),
            blown_fraction=float(image.lost_bright.mean()),
            blocked_fraction=float(image.lost_dark.mean()),
            headroom_stops=max(0.0, float(np.log2(15088.0 / brightest)) - 0.2),
            hot_pixels=HotFigures(0, 0.0),
            verdict=Verdict.HELD
            if max(image.lost_bright.mean(), image.lost_dark.mean()) < 5e-3
            else Verdict.BOTH,
        )  # fmt: skip
        judged[frame.id] = replace(result, **changes.get(f"f{number}", {}))  # type: ignore[arg-type]
    return judged


def keepers(
    shoot: Shoot,
    judged: Mapping[str, FrameResult] | None = None,
    limits: JudgeSettings = JudgeSettings(),  # noqa: B008 - frozen
) -> list[Keeper]:
    grouping = group_shoot(shoot.frames, GroupSettings())
    return list(choose_keepers(shoot.frames, judged or results(shoot), grouping, limits))


@pytest.mark.parametrize("seed", SEEDS)
def test_short_and_filtered_frames_stand_each_on_their_own(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shorts = [shoot.take(place, 0.0, 1 / 4), shoot.take(place, 10.0, 1 / 10)]
    longs = [shoot.take(place, 30.0, 128.0, nd=TEN), shoot.take(place, 200.0, 20.0, nd=TEN)]
    short, long = keepers(shoot)
    assert (short.kind, set(short.rank)) == ("short", set(shorts))
    assert (long.kind, set(long.rank)) == ("long", set(longs))
    assert short.frame == short.rank[0]
    assert long.frame == longs[0], "the other one gave the light away"


@pytest.mark.parametrize("seed", SEEDS)
def test_both_ends_held_goes_before_all(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    frames = [shoot.take(place, float(40 * i), 2.0**step) for i, step in enumerate((0, -4, -10))]
    (keeper,) = keepers(shoot)
    assert keeper.frame == frames[1]
    assert any("Both ends held: 0 % blown, 0 % blocked." in why for why in keeper.why)
    told = {name: why for why in keeper.why for name in frames if why.startswith(name)}
    assert "blown" in told[frames[0]]
    assert "could take" in told[frames[2]]


@pytest.mark.parametrize(
    ("change", "words"),
    [({"verdict": Verdict.BLOWN, "blown_fraction": 0.003}, "Not all tones held: 0.30 % blown"),
     ({"blocked_fraction": None}, "Bright end held: 0 % blown, blocked share not measured.")],
)  # fmt: skip
def test_what_held_is_said_as_the_verdict_has_it(change: dict[str, object], words: str) -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0, 1 / 10)
    (keeper,) = keepers(shoot, results(shoot, f1=change))
    assert any(why.startswith(words) for why in keeper.why), keeper.why


def test_what_counts_as_blown_is_the_photographers_own_choice() -> None:
    shoot, place = Shoot(1), coast(1)
    glint, dim = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    for limit, frame in ((0.001, dim), (0.01, glint)):
        blown = loss_of(0.004, 0.0, None, JudgeSettings(blown_limit=limit)).grave
        lost = {
            "blown_fraction": 0.004, "headroom_stops": 0.0,
            "verdict": Verdict.BLOWN if blown else Verdict.HELD,
        }  # fmt: skip
        judged = results(shoot, f1=lost, f2={"headroom_stops": 2.0})
        assert keepers(shoot, judged)[0].frame == frame


def area(share: float, blown: float, everywhere: float = 0.0) -> dict[str, object]:
    patch = Patch(share, (0.5, 0.5), (0.4, 0.4, 0.6, 0.6))
    return {
        "verdict": Verdict.BLOWN, "blown_fraction": blown, "blown_all_fraction": everywhere,
        "largest_blown_area": patch, "headroom_stops": 0.0, "blocked_fraction": 0.0,
    }  # fmt: skip


HELD: dict[str, object] = {"blown_fraction": 4e-4, "blocked_fraction": 0.0, "headroom_stops": 0.0}


def test_a_frame_that_held_goes_before_one_that_lost_an_area() -> None:
    shoot, place = Shoot(1), coast(1)
    lost, held = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    (keeper,) = keepers(shoot, results(shoot, f1=area(1e-3, 2.9e-3), f2=HELD))
    assert keeper.rank == (held, lost)
    assert "Both ends held: 0.04 % blown in scattered points, 0 % blocked." in keeper.why
    assert f"{lost}: 0.29 % blown with a patch of 0.10 %." in keeper.why


def test_a_loss_that_is_accepted_is_accounted_for() -> None:
    shoot, place = Shoot(1), coast(1)
    cloud, dim = shoot.take(place, 0.0, 1 / 10), shoot.take(place, 10.0, 1 / 10)
    black = HELD | {"blocked_fraction": 0.2}
    (keeper,) = keepers(shoot, results(shoot, f1=area(1e-3, 2e-3), f2=black))
    assert keeper.frame == cloud
    assert (
        "What it lost is accepted, for the best frame that is not blown is worse off: "
        f"{dim} (20.0 % blocked)."
    ) in keeper.why
    bright = {"channels": (replace(figures(12.5), median_stops=1.0),)}
    all_blown = results(shoot, f1=area(0.4, 0.47), f2=area(0.4, 0.48) | bright)
    assert keepers(shoot, all_blown)[0].frame == cloud, "brighter is no merit where all are blown"
    both = results(shoot, f1=area(1e-3, 6e-3), f2=area(1e-3, 6e-3))
    assert "Every frame of its kind is blown." in keepers(shoot, both)[0].why


@pytest.mark.parametrize(
    ("needed", "words"),
    [((1,), "The bracket's own choice is {1}, which alone records all that the bracket does; as "
            "a single picture it stands behind this one (could take 2.0 stops more)."),
     ((1, 2), "To put the bracket together keep {1} and {2}: this is the best single frame."),
     ((0, 1), "To put the bracket together keep {1} too: this is the best single frame.")],
)  # fmt: skip
def test_the_keeper_and_the_brackets_choice_are_reconciled(
    needed: tuple[int, ...], words: str
) -> None:
    shoot, place = Shoot(1), coast(1)
    frames = [shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0, 20.0)]
    dim = HELD | {"headroom_stops": 2.0}
    grouping = group_shoot(shoot.frames, GroupSettings())
    setup = grouping.setups[0].id
    bracket = Bracket(
        setup, tuple(frames), 1.0, 1.0, {}, tuple(frames[place] for place in needed), ()
    )
    judged = results(shoot, f1=HELD, f2=dim, f3=dim)
    grouping = replace(grouping, brackets=(bracket,))
    (keeper,) = choose_keepers(shoot.frames, judged, grouping, JudgeSettings())
    assert keeper.frame == frames[0]
    assert words.format(*frames) in keeper.why


@pytest.mark.parametrize(
    ("headroom_stops", "words"),
    [(0.4, "Exposed to within 0.4 stop of clipping."),
     (1.5, "Could take 1.5 stops more.")],
)  # fmt: skip
def test_light_not_given_is_no_reason_to_keep(headroom_stops: float, words: str) -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0, 1 / 10)
    (keeper,) = keepers(shoot, results(shoot, f1={"headroom_stops": headroom_stops}))
    assert words in keeper.why


@pytest.mark.parametrize("seed", SEEDS)
def test_each_filter_has_its_own_keeper(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0, 1 / 10)
    flowing = shoot.take(place, 30.0, 8.0, nd=SIX)
    still = shoot.take(place, 60.0, 128.0, nd=TEN)
    hot = results(shoot, f3={"hot_pixels": HotFigures(900, 40.0)})
    first, second = keepers(shoot, hot)[1:]
    assert (first.frame, second.frame) == (flowing, still)
    assert first.kind == second.kind == "long"
    assert "behind the 6-stop filter" in first.why[0]
    assert "behind the 10-stop filter" in second.why[0]


def test_other_water_behind_one_filter_is_another_choice() -> None:
    exposures = {
        name: ExposureFacts(time_s=time_s)
        for name, time_s in (("a", 4.0), ("b", 19.0), ("c", 32.0), ("d", 13.5))
    }
    placed = {"a": 0.0, "b": 0.8, "c": 1.2, "d": 0.1}
    pairs = {
        name: SiblingPair("s1", "s", name, 0.0, 10.0, {}, {}, None, nearest_marking(10.0), 0.0,
                          1.0, placement, 0.9, ())
        for name, placement in placed.items()
    }  # fmt: skip
    kinds = keeper_kinds("abcd", exposures, pairs)
    assert [kind.frames for kind in kinds] == [("a", "c", "d"), ("b",)], "c was a slip"
    assert [(kind.filter, kind.near_s) for kind in kinds] == [
        ("10-stop filter", 4.0), ("10-stop filter", 19.0),
    ]  # fmt: skip


@pytest.mark.parametrize("orientation", [1, 6, 8])
@pytest.mark.parametrize("seed", range(3))
def test_a_focus_that_was_moved_is_told_and_is_no_shake(seed: int, orientation: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    in_front = np.arange(64)[:, None] >= 50
    near, far = np.where(in_front, 1.0, 0.6), np.where(in_front, 0.6, 1.0)
    front, back = (
        shoot.take(place, at_s, 1 / 10, blur=blur, orientation=orientation)
        for at_s, blur in ((0.0, near), (10.0, far))
    )
    (keeper,) = keepers(shoot)
    assert (
        f"Focus was moved: {front} is the sharpest in front, {back} at the back. Keep both for a "
        "focus stack."
    ) in keeper.why
    assert not any("shook" in why for why in keeper.why)


@pytest.mark.parametrize(("softer", "told"), [(0.72, True), (0.87, False)])
def test_focus_was_moved_from_a_quarter_on(softer: float, told: bool) -> None:
    shoot, place = Shoot(1), coast(1)
    in_front = np.arange(64)[:, None] >= 50
    shoot.take(place, 0.0, 1 / 10, blur=np.where(in_front, 1.0, softer))
    shoot.take(place, 10.0, 1 / 10, blur=np.where(in_front, softer, 1.0))
    (keeper,) = keepers(shoot)
    assert any("Focus was moved" in why for why in keeper.why) is told


@pytest.mark.parametrize("blurs", [(1.0, 0.5), (1.0, 1.0), (1.0, 0.9)])
def test_a_shake_or_nothing_at_all_is_no_moved_focus(blurs: tuple[float, float]) -> None:
    for seed in range(3):
        shoot, place = Shoot(seed), coast(seed)
        for number, blur in enumerate(blurs):
            shoot.take(place, 10.0 * number, 1 / 10, blur=blur)
        assert not any("Focus" in why for one in keepers(shoot) for why in one.why)


def test_a_frame_hardly_worse_is_not_said_to_be_taken_later() -> None:
    shoot, place = Shoot(1), coast(1)
    earlier, later = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    alike = {"blown_fraction": 0.0, "blocked_fraction": 0.0, "headroom_stops": 0.0}
    for blown, words in ((0.0035, "hardly worse"), (0.005, "0.50 % blown")):
        told = results(shoot, f1=alike | {"blown_fraction": blown}, f2=alike)
        (keeper,) = keepers(shoot, told)
        assert keeper.frame == later
        assert any(why.startswith(f"{earlier}: {words}") for why in keeper.why), keeper.why
    (keeper,) = keepers(shoot, results(shoot, f1=alike, f2=alike))
    assert f"{later}: as good, taken later." in keeper.why


def test_a_frame_without_a_floor_is_compared_by_iso() -> None:
    shoot, place = Shoot(1), coast(1)
    first, second = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    floorless = (replace(figures(12.5), dynamic_range_stops=None),)
    (keeper,) = keepers(shoot, results(shoot, f2={"channels": floorless}))
    assert keeper.rank == (first, second)
    assert not any("nearer to the noise" in why for why in keeper.why)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_steadier_of_two_is_kept(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shaken = shoot.take(place, 0.0, 1 / 10, blur=0.5)
    steady = shoot.take(place, 10.0, 1 / 10)
    (keeper,) = keepers(shoot)
    assert keeper.frame == steady
    assert any(why.startswith(shaken) and "softer where nothing moves" in why
               for why in keeper.why)  # fmt: skip


@pytest.mark.parametrize("seed", SEEDS)
def test_a_filtered_frame_that_shook_is_held_against_its_short_sibling(seed: int) -> None:
    for blur, words in ((0.5, "softer than its short sibling"), (1.0, "As sharp as its short")):
        shoot, place = Shoot(seed), coast(seed)
        shoot.take(place, 0.0)
        shoot.take(place, 20.0, 8.0, nd=SIX, blur=blur)
        long = keepers(shoot)[1]
        assert any(words in why for why in long.why), long.why


@pytest.mark.parametrize("seed", SEEDS)
def test_noise_hot_pixels_and_damage_count(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    noisy = shoot.take(place, 0.0, 1 / 160, iso=1600.0)
    clean = shoot.take(place, 10.0, 1 / 10)
    hot = shoot.take(place, 20.0, 1 / 10)
    damaged = shoot.take(place, 30.0, 1 / 10)
    measured = shoot.kept[damaged]
    signs = (DamageSign(Damage.ROW_JUMP, 0.1, {"row": 90}),)
    shoot.kept[damaged] = replace(measured, mosaic=replace(measured.mosaic, damage=signs))
    judged = results(shoot, f3={"hot_pixels": HotFigures(90000, 4000.0)})
    (keeper,) = keepers(shoot, judged)
    assert keeper.rank == (clean, hot, noisy, damaged)
    assert any("data damaged" in why for why in keeper.why)


ALIKE: dict[str, object] = {"blown_fraction": 0.0, "blocked_fraction": 0.0, "headroom_stops": 0.0}


@pytest.mark.parametrize(
    ("against", "headroom_stops", "words"),
    [
        ({"hot_pixels": HotFigures(90000, 4000.0)}, 0.0, "4000 hot pixels per megapixel"),
        ({"blocked_fraction": 0.01}, 1.8, "1.0 % blocked"),
        ({"blown_fraction": 0.005, "verdict": Verdict.BLOWN}, 2.8, "0.50 % blown"),
    ],
)
def test_hot_pixels_and_losses_at_their_limit_stand_against_the_frame_taken_first(
    against: dict[str, object], headroom_stops: float, words: str
) -> None:
    """The other frame's spare light weighs less than the step at a limit, more than the slope."""
    shoot, place = Shoot(1), coast(1)
    worse, better = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    given = ALIKE | {"headroom_stops": headroom_stops}
    (keeper,) = keepers(shoot, results(shoot, f1=ALIKE | against, f2=given))
    assert keeper.rank == (better, worse)
    assert any(why.startswith(worse) and words in why for why in keeper.why)


def test_what_the_wind_blurred_stands_against_a_frame_that_did_not_shake() -> None:
    shoot, place = Shoot(1), coast(1)
    windy, calm = (shoot.take(place, at_s, 1 / 10) for at_s in (0.0, 10.0))
    measured = shoot.kept[windy]
    detail = measured.mosaic.maps.detail.copy()
    detail[:, ::3] = 1.0 + (detail[:, ::3] - 1.0) * 0.1
    maps = replace(measured.mosaic.maps, detail=detail)
    shoot.kept[windy] = replace(measured, mosaic=replace(measured.mosaic, maps=maps))
    (keeper,) = keepers(shoot, results(shoot, f1=ALIKE, f2=ALIKE))
    assert keeper.rank == (calm, windy)
    assert any(why.startswith(windy) and "blurred by itself: wind" in why for why in keeper.why)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("orientation", [1, 6])
def test_a_bush_that_the_wind_moved_is_drawn_where_it_stands(seed: int, orientation: int) -> None:
    """Simulated: 16 tiles a side, a third as sharp in one frame of three; still elsewhere."""
    shoot, place = Shoot(seed), Scene.invent(seed, shore_share=0.5)
    bush = np.zeros((64, 96), dtype=bool)
    bush[44:60, 40:56] = True
    calm = np.ones((64, 96))
    names = [
        shoot.take(place, 10.0 * n, 1 / 10, blur=blur, orientation=orientation)
        for n, blur in enumerate((calm, np.where(bush, 0.3, calm), calm))
    ]
    judged = results(shoot, **{f"f{n + 1}": ALIKE for n in range(3)})
    grouping = group_shoot(shoot.frames, GroupSettings())
    choices = keepers_room.choose_keepers(shoot.frames, judged, grouping, JudgeSettings())
    (setup,) = keepers_room.with_moved(grouping, choices).setups
    (moved,) = setup.moved
    assert moved.frame == names[1]
    drawn = np.array([[bool(cell) for cell in row] for row in moved.places])
    true = bush.reshape(16, 4, 24, 4).mean(axis=(1, 3)) >= 0.5
    assert drawn.shape == true.shape
    assert (drawn & true).sum() >= 0.8 * true.sum()
    assert (drawn & ~true).sum() <= 1
    told = np.isfinite([[np.nan if cell is None else 1.0 for cell in row] for row in moved.places])
    assert not told[:4].any(), "the sky has no structure to tell by"


@pytest.mark.parametrize("blur", [1.0, 0.6])
def test_a_picture_that_is_sharp_or_shook_as_a_whole_has_no_places_that_moved(blur: float) -> None:
    shoot, place = Shoot(2), coast(2)
    for n, one in enumerate((1.0, blur, 1.0)):
        shoot.take(place, 10.0 * n, 1 / 10, blur=one)
    judged = results(shoot, **{f"f{n + 1}": ALIKE for n in range(3)})
    grouping = group_shoot(shoot.frames, GroupSettings())
    choices = keepers_room.choose_keepers(shoot.frames, judged, grouping, JudgeSettings())
    assert all(not one.moved for one in keepers_room.with_moved(grouping, choices).setups)


def test_every_grouped_frame_stands_in_exactly_one_rank() -> None:
    shoot = a_lot_at_once(0).shoot
    grouping = group_shoot(shoot.frames, GroupSettings())
    chosen = choose_keepers(shoot.frames, results(shoot), grouping, JudgeSettings())
    ranked = sorted(name for keeper in chosen for name in keeper.rank)
    assert ranked == sorted(name for setup in grouping.setups for name in setup.frames)


def test_a_frame_alone_is_kept_and_said_to_be_the_only_one() -> None:
    shoot = Shoot(1)
    frame = shoot.take(coast(1), 0.0)
    (keeper,) = keepers(shoot)
    assert keeper.rank == (frame,)
    assert keeper.why[0] == "The only short frame of this composition."


def test_no_result_no_keeper() -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0)
    grouping = group_shoot(shoot.frames, GroupSettings())
    assert choose_keepers(shoot.frames, {}, grouping, JudgeSettings()) == ()


@pytest.mark.parametrize("blur", [1.0, 0.8, 0.6])
def test_contrast_is_measured_whatever_the_exposure(blur: float) -> None:
    shoot, place = Shoot(2), coast(2)
    for time_s, soft in ((1 / 10, 1.0), (1 / 80, blur)):
        shoot.take(place, 0.0, time_s, blur=soft)
    looks = {frame.id: contrast_of(frame.settled()) for frame in shoot.frames}
    first, second = (frame.id for frame in shoot.frames)
    steady = compare_steadiness(looks)
    assert steady[first].sharpness == pytest.approx(1.0, abs=0.03)
    assert steady[second].sharpness == pytest.approx(blur, abs=0.06)
    softness = softer_than(looks[second], looks[first])
    assert softness is not None
    assert softness == pytest.approx(blur, abs=0.06)


def test_sharpness_of_one_frame_cannot_be_compared() -> None:
    shoot = Shoot(2)
    shoot.take(coast(2), 0.0)
    frame = shoot.frames[0]
    look = contrast_of(frame.settled())
    assert compare_steadiness({frame.id: look}) == {}
    nothing = replace(look, structured=np.zeros_like(look.structured))
    assert softer_than(look, nothing) is None
