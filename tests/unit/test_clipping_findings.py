"""What clipping and the preview have to say, at the limits from which they say it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.clipping.findings import find_blown_channel
from auditor.clipping.maps import ClipMaps
from auditor.figures.frame import judge_frame
from auditor.findings.base import FrameView
from auditor.model.audit import FrameResult, PreviewStory
from auditor.model.codes import LevelSource, PlaneName, Verdict
from auditor.model.findings import Severity
from auditor.model.measurement import Level
from auditor.model.settings import JudgeSettings, Settings
from auditor.preview.findings import find_preview_hides
from tests.judge_maker import CLIP_DN, card_file, measured_mono, pile_up_at, settled

LEVEL = Level(CLIP_DN, CLIP_DN - 6, LevelSource.MEASURED)


def lit() -> FrameResult:
    frame = settled(measured_mono(np.full((240, 240), 4000)), (LEVEL,))
    return judge_frame(card_file(), frame, JudgeSettings())


def with_shares(red: float, green: float, blue: float) -> FrameView:
    result = lit()
    shares = zip(("R", "G1", "B"), (red, green, blue), strict=True)
    channels = tuple(
        replace(result.channels[0], name=PlaneName(name), blown_fraction=share)
        for name, share in shares
    )
    return FrameView(replace(result, channels=channels), Settings())


@pytest.mark.parametrize(("green", "told"), [(0.0019, True), (0.0021, False)])
def test_a_channel_is_alone_while_the_others_lost_a_fifth_of_it_at_most(
    green: float, told: bool
) -> None:
    assert bool(list(find_blown_channel(with_shares(0.01, green, 0.0)))) is told


@pytest.mark.parametrize(("red", "told"), [(0.0011, True), (0.0009, False)])
def test_a_channel_alone_is_worth_saying_from_a_thousandth(red: float, told: bool) -> None:
    assert bool(list(find_blown_channel(with_shares(red, 0.0, 0.0)))) is told


def test_both_greens_are_one_colour() -> None:
    view = with_shares(0.0, 0.01, 0.0)
    twin = replace(view.result.channels[1], name=PlaneName.G2)
    both = replace(view.result, channels=(*view.result.channels, twin))
    (told,) = find_blown_channel(FrameView(both, Settings()))
    assert told.channel == "G1"


@pytest.mark.parametrize(
    ("blown", "shown", "told"),
    [(0.0011, 0.0, True), (0.0009, 0.0, False), (0.02, 0.0019, True), (0.02, 0.0021, False)],
)
def test_a_loss_that_the_preview_hides_is_a_risk(blown: float, shown: float, told: bool) -> None:
    preview = PreviewStory(160, 120, shown, 0.0, {}, None, {}, {})
    result = replace(lit(), blown_fraction=blown, preview=preview, verdict=Verdict.BLOWN)
    found = list(find_preview_hides(FrameView(result, Settings())))
    assert [one.severity for one in found] == ([Severity.RISK] if told else [])


def test_the_share_where_any_plane_is_lost_is_never_under_that_of_one_plane() -> None:
    """Where tiles were counted too low, the exact count of the plane stands for them."""
    values = np.full((240, 240), 4000)
    values[:24, :24] = CLIP_DN
    measured = measured_mono(values, pile_up=pile_up_at())
    maps = measured.mosaic.maps
    low = replace(
        maps,
        any_over_share=maps.any_over_share * np.float32(0.5),
        over_share=maps.over_share * np.float32(0.5),
    )
    frame = settled(replace(measured, mosaic=replace(measured.mosaic, maps=low)), (LEVEL,))
    result = judge_frame(card_file(), frame, JudgeSettings())
    assert result.blown_fraction == result.channels[0].blown_fraction == pytest.approx(0.01)


@pytest.mark.parametrize(("share", "lost"), [(0.51, True), (0.49, False)])
def test_a_tile_is_lost_from_its_half_on_and_a_speck_before(share: float, lost: bool) -> None:
    blown = np.array([[share, 0.0]], np.float32)
    maps = ClipMaps(
        planes=blown[None], any_blown=blown, all_blown=blown, unlit=blown > 1.0,
        floors_known=False, weight=np.full((1, 2), 0.5),
    )  # fmt: skip
    assert maps.lost.tolist() == [[lost, False]]
    assert maps.specks.tolist() == [[not lost, False]]
