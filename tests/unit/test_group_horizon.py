"""The line where the sky ends, on simulated pictures whose line is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.group.horizon import Horizon, _parts, common_horizon, find_horizon
from auditor.group.tile_image import TileImage, TilePixels
from auditor.model.arrays import F64
from auditor.model.rejected import Reason, Why

ROWS, COLS = 64, 96
Y = (np.arange(ROWS)[:, None] + 0.5) / ROWS
X = (np.arange(COLS)[None, :] + 0.5) / COLS


def image(stops: F64) -> TileImage:
    signal = np.exp2(stops).astype(np.float32)
    none = np.zeros(signal.shape, np.float16)
    return TileImage(
        colours=("L",), pixels=TilePixels((signal,), none, none, none), shape=(ROWS, COLS),
        floor_dn=(1.0,), floor_known=True, room_dn=(16000.0,), tile_px=16,
        height_px=ROWS * 16, width_px=COLS * 16,
    )  # fmt: skip


def scene(
    line: F64 | float, *, seed: int = 1, drop: float = 1.5, glow: float = 1.5, texture: float = 0.1
) -> F64:
    """Sky that brightens by ``glow`` towards a line and is ``drop`` brighter than what is below."""
    noise = np.random.default_rng(seed).normal(0.0, texture, (ROWS, COLS))
    sky = 10.0 + glow * np.clip(Y / line, 0, 1)
    ground = 10.0 + glow - drop - 1.0 * np.clip((Y - line) / (1 - np.asarray(line)), 0, 1)
    return np.where(line > Y, sky + noise / 4.0, ground + noise)


def found(stops: F64) -> Horizon:
    line = find_horizon(image(stops))
    assert isinstance(line, Horizon), line
    return line


def shares(line: Horizon) -> tuple[float, float]:
    return line.left / ROWS, line.right / ROWS


@given(at=st.floats(0.15, 0.75), drop=st.floats(0.5, 5.0), seed=st.integers(0, 50))
@settings(deadline=None, max_examples=40)
def test_a_level_sea_is_found_within_a_hundredth_of_the_height(
    at: float, drop: float, seed: int
) -> None:
    line = found(scene(at, seed=seed, drop=drop))
    assert shares(line) == pytest.approx((at, at), abs=0.012)
    assert line.support > 0.95


@given(
    at=st.floats(0.25, 0.65), degrees=st.floats(-4.0, 4.0), seed=st.integers(0, 50)
)  # fmt: skip
@settings(deadline=None, max_examples=40)
def test_a_tilted_tripod_is_found_at_both_ends(at: float, degrees: float, seed: int) -> None:
    rise = np.tan(np.radians(degrees)) * COLS / ROWS
    line = found(scene(at + rise * (X - 0.5), seed=seed))
    assert shares(line) == pytest.approx((at - rise / 2, at + rise / 2), abs=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_a_headland_at_one_side_does_not_tilt_it(seed: int) -> None:
    headland = 0.45 - 0.08 * np.clip(1.0 - X / 0.3, 0, 1)
    stops = scene(0.45, seed=seed)
    stops = np.where((headland < Y) & (Y < 0.45), 7.5, stops)
    assert shares(found(stops)) == pytest.approx((0.45, 0.45), abs=0.015)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("width", [0.2, 0.3, 0.4, 0.6, 0.8, 0.9, 0.95])
@pytest.mark.parametrize("high", [0.03, 0.08, 0.2, 0.25])
@pytest.mark.parametrize("shape", ["flat", "round"])
def test_a_headland_before_much_of_it_moves_it_by_less_than_a_twentieth_or_silences(
    seed: int, width: float, high: float, shape: str
) -> None:
    top = 1.0 * (width > X) if shape == "flat" else np.sqrt(np.clip(1 - (X / width) ** 2, 0, 1))
    stops = scene(0.45, seed=seed)
    stops = np.where((0.45 - high * top < Y) & (Y < 0.45), 7.5, stops)
    line = find_horizon(image(stops))
    if isinstance(line, Horizon):
        assert shares(line) == pytest.approx((0.45, 0.45), abs=0.05)
    else:
        assert width > 0.4
        assert line.reason in {Reason.COLUMNS_DISAGREE, Reason.SKY_BELOW}


@pytest.mark.parametrize(("open_share", "told"), [(0.1, True), (0.15, False)])
def test_in_how_many_columns_the_sky_may_go_on_below_the_line(
    open_share: float, *, told: bool
) -> None:
    apart = 0.55 + 0.2 * ((np.arange(COLS) * 7) % COLS)[None, :] / COLS  # on no one level
    line = np.where(open_share > X, apart, 0.45)
    assert isinstance(find_horizon(image(scene(line))), Horizon) is told


@pytest.mark.parametrize(("open_share", "told"), [(0.04, True), (0.05, False), (0.1, False)])
def test_a_narrow_view_of_the_sea_beside_a_headland_tells_it_from_the_horizon(
    open_share: float, *, told: bool
) -> None:
    line = np.where(open_share > X, 0.55, 0.45)
    assert isinstance(find_horizon(image(scene(line))), Horizon) is told


@pytest.mark.parametrize(("far_share", "told"), [(0.4, True), (0.6, False)])
def test_where_most_columns_end_on_a_far_shore_the_edge_of_bright_water_is_no_horizon(
    far_share: float, *, told: bool
) -> None:
    shore = (far_share > X) & (Y > 0.42) & (Y < 0.45)
    line = find_horizon(image(np.where(shore, 8.0, scene(0.65, drop=2.0, glow=0.0))))
    if told:
        assert isinstance(line, Horizon)
        assert shares(line) == pytest.approx((0.65, 0.65), abs=0.015)
    else:
        assert isinstance(line, Why)
        assert line.reason is Reason.COLUMNS_DISAGREE
        assert line.value == pytest.approx(0.4, abs=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_rocks_that_break_it_do_not_move_it_and_show_in_its_support(seed: int) -> None:
    rock = (np.abs(X - 0.3) < 0.1) | (np.abs(X - 0.7) < 0.08)
    stops = np.where(rock & (Y > 0.25) & (Y < 0.7), 5.0, scene(0.45, seed=seed))
    line = found(stops)
    assert shares(line) == pytest.approx((0.45, 0.45), abs=0.015)
    assert line.support == pytest.approx(0.64, abs=0.08)


def test_not_the_shore_where_bright_water_meets_dark_rock() -> None:
    """The step at the shore is five times as high: a step of row medians would be taken there."""
    stops = np.where(0.66 + 0.02 * np.sin(20 * X) < Y, 6.0, scene(0.44, drop=0.5))
    assert shares(found(stops)) == pytest.approx((0.44, 0.44), abs=0.015)


def test_not_the_edge_of_a_cloud_that_has_brighter_sky_below() -> None:
    stops = scene(0.6, glow=2.0)
    stops = np.where((Y > 0.2) & (Y < 0.3), stops - 1.0, stops)
    assert shares(found(stops)) == pytest.approx((0.6, 0.6), abs=0.015)


def test_silent_before_a_ridge_of_mountains() -> None:
    ridge = 0.4 + 0.18 * np.sin(9.0 * X) + 0.07 * np.sin(31.0 * X)
    why = find_horizon(image(scene(ridge, drop=4.0)))
    assert isinstance(why, Why)
    assert why.reason is Reason.COLUMNS_DISAGREE
    assert why.value is not None
    assert why.limit is not None
    assert why.value < why.limit


def test_silent_where_rocks_stand_before_more_than_half_of_it() -> None:
    top = 0.2 + 0.15 * np.abs(np.sin(11.0 * X))
    stops = np.where((np.abs(X - 0.5) < 0.33) & (top < Y), 5.0, scene(0.45))
    assert isinstance(find_horizon(image(stops)), Why)


@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_said_of_a_wall_or_of_a_lone_sky(seed: int) -> None:
    wall = np.random.default_rng(seed).normal(9.0, 0.7, (ROWS, COLS))
    for stops in (wall, np.broadcast_to(9.0 + 2.0 * Y, (ROWS, COLS))):
        why = find_horizon(image(stops))
        assert isinstance(why, Why)
        assert why.reason is Reason.NO_EDGE


def step(drop: float, *, broken: float = 0.0, below: float = 0.0) -> F64:
    """Plain sky over plain ground, the line missing in some columns, the lowest part bright."""
    stops = np.where(np.broadcast_to(Y, (ROWS, COLS)) < 0.4, 10.0, 10.0 - drop)
    stops = np.where(broken > X, np.where(Y < 0.4, 10.0 - drop, stops), stops)
    return np.where(Y > 0.85, 10.0 + below, stops) if below else stops


@pytest.mark.parametrize(
    ("drop", "broken", "told"),
    [(0.17, 0.0, False), (0.25, 0.0, True), (0.3, 0.28, True), (0.25, 0.25, False)],
)
def test_how_far_the_light_must_drop_and_in_how_many_columns(
    drop: float, broken: float, *, told: bool
) -> None:
    assert isinstance(find_horizon(image(step(drop, broken=broken))), Horizon) is told


@pytest.mark.parametrize(("below", "told"), [(0.25, True), (0.36, False)])
def test_how_bright_it_may_be_again_below(below: float, *, told: bool) -> None:
    assert isinstance(find_horizon(image(step(1.0, below=below))), Horizon) is told


def line(at: float, support: float = 0.6) -> Horizon:
    return Horizon(left=at * ROWS, right=at * ROWS, support=support, rows=ROWS)


def test_frames_of_one_composition_outvote_the_one_that_saw_a_wave() -> None:
    lines = [line(0.365), line(0.433), line(0.371)]
    common = common_horizon([(one, 0.0) for one in lines])
    assert isinstance(common, Horizon)
    assert shares(common) == pytest.approx((0.368, 0.368))


@pytest.mark.parametrize("at", [0.0, 1.0])
def test_a_line_at_the_edge_of_the_picture_parts_nothing(at: float) -> None:
    assert not _parts(scene(0.5).astype(np.float32), line(at))


def test_a_picture_that_was_knocked_down_tells_the_same_line() -> None:
    common = common_horizon([(line(0.4), 0.0), (line(0.5).lower(2.0), 0.1 * ROWS + 2.0)])
    assert isinstance(common, Horizon)
    assert shares(common) == pytest.approx((0.4, 0.4))


def test_no_line_where_the_frames_disagree_or_one_alone_is_broken() -> None:
    far = [line(0.3, 0.5), line(0.4, 0.5), line(0.5, 0.5)]
    for lines in (far, [line(0.4, 0.45)]):
        why = common_horizon([(one, 0.0) for one in lines])
        assert isinstance(why, Why)
        assert why.reason is Reason.COLUMNS_DISAGREE
    assert isinstance(common_horizon([(line(0.4, 0.55), 0.0)]), Horizon)
    over_sky = (Why(Reason.SKY_BELOW, 0.2, 0.12), 0.0)
    assert isinstance(common_horizon([(line(0.4), 0.0), over_sky]), Horizon)
    assert isinstance(common_horizon([(line(0.4), 0.0), over_sky, over_sky]), Why)
    unsure = [(Why(Reason.COLUMNS_DISAGREE, 0.45, 0.5), 0.0)] * 4
    assert isinstance(common_horizon([(line(0.4), 0.0), *unsure[:3]]), Horizon)
    assert isinstance(common_horizon([(line(0.4), 0.0), *unsure]), Why)
    assert common_horizon([(Why(Reason.NO_EDGE), 0.0)]) == Why(Reason.NO_EDGE)


@pytest.mark.parametrize(("apart", "told"), [(0.02, True), (0.03, False)])
def test_how_near_the_lines_of_two_frames_must_lie(apart: float, *, told: bool) -> None:
    found_in_both = [(line(0.4, 0.4), 0.0), (line(0.4 + apart, 0.4), 0.0)]
    assert isinstance(common_horizon(found_in_both), Horizon) is told


def test_a_weak_drop_above_takes_no_vote_from_the_line() -> None:
    stops = np.where(np.broadcast_to(Y, (ROWS, COLS)) < 0.25, 10.17, step(0.25))
    assert shares(found(stops)) == pytest.approx((0.4, 0.4), abs=0.012)


@pytest.mark.parametrize(
    ("at", "told"), [(0.085, False), (0.12, True), (0.78, True), (0.83, False)]
)
def test_how_high_and_how_low_a_line_is_sought(at: float, *, told: bool) -> None:
    assert isinstance(find_horizon(image(scene(at))), Horizon) is told


@pytest.mark.parametrize(("rise", "told"), [(-0.114, True), (0.114, True), (0.14, False)])
def test_how_far_aslant_a_line_is_sought(rise: float, *, told: bool) -> None:
    """Shares of the width: lines of up to 0.08 are tried, and then turned by four tiles more.

    One that is steeper still would be told with less tilt than it has.
    """
    line = find_horizon(image(scene(0.4 + rise * (X - 0.5) * COLS / ROWS, texture=0.05)))
    assert isinstance(line, Horizon) == told
    if isinstance(line, Horizon):
        assert (line.right - line.left) / COLS == pytest.approx(rise, abs=0.005)
