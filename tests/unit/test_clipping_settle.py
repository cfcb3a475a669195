"""Where a channel clips: this frame, its sisters, the past, and the file's claim, in that order."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.clipping.settle import (
    LevelHistory,
    clip_evidence,
    settle_levels,
    with_lent_noise,
)
from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import NoiseSource
from auditor.model.facts import FileFacts
from auditor.model.measurement import FrameMeasurement, NoiseEstimate, Pictures, PileUp
from auditor.model.remark import RemarkCode
from tests.built_mosaics import exposed, histogram_of, measured, mosaic_of
from tests.told import said

BODY = ("Brackwell", "Brackwell F45", "7")


def pile_up(level_dn: float) -> PileUp:
    return PileUp(level_dn, int(level_dn) - 6, 2.0, 0.01)


def frame(
    pile_up: PileUp | None = None,
    *,
    top_dn: int = 9000,
    iso: float = 100.0,
    white_dn: float = 16383,
) -> ClipEvidence:
    return ClipEvidence(BODY, iso, 14, (PlaneEvidence("R", white_dn, pile_up, top_dn),))


def test_a_heap_in_the_frame_itself_is_the_best_evidence() -> None:
    (level,) = settle_levels({"a": frame(pile_up(15800), top_dn=15804)})["a"]
    assert (level.saturation_dn, level.blown_from_dn, level.source) == (15800, 15794, "measured")


def test_sisters_of_the_same_body_iso_and_depth_lend_their_level() -> None:
    levels = settle_levels({"a": frame(), "b": frame(pile_up(15800)), "c": frame(iso=200.0)})
    assert levels["a"][0].source == "shoot"
    assert levels["a"][0].saturation_dn == 15800
    assert levels["c"][0].source == "metadata", "another ISO clips elsewhere"


def test_the_past_serves_where_the_shoot_tells_nothing() -> None:
    past = LevelHistory({(*BODY, 100.0, 14, "R"): ((15790.0, 15784.0), (15810.0, 15804.0))})
    (level,) = settle_levels({"a": frame()}, past)["a"]
    assert (level.saturation_dn, level.source) == (15800.0, "history")


def test_nothing_is_invented_where_nothing_clips() -> None:
    (level,) = settle_levels({"a": frame()})["a"]
    assert (level.saturation_dn, level.source) == (16383, "metadata")


def test_one_odd_heap_among_many_is_overruled() -> None:
    shoot = {str(n): frame(pile_up(15800)) for n in range(4)} | {
        "odd": frame(pile_up(12000), top_dn=12005)
    }
    (level,) = settle_levels(shoot)["odd"]
    assert level.saturation_dn == 15800
    assert level.may_clip, "another way of reading out may clip there"
    assert "12000" in said(level.remarks)


def two_readouts(*low: str, high: int = 4) -> dict[str, ClipEvidence]:
    """Frames that clip at 15,800 DN, and some of the same body and ISO that do at 12,000."""
    return {f"high {n}": frame(pile_up(15800), top_dn=15804) for n in range(high)} | {
        name: frame(pile_up(12000), top_dn=12005) for name in low
    }


@pytest.mark.parametrize("high", [2, 4, 9])
def test_two_frames_at_a_level_of_their_own_are_believed(high: int) -> None:
    """An electronic shutter, or a fast drive, may clip lower than the rest at the same ISO."""
    levels = settle_levels(two_readouts("a", "b", high=high))
    assert [(lv.saturation_dn, lv.may_clip) for lv in levels["a"]] == [(12000, False)]
    assert [(lv.saturation_dn, lv.may_clip) for lv in levels["high 0"]] == [(15800, False)]


def test_a_pile_up_beyond_that_of_all_sisters_is_the_frame_s_own() -> None:
    shoot = {str(n): frame(pile_up(12000), top_dn=12005) for n in range(5)}
    (level,) = settle_levels(shoot | {"odd": frame(pile_up(15800), top_dn=15804)})["odd"]
    assert (level.saturation_dn, level.source) == (15800, "measured")


@pytest.mark.parametrize(
    ("top_dn", "told"), [(9000, (12000, False)), (11900, (12000, True)), (13000, (15800, False))]
)
def test_which_of_two_levels_is_not_known_where_a_frame_reaches_neither(
    top_dn: int, told: tuple[float, bool]
) -> None:
    for shoot in (two_readouts("a", "b"), two_readouts("a", high=1)):
        (level,) = settle_levels(shoot | {"dim": frame(top_dn=top_dn)})["dim"]
        assert (level.saturation_dn, level.may_clip) == told
        assert ("12000 and at 15800" in said(level.remarks)) == (top_dn < 12000)


def test_the_past_may_hold_two_levels_too() -> None:
    past = LevelHistory({(*BODY, 100.0, 14, "R"): ((15800.0, 15794.0), (12000.0, 11994.0))})
    (level,) = settle_levels({"dim": frame(top_dn=11950)}, past)["dim"]
    assert (level.saturation_dn, level.source, level.may_clip) == (12000, "history", True)


def test_a_frame_s_other_channels_tell_which_of_two_levels_is_its_own() -> None:
    shoot = {
        f"{name} {n}": coloured(
            replace(RED, pile_up=pile_up(dn)), replace(GREEN, pile_up=pile_up(dn))
        )
        for name, dn in (("high", 15800), ("low", 12000))
        for n in range(2)
    }
    own = coloured(RED, replace(GREEN, pile_up=pile_up(12000), top_dn=12005))
    red, green = settle_levels(shoot | {"own": own})["own"]
    assert [level.saturation_dn for level in (red, green)] == [12000, 12000]
    assert not red.may_clip
    assert red.source == "shoot"


def test_a_level_of_another_iso_or_size_is_lent_to_none() -> None:
    """ISO 100 clips at 15,854 DN, ISO 64 at 12,000; so may a crop of the same sensor."""
    bright = frame(pile_up(15854), top_dn=15860, white_dn=15860)
    low = frame(top_dn=11990, iso=64.0, white_dn=12000)
    crop = replace(frame(top_dn=11990, white_dn=12000), sensor="bayer 3000x2000 black 36")
    past = LevelHistory({(*BODY, 100.0, 14, "R"): ((15854.0, 15848.0),)})
    levels = settle_levels({"a": bright, "b": low, "c": crop}, past)
    for name in ("b", "c"):
        assert (levels[name][0].saturation_dn, levels[name][0].source) == (12000, "metadata")


def test_two_sisters_do_not_overrule_a_frame_of_its_own() -> None:
    shoot = {str(n): frame(pile_up(15800)) for n in range(2)} | {
        "odd": frame(pile_up(12000), top_dn=12005)
    }
    assert settle_levels(shoot)["odd"][0].saturation_dn == 12000


def test_a_frame_of_unknown_iso_or_body_has_no_sisters_and_no_past() -> None:
    past = LevelHistory({(*BODY, 0.0, 14, "R"): ((15790.0, 15784.0),)})
    levels = settle_levels({"a": frame(iso=0.0), "b": frame(pile_up(15800), iso=0.0)}, past)
    assert levels["a"][0].source == "metadata"
    assert levels["b"][0].source == "measured"
    nameless = {
        n: replace(frame(h), body=("", "", "")) for n, h in (("a", None), ("b", pile_up(9)))
    }
    assert settle_levels(nameless)["a"][0].source == "metadata"


def test_data_above_the_claimed_level_overrule_the_claim_and_measure_no_clipping() -> None:
    (level,) = settle_levels({"a": frame(top_dn=16628)})["a"]
    assert level.saturation_dn == 16628
    assert level.source == "metadata"
    assert "16383" in said(level.remarks)


def test_a_frame_brighter_than_its_sisters_level_does_not_take_it() -> None:
    levels = settle_levels({"a": frame(top_dn=16300), "b": frame(pile_up(14000))})
    assert levels["a"][0].source == "metadata"


def coloured(red: PlaneEvidence, green: PlaneEvidence) -> ClipEvidence:
    return ClipEvidence(BODY, 100.0, 14, (red, green))


RED, GREEN = (
    PlaneEvidence("R", 16383, None, 9000),
    PlaneEvidence("G1", 16383, pile_up(15800), 15804),
)


def test_other_channels_of_the_frame_are_better_than_a_claim_they_disprove() -> None:
    red, green = settle_levels({"a": coloured(RED, GREEN)})["a"]
    assert green.source == "measured"
    assert (red.saturation_dn, red.source) == (15800, "channels"), "lent, not measured here"
    assert "other channels" in said(red.remarks)


def test_a_level_lent_by_a_channel_that_only_the_past_knows_is_of_the_past() -> None:
    past = LevelHistory({(*BODY, 100.0, 14, "G1"): ((15790.0, 15784.0),)})
    red, green = settle_levels({"a": coloured(RED, replace(GREEN, pile_up=None))}, past)["a"]
    assert [level.source for level in (red, green)] == ["history", "history"]


def test_a_channel_brighter_than_the_others_level_does_not_take_it() -> None:
    (red, _) = settle_levels({"a": coloured(replace(RED, top_dn=16000), GREEN)})["a"]
    assert (red.saturation_dn, red.source) == (16383, "metadata")


def test_a_level_that_is_only_a_lower_bound_is_lent_to_no_other_channel() -> None:
    above = PlaneEvidence("G1", 16383, None, 16628)
    (red, _) = settle_levels({"a": coloured(RED, above)})["a"]
    assert (red.saturation_dn, red.source) == (16383, "metadata")


def test_a_frame_tells_that_its_other_channels_lent_the_level() -> None:
    red, _ = settle_levels({"a": coloured(RED, GREEN)})["a"]
    assert red.source == "channels"


def test_a_twin_knows_best() -> None:
    """One green takes the other's level, not the median of red, blue and green."""
    planes = (
        PlaneEvidence("R", 16383, pile_up(15000), 15010),
        PlaneEvidence("G1", 16383, pile_up(15800), 15804),
        PlaneEvidence("G2", 16383, None, 15790),
        PlaneEvidence("B", 16383, pile_up(15100), 15110),
    )
    levels = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, planes)})["a"]
    assert (levels[2].saturation_dn, levels[2].source) == (15800, "channels")


def test_another_sensor_of_the_same_body_lends_nothing() -> None:
    """Phones and modules hold several sensors: by size, layout and black they are told apart."""
    other = replace(frame(), sensor="bayer 4000x3000 black 24")
    levels = settle_levels({"a": other, "b": replace(frame(pile_up(15800)), sensor="x")})
    assert levels["a"][0].source == "metadata"


def crowded(top_dn: int, near_top: float = 0.0125) -> ClipEvidence:
    """A frame with many pixels at its top, whose level is only claimed."""
    return ClipEvidence(BODY, 100.0, 14, (PlaneEvidence("R", 16383, None, top_dn, 512, near_top),))


def test_many_pixels_at_the_top_of_all_that_was_seen_may_be_clipped() -> None:
    assert settle_levels({"a": crowded(12000)})["a"][0].may_clip
    assert not settle_levels({"a": crowded(12000, near_top=0.008)})["a"][0].may_clip


def test_what_another_frame_records_beyond_is_no_clipping() -> None:
    assert not settle_levels({"a": crowded(12000), "b": crowded(12430)})["a"][0].may_clip
    assert settle_levels({"a": crowded(12000), "b": crowded(12300)})["a"][0].may_clip


def test_a_level_that_was_measured_is_not_doubted() -> None:
    clips = crowded(15804)
    clips = replace(clips, planes=(replace(clips.planes[0], pile_up=pile_up(15800)),))
    assert not settle_levels({"a": clips})["a"][0].may_clip


@pytest.mark.parametrize(
    ("share", "next_code", "code_dn", "told"),
    [
        (0.01, 8e-4, 1.0, False), (0.01, 1.2e-3, 1.0, True),
        (0.3, 5e-3, 1.0, False), (0.3, 7e-3, 1.0, True),
        (0.01, 0.0, 95.0, False), (0.01, 0.0, 120.0, True),
    ],
)  # fmt: skip
def test_codes_that_make_a_difference_are_doubted(
    share: float, next_code: float, code_dn: float, told: bool
) -> None:
    """By what lies in the code under the level, and by how far codes lie apart."""
    heap = replace(pile_up(15800), share=share)
    plane = PlaneEvidence("R", 16383, heap, 15804, 512, 0.1, next_code=next_code, code_dn=code_dn)
    (level,) = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, (plane,))})["a"]
    assert level.may_clip == told
    said = told or next_code >= 1e-3
    assert [one.code for one in level.remarks] == [RemarkCode.COARSE_TOP] * said
    assert not said or level.remarks[0].number("share") == next_code


@pytest.mark.parametrize(("spread_dn", "told"), [(85.0, False), (115.0, True)])
def test_a_pile_up_looser_than_sensors_clip_is_doubted(spread_dn: float, told: bool) -> None:
    heap = replace(pile_up(15872), spread_dn=spread_dn)
    plane = PlaneEvidence("R", 16383, heap, 16100, 512, 0.1)
    (level,) = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, (plane,))})["a"]
    assert level.may_clip == told


@pytest.mark.parametrize(("beyond", "told"), [(3e-4, False), (5e-4, True)])
def test_pixels_clearly_above_a_pile_up_were_changed_after_they_clipped(
    beyond: float, told: bool
) -> None:
    plane = PlaneEvidence("R", 16383, pile_up(15872), 16100, 512, 0.1, beyond=beyond)
    (level,) = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, (plane,))})["a"]
    assert level.may_clip == told


def walls(
    leads_up: float = 0.0,
    spread: float = 5e-4,
    borne_out: float | None = None,
    sister: bool = False,
) -> list[bool]:
    """Which of red and blue are doubted that pile up at 10,000 DN over black, blue so loosely.

    Light leads up to green's pile-up, that much lower, in the frame or in a sister.
    """
    red = PlaneEvidence(
        "R", 16383, replace(pile_up(10512), spread_dn=1.0), 10516, 512, 0.1, leads_up=leads_up
    )
    heap = replace(pile_up(10512), spread_dn=spread * 10000)
    planes = (red, replace(red, name="B", pile_up=heap))
    green: tuple[PlaneEvidence, ...] = ()
    if borne_out is not None:
        led = replace(pile_up(10512 * (1.0 - borne_out)), spread_dn=1.0)
        green = (PlaneEvidence("G1", 16383, led, 10516, 512, 0.1, leads_up=0.5),)
    dim = PlaneEvidence("G1", 16383, None, 9000, 512)
    frames = {"a": ClipEvidence(BODY, 100.0, 14, planes + ((dim,) if sister else green))}
    if sister:
        frames["b"] = ClipEvidence(BODY, 100.0, 14, green)
    return [level.may_clip for level in settle_levels(frames)["a"][:2]]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"leads_up": 8e-3}, True), ({"leads_up": 0.012}, False),
        ({"spread": 2.4e-4}, False), ({"spread": 3.6e-4}, True),
        ({"borne_out": 3.2e-3}, False), ({"borne_out": 5e-3}, True),
        ({"borne_out": 1e-3, "sister": True}, False), ({"borne_out": 5e-3, "sister": True}, True),
    ],
)  # fmt: skip
def test_pile_ups_to_which_no_light_leads_up_may_be_a_wall_s(
    changes: dict[str, Any], told: bool
) -> None:
    """A bend may have narrowed an even wall's noise, unless a level like theirs is borne out."""
    assert walls(**changes) == [told, told]


def test_what_is_lent_is_doubted_with_all_who_lend_it() -> None:
    loose = replace(pile_up(10512), spread_dn=5.0)
    green = PlaneEvidence("G1", 16383, loose, 10516, 512, 0.1, leads_up=0.0)
    dim = PlaneEvidence("R", 16383, None, 9000, 512)
    for second, told in ((0.0, True), (0.5, False)):
        twin = replace(green, name="G2", leads_up=second)
        levels = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, (green, twin, dim))})["a"]
        assert levels[2].may_clip == told


@pytest.mark.parametrize(
    ("above_dn", "spread_dn", "told"),
    [(5, 0.0, False), (7, 0.0, True), (55, 10.0, False), (65, 10.0, True)],
)
def test_what_lies_clearly_above_a_pile_up(above_dn: int, spread_dn: float, told: bool) -> None:
    """By six spreads or six DN; and what leads up to it lies within a twentieth under it."""
    beyond, _ = ends_of([15872] * 900 + [15872 + above_dn] * 50, spread_dn)
    assert (beyond > 0) == told


@pytest.mark.parametrize(("under", "told"), [(0.045, True), (0.055, False)])
def test_what_leads_up_to_a_pile_up(under: float, told: bool) -> None:
    _, leads_up = ends_of([15872] * 900 + [round(15872 - under * 15360)] * 50, 0.0)
    assert (leads_up > 0) == told


def ends_of(values: list[int], spread_dn: float) -> tuple[float, float]:
    """What lies beyond a pile-up at 15,872 DN, and what leads up to it."""
    found = measured(mosaic_of(np.full((8, 8), 600)))
    plane = replace(
        found.planes[0], histogram=histogram_of(np.array(values)), pixels=len(values),
        pile_up=PileUp(15872.0, 15872, spread_dn, 0.9),
    )  # fmt: skip
    mosaic = replace(found, planes=(plane,))
    (one,) = clip_evidence(FrameMeasurement(FileFacts(), mosaic, None, Pictures(b""))).planes
    return one.beyond, one.leads_up


@pytest.mark.parametrize(("over", "told"), [(8e-4, False), (1.2e-3, True)])
def test_a_thousandth_beyond_the_claim_may_be_clipped(over: float, told: bool) -> None:
    """Fewer than a hundredth lie at the top, and another frame reaches further."""
    plane = PlaneEvidence("R", 12000, None, 14000, 512, 2e-3, over_claim=over)
    sister = replace(plane, top_dn=15000, white_dn=16383.0, over_claim=0.0)
    frames = {n: ClipEvidence(BODY, 100.0, 14, (p,)) for n, p in (("a", plane), ("b", sister))}
    assert [levels[0].may_clip for levels in settle_levels(frames).values()] == [told, False]


@pytest.mark.parametrize(
    ("top_dn", "near_top", "code_dn", "told"),
    [
        (15802, 0.002, 24.0, False), (15802, 0.002, 32.0, True), (15802, 8e-4, 32.0, False),
        (15770, 0.002, 32.0, True), (15750, 0.002, 32.0, False),
        (15750, 0.0125, 1.0, True), (15750, 0.008, 1.0, False), (15400, 0.0125, 1.0, False),
    ],
)  # fmt: skip
def test_a_level_of_others_is_doubted_where_much_lies_at_the_top(
    top_dn: int, near_top: float, code_dn: float, told: bool
) -> None:
    planes = (
        PlaneEvidence("R", 16383, pile_up(15800), 15804, 512),
        PlaneEvidence("B", 16383, None, top_dn, 512, near_top, code_dn=code_dn),
    )
    red, blue = settle_levels({"a": ClipEvidence(BODY, 100.0, 14, planes)})["a"]
    assert (blue.source, blue.may_clip) == ("channels", told)
    assert not red.may_clip


def test_a_sensor_of_several_levels_lends_none() -> None:
    apart = frame(pile_up(15800))
    apart = replace(apart, planes=tuple(replace(p, clips_apart=True) for p in apart.planes))
    assert settle_levels({"a": frame(), "b": apart})["a"][0].source == "metadata"


def test_noise_of_a_sister_shows_a_pile_up_that_the_frame_alone_did_not() -> None:
    """A texture far under its claim in one colour: no gain of its own, and no other colour."""
    taken = exposed("MONO", margin_top=0, margin_left=0, white_tag_dn=65535, bit_depth=16)
    mosaic = measured(taken.mosaic)
    silent = replace(mosaic.planes[0], noise=NoiseEstimate(), pile_up=None)
    alone = FrameMeasurement(
        FileFacts(), replace(mosaic, planes=(silent,)), None, Pictures(b"", None)
    )
    lent = NoiseEstimate(2.0, 0.3, NoiseSource.SHOOT)
    truth = taken.truth.planes[0]
    (plane,) = with_lent_noise(clip_evidence(alone), alone, (lent,)).planes
    assert plane.pile_up is not None
    assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
    assert plane.pile_up.share == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3)
    (plane,) = with_lent_noise(clip_evidence(alone), alone, (NoiseEstimate(),)).planes
    assert plane.pile_up is None
