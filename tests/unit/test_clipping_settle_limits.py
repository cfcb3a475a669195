"""On either side of the numbers that levels are settled by, and tiles and frames are judged by."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.clipping.findings import find_white_level_tag
from auditor.clipping.maps import _blown_shares, cut_tiles
from auditor.clipping.settle import clip_evidence, settle_levels
from auditor.figures.frame import loss_of
from auditor.model.audit import Patch
from auditor.model.codes import Loss
from auditor.model.facts import FileFacts
from auditor.model.measurement import FrameMeasurement, Histogram, Pictures
from auditor.model.settings import JudgeSettings
from tests.built_mosaics import measured, mosaic_of, noisy
from tests.unit.test_clipping_settle import frame, pile_up


@pytest.mark.parametrize(
    ("sisters", "off", "overruled"),
    [(4, 0.025, False), (4, 0.035, True), (3, 0.035, True), (2, 0.035, False)],
)
def test_three_sisters_overrule_a_pile_up_that_lies_elsewhere(
    sisters: int, off: float, *, overruled: bool
) -> None:
    """By three percent: channels of one sensor differ by less from frame to frame."""
    odd_dn = 15800.0 * (1.0 - off)
    shoot = {str(place): frame(pile_up(15800.0)) for place in range(sisters)}
    (level,) = settle_levels(shoot | {"odd": frame(pile_up(odd_dn), top_dn=int(odd_dn))})["odd"]
    assert (level.saturation_dn == 15800.0) == overruled


def evidence(counts: dict[int, int]) -> tuple[int, float]:
    """The top of a plane of a million pixels, and how many lie near to it; black at 512."""
    found = measured(mosaic_of(np.rint(noisy(50.0, (120, 180)))))
    own = np.zeros(16384, np.uint32)
    own[520] = 10**6 - sum(counts.values())
    own[list(counts)] = list(counts.values())
    plane = replace(
        found.planes[0], histogram=Histogram(0, own), pile_up=None, hot_count=0, pixels=10**6
    )  # fmt: skip
    mosaic = replace(found, planes=(plane,))
    told = clip_evidence(FrameMeasurement(FileFacts(), mosaic, None, Pictures(b""))).planes[0]
    return told.top_dn, told.near_top


@pytest.mark.parametrize(("stray", "top_dn"), [(8, 10_512), (12, 15_512)])
def test_stray_pixels_of_a_plane_are_not_its_top(stray: int, top_dn: int) -> None:
    """A hundred-thousandth of it: ten of a million."""
    assert evidence({10_512: 1000, 15_512: stray})[0] == top_dn


@pytest.mark.parametrize(("off", "near"), [(0.017, True), (0.023, False)])
def test_what_lies_two_percent_under_the_top_is_at_it(off: float, *, near: bool) -> None:
    share = evidence({10_512: 1000, round(512 + 10_000 * (1.0 - off)): 30_000})[1]
    assert (share > 0.03) == near


@pytest.mark.parametrize(
    ("over", "tone", "cut"),
    [(0.003, 0.1, False), (0.005, 0.1, True), (0.001, 0.17, False), (0.001, 0.23, True)],
)
def test_a_few_clipped_pixels_of_a_dark_tile_are_hot(
    over: float, tone: float, *, cut: bool
) -> None:
    one = np.ones((1, 1, 1))
    held: Any = SimpleNamespace(
        maps=SimpleNamespace(
            over_share=over * one, mean_dn=10_000 * tone * one, max_dn=10_600 * one
        ),
        planes=[SimpleNamespace(level=SimpleNamespace(blown_from_dn=10_500), span_dn=10_000.0)],
    )
    assert bool(cut_tiles(held).all()) == cut


@pytest.mark.parametrize(("fewer", "counted"), [(0.017, True), (0.023, False)])
def test_tiles_counted_at_another_level_serve_where_the_whole_count_agrees(
    fewer: float, *, counted: bool
) -> None:
    """At the settled level so many fewer of 10,000 pixels are blown than where tiles counted."""
    ones, half = np.ones((1, 1)), np.full((1, 1, 1), 0.5)
    measurement = SimpleNamespace(
        histogram=SimpleNamespace(at_or_above=lambda _: 10_000), clip_threshold_dn=10_000,
        pixels=20_000,
    )  # fmt: skip
    plane = SimpleNamespace(
        measured=measurement, level=SimpleNamespace(blown_from_dn=10_400),
        blown_pixels=round(10_000 * (1.0 - fewer)),
    )  # fmt: skip
    held: Any = SimpleNamespace(
        planes=[plane], mosaic=SimpleNamespace(tile_area=ones),
        maps=SimpleNamespace(
            max_dn=np.full((1, 1, 1), 10_600), over_share=half, any_over_share=half[0],
            all_over_share=half[0],
        ),
    )  # fmt: skip
    assert (float(_blown_shares(held)[0].max()) == 0.5) == counted


@pytest.mark.parametrize(
    ("blown", "everywhere", "loss"),
    [
        (0.0008, 0.0, Loss.PATCH), (0.0012, 0.0, Loss.CHANNEL),
    ],
)  # fmt: skip
def test_a_small_loss_is_a_patch_and_no_area(blown: float, everywhere: float, loss: Loss) -> None:
    """Where one channel is lost: the sun would take all."""
    limits = JudgeSettings()
    patch = Patch(limits.patch_limit * 1.2, (0.5, 0.2), (0.1, 0.19, 0.9, 0.2))
    assert loss_of(blown, everywhere, patch, limits) is loss


@pytest.mark.parametrize(("stops", "told"), [(0.025, 0), (0.035, 1), (-0.035, 1)])
def test_a_claimed_white_level_a_thirtieth_of_a_stop_off_is_worth_saying(
    stops: float, told: int
) -> None:
    channel = SimpleNamespace(
        name="G1", black_dn=500.0, white_tag_dn=500.0 + 10_000.0 * 2.0**stops,
        saturation_dn=10_500.0, blown_from_dn=10_494.0,
    )  # fmt: skip
    result = SimpleNamespace(id="a", camera=SimpleNamespace(body="B"), channels=[channel])
    shoot: Any = SimpleNamespace(results={"a": result})
    assert len(list(find_white_level_tag(shoot))) == told
