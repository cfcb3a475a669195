"""On either side of the numbers by which what a filter holds back is measured, tile by tile."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.group import grads, pairing
from auditor.group.aligned import AlignedFrame, Comparison
from auditor.group.confidence import confidence
from auditor.group.evenness import (
    corner_fall_off,
    radius_squared,
    scattered_light,
    unevenness,
)
from auditor.group.grad_curve import Curve, _is_grad, fit_curve
from auditor.group.moving import filled, moved_tiles
from auditor.group.pace import Pace
from auditor.group.pair_findings import find_filter_cast
from auditor.group.ratio import _sky_more
from auditor.group.skies import _headroom, kind_for
from auditor.group.tile_image import TileImage, TilePixels
from auditor.model.arrays import F32
from auditor.model.codes import GradKind
from auditor.model.grouping import Grouping
from auditor.model.half_sample_mode import Core
from auditor.model.rejected import Reason, Why
from auditor.model.remark import Doubt, PairDoubt
from tests.unit.test_advise_lessons import pair
from tests.unit.test_group_confidence import setting

SHAPE = (64, 96)
RADIUS = radius_squared(SHAPE)
CHECKS: F32 = np.where(np.indices(SHAPE).sum(axis=0) % 2, 1.0, -1.0).astype(np.float32)
Y = (np.arange(64) + 0.5) / 64


@pytest.mark.parametrize(("scatter", "firm"), [(0.1, True), (0.14, False)])
def test_parts_that_scatter_say_nothing_of_evenness(scatter: float, *, firm: bool) -> None:
    """The right of the picture lost a stop more, its tiles by so much more or less."""
    right = np.arange(96) >= 48
    tiles = np.where(right, 1.0 + scatter * CHECKS, 0.0).astype(np.float32)
    assert (unevenness(tiles) > 0.9) == firm


@pytest.mark.parametrize(
    ("stops", "reach", "noise", "told"),
    [
        (0.08, 1.0, 0.0, False), (0.12, 1.0, 0.0, True),
        (0.3, 0.32, 0.0, False), (0.3, 0.43, 0.0, True),
        (0.3, 1.0, 0.034, True), (0.3, 1.0, 0.042, False),
    ],
)  # fmt: skip
def test_a_fall_off_to_the_corners(stops: float, reach: float, noise: float, *, told: bool) -> None:
    """It is to be seen, on tiles from the middle outwards, and explains what is uneven.

    Tiles reach so far in squared radius, of which four fifths count. With so much noise the
    fall-off leaves 66 % of the median miss, or 77 %.
    """
    tiles = np.where(reach >= RADIUS, stops * RADIUS + noise * CHECKS, np.nan).astype(np.float32)
    middle = float(np.nanmedian(stops * np.where(reach >= RADIUS, RADIUS, np.nan)))
    core = Core(middle, 0.05, 400, 400)
    if noise:
        flat = np.median(np.abs(tiles - middle))
        assert (noise / flat < 0.7) == told
    assert bool(corner_fall_off(tiles, core)) == told


@pytest.mark.parametrize(("lift", "told"), [(0.04, False), (0.06, True)])
def test_scattered_light_lifts_the_median_tone(lift: float, *, told: bool) -> None:
    tones = np.linspace(-3.0, 3.0, 64 * 96).reshape(SHAPE).astype(np.float32)
    gain = np.exp2(np.median(tones) - tones)
    tiles = (6.0 - np.log2(1.0 + (2.0**lift - 1.0) * gain)).astype(np.float32)
    assert bool(scattered_light(tiles, tones).any()) == told


@pytest.mark.parametrize(("apart", "told"), [(0.25, False), (-0.25, False), (0.35, True)])
def test_a_sky_that_lost_more_than_the_ground(apart: float, *, told: bool) -> None:
    sky = np.full(SHAPE, 6.0 + apart, np.float32)
    assert bool(_sky_more(sky, Core(6.0, 0.02, 400, 400))) == told


# Tiles


def image_of(signal_dn: Any, detail: Any = 1.0, *, floor_dn: float = 4.0) -> TileImage:
    """A frame of one colour whose saturation lies 8,000 DN over black."""
    signal, fine = (np.broadcast_to(part, SHAPE) for part in (signal_dn, detail))
    nothing = np.zeros(SHAPE, np.float16)
    pixels = TilePixels(
        (signal.astype(np.float32),), nothing, nothing, fine.astype(np.float16)
    )  # fmt: skip
    return TileImage(("L",), pixels, SHAPE, (floor_dn,), True, (8000.0,), 32, 2048, 3072)


def pair_of(own: TileImage, other: TileImage) -> Comparison:
    return Comparison(
        AlignedFrame(own, 0.0, (0.0, 0.0)), [(AlignedFrame(other, 0.0, (0.0, 0.0)), 1.0)]
    )


@pytest.mark.parametrize(
    ("own", "other", "moved"),
    [(1.4, 1.0, False), (1.7, 1.0, True), (2.3, 1.41, False), (3.2, 1.41, True)],
)
def test_fine_detail_that_comes_or_goes_is_movement(
    own: float, other: float, *, moved: bool
) -> None:
    """Of noise alone detail is 1; 1.41 holds as much structure as noise, 3.2 three times that."""
    found = moved_tiles(pair_of(image_of(1000.0, own), image_of(1000.0, other)))
    assert bool(found.all()) == moved


@pytest.mark.parametrize(("floors", "told"), [(0.8, False), (1.2, True)])
def test_dark_rows_are_told_by_means_down_to_the_floor(floors: float, *, told: bool) -> None:
    """Nothing brighter is there: the noise floor is what a single pixel tells, not a tile."""
    compared = pair_of(image_of(4.0 * floors), image_of(400.0))
    nothing = np.full(SHAPE, np.nan, np.float32)
    whole = filled(compared, nothing, np.zeros(SHAPE, np.bool_))
    assert bool(np.isfinite(whole).all()) == told


# Light that drifted


@pytest.mark.parametrize(("stops", "told"), [(0.09, False), (0.115, True)])
def test_moving_water_alone_shows_a_change_of_a_tenth(
    monkeypatch: pytest.MonkeyPatch, stops: float, *, told: bool
) -> None:
    view, one = setting(stops, by_water=True)
    monkeypatch.setattr(pairing, "_held", lambda *_: one.direct)
    assert bool(pairing._change(view, 0, 1)) == told


def test_half_a_stop_of_drift_that_the_pace_tells_is_sure_to_a_tenth_in_two_of_three() -> None:
    """Frames before and after tell a pace of a quarter stop a minute; the pair is 2 min apart."""
    at_s, span_s = np.array([-200.0, 400.0]), np.array([200.0, 200.0])
    pace = Pace(at_s, span_s, np.full((2, 3), [0.25 / 60.0, np.nan, np.nan]))
    view, one = setting(5.5)
    series = SimpleNamespace(
        timed=True, middle_s=np.array([0.0, 120.0]), time_s=np.array([0.1, 0.1])
    )
    timed: Any = SimpleNamespace(**{**vars(view), "series": series})
    told = pairing._by_pace(timed, one, pace)
    assert told.drift_stops == pytest.approx(0.5, abs=0.01)
    assert confidence(view, told) == pytest.approx(0.63, abs=0.05)


@pytest.mark.parametrize(("cast", "told"), [(0.17, False), (0.23, True)])
def test_a_cast_may_be_the_light_s_where_nothing_tells_how_it_reddened(
    cast: float, *, told: bool
) -> None:
    """A tenth of a stop may be the light's own, and a tenth is the least cast of a filter."""
    view, one = setting()
    untimed: Any = SimpleNamespace(**{**vars(view), "series": SimpleNamespace(timed=False)})
    reddened = pairing._by_pace(untimed, one, Pace(np.zeros(0), np.zeros(0), np.zeros((0, 3))))
    doubt = PairDoubt(code=Doubt.ONE_SIDE, value=round(reddened.reddened_stops, 2))
    known = replace(
        pair(1, 6.0), cast_stops={"R": -cast, "B": 0.0}, doubts=(doubt,), best=True
    )  # fmt: skip
    shoot: Any = SimpleNamespace(grouping=Grouping(siblings=(known,)))
    assert bool(list(find_filter_cast(shoot))) == told


# Graduated filters and skies

GRAD = Curve(0.0, 3.0, 0.5, 0.05)


def graded(left: float = 1.0, right: float = 1.0) -> F32:
    """Tiles behind a graduated filter of three stops, the sides by so much of it."""
    times = np.repeat([left, 1.0, right], 32)
    tiles: F32 = (GRAD.stops(Y)[:, None] * times).astype(np.float32)
    return tiles


@pytest.mark.parametrize(("unknown", "told"), [(7, False), (4, True)])
def test_an_edge_is_seen_where_its_rows_are(unknown: int, *, told: bool) -> None:
    """Of 14 rows across the transition so many hold nothing that stands still."""
    assert int((np.abs(Y - 0.5) <= GRAD.transition / 2.0).sum()) == 14
    tiles = graded()
    tiles[32 - unknown // 2 : 32 - unknown // 2 + unknown] = np.nan
    assert (fit_curve(Y, tiles) is not None) == told


@pytest.mark.parametrize(("left", "told"), [(0.1, True), (0.2, False)])
def test_a_filter_explains_the_profile(left: float, *, told: bool) -> None:
    """Clouds leave so much of the variance beside it, up and down from row to row."""
    stops = GRAD.stops(Y)
    rows = np.where(np.arange(64) % 2, 1.0, -1.0)
    stops += rows * np.sqrt(left / (1.0 - left) * stops.var())
    assert _is_grad(GRAD, Y, stops, np.full(64, 0.05)) == told


@pytest.mark.parametrize(("apart", "glass"), [(0.4, True), (0.56, False)])
def test_left_and_right_of_a_filter_show_the_same_at_the_top(
    monkeypatch: pytest.MonkeyPatch, apart: float, *, glass: bool
) -> None:
    """Of three stops they are so many apart."""
    tiles = graded(1.0 - apart / 6.0, 1.0 + apart / 6.0)
    held = SimpleNamespace(tiles=tiles, filled=tiles, by_tone_stops=0.0, by_water=False)
    monkeypatch.setattr(grads, "measure_attenuation", lambda *_: held)
    monkeypatch.setattr(grads, "_can_be_glass", lambda *_: True)
    frame = AlignedFrame(image_of(1000.0), 0.0, (0.0, 0.0))
    found = grads._pair(frame, frame, 1, 0)
    assert isinstance(found, grads.GradPair) == glass
    assert glass or (isinstance(found, Why) and found.reason is Reason.SIDES_DISAGREE)


@pytest.mark.parametrize(
    ("support", "glow", "kind"),
    [
        (0.7, 0.0, GradKind.SOFT), (0.8, 0.0, GradKind.HARD),
        (0.9, 0.8, GradKind.HARD), (0.9, 1.2, GradKind.REVERSE), (0.7, 1.2, GradKind.SOFT),
    ],
)  # fmt: skip
def test_which_filter_fits_the_line_and_the_glow(
    support: float, glow: float, kind: GradKind
) -> None:
    line: Any = SimpleNamespace(support=support)
    assert kind_for(line, glow) is kind


@pytest.mark.parametrize(("blown", "room"), [(0.0004, 3.0), (0.0006, 0.0)])
def test_a_sky_that_is_blown_has_no_headroom(blown: float, room: float) -> None:
    """An eighth of the range everywhere: three stops, but for what is blown in one tile."""
    sky = np.zeros(SHAPE, np.bool_)
    sky[:20] = True
    image = image_of(1000.0)
    image.lost_bright[5, 5] = blown * 20 * 96
    assert _headroom(image, sky) == room
