"""A frame judged against what its made-up pixels are known to hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from auditor.clipping.findings import (
    find_blown_area,
    find_headroom_left,
    find_white_level_tag,
)
from auditor.clipping.limits import MANY_NEAR_TOP
from auditor.figures.channel import bright_end_dn, quantile_dn, stop_histogram
from auditor.figures.frame import unreadable_frame
from auditor.findings.base import FrameView, ShootView
from auditor.model.audit import FrameResult
from auditor.model.codes import Clipping, LevelSource, Loss, Verdict
from auditor.model.errors import FrameFailure
from auditor.model.facts import ExposureFacts, FileFacts
from auditor.model.findings import Finding, Severity
from auditor.model.grouping import Grouping
from auditor.model.measurement import (
    FrameMeasurement,
    Level,
    NoiseEstimate,
    Pictures,
    PlaneMeasurement,
    PreviewMeasurement,
)
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import JudgeSettings, Settings
from auditor.preview.findings import find_preview_early
from auditor.rules import frame_view, with_frame_findings
from auditor.words.findings import with_words
from auditor.words.kinds import KINDS
from tests.built_mosaics import RGGB, measured, mosaic_of
from tests.judge_maker import (
    BLACK_DN,
    CLIP_DN,
    card_file,
    histogram,
    measured_mono,
    pile_up_at,
    plane,
    settled,
)
from tests.told import judge_frame

SIDE = 240
SETTINGS = JudgeSettings()
CLIPS = Level(CLIP_DN, CLIP_DN - 6, LevelSource.MEASURED)


def picture(signal_dn: float) -> np.ndarray:
    return np.full((SIDE, SIDE), int(BLACK_DN + signal_dn), dtype=np.uint16)


def judged(measured: FrameMeasurement, level: Level = CLIPS) -> FrameResult:
    return judge_frame(card_file(), settled(measured, (level,)), SETTINGS)


def codes(measured: FrameMeasurement) -> set[str]:
    return {finding.code for finding in findings(measured)}


def findings(measured: FrameMeasurement, code: str = "") -> list[Finding]:
    view = frame_view(judged(measured), measured, Settings())
    told = map(with_words, with_frame_findings(view).findings)
    return [one for one in told if code in ("", one.code)]


def test_headroom_is_saturation_over_the_bright_end() -> None:
    result = judged(measured_mono(picture((CLIP_DN - BLACK_DN) / 4)))
    assert result.headroom_stops == pytest.approx(2.0, abs=1e-3)
    assert result.verdict == Verdict.HELD


def test_a_frame_that_may_be_clipped_is_not_called_held() -> None:
    measured = measured_mono(picture(9000))
    claimed = Level(CLIP_DN, CLIP_DN, LevelSource.METADATA, may_clip=True)
    result = judged(measured, claimed)
    assert (result.verdict, result.clipping) == ("may be clipped", "may be clipped")
    assert result.headroom_stops is None
    assert any("may be clipped" in note for note in result.channels[0].notes)
    view = frame_view(result, measured, Settings())
    (told,) = [f for f in with_frame_findings(view).findings if f.code == "may-be-clipped"]
    assert told.limit == MANY_NEAR_TOP
    assert "nothing confirms it" in with_words(told).text


def test_headroom_is_not_known_where_frames_of_the_camera_clip_at_two_levels() -> None:
    differ = remark(RemarkCode.LEVELS_DIFFER, low_dn=12000.0, high_dn=CLIP_DN)
    dim = Level(12000, 11994, LevelSource.SHOOT, (differ,))
    result = judged(measured_mono(picture(9000)), dim)
    assert (result.headroom_stops, result.clipping) == (None, "not seen")
    view = frame_view(
        judged(measured_mono(picture(9000)), replace(dim, may_clip=True)),
        measured_mono(picture(9000)),
        Settings(),
    )
    (told,) = [f for f in with_frame_findings(view).findings if f.code == "may-be-clipped"]
    assert "clip at more than one level at this ISO" in with_words(told).text


def test_clipping_is_seen_or_not() -> None:
    assert judged(measured_mono(picture(4000))).clipping == Clipping.NOT_SEEN
    values = picture(4000)
    values[:60, 180:] = CLIP_DN
    assert judged(measured_mono(values, pile_up=pile_up_at())).clipping == Clipping.SEEN


def test_a_blown_corner_is_told_with_its_share_and_place() -> None:
    values = picture(4000)
    values[:60, 180:] = CLIP_DN
    result = judged(measured_mono(values, pile_up=pile_up_at()))
    assert result.verdict == Verdict.BLOWN
    assert result.blown_fraction == pytest.approx(1 / 16)
    assert result.largest_blown_area is not None
    assert result.largest_blown_area.centre == pytest.approx((0.875, 0.125), abs=0.01)
    assert result.thirds is not None
    assert result.thirds.blown[0] == pytest.approx(3 / 16)
    assert result.thirds.blown[1:] == (0, 0)
    assert "blown-area" in codes(measured_mono(values, pile_up=pile_up_at()))


def test_a_blown_area_is_held_against_the_limit_for_areas() -> None:
    values = picture(4000)
    values[:60, 180:] = CLIP_DN
    values[200, ::2] = CLIP_DN
    (told,) = findings(measured_mono(values, pile_up=pile_up_at()), "blown-area")
    assert told.value == pytest.approx(1 / 16), "the patch, not the points besides"
    assert told.limit == SETTINGS.patch_limit
    assert told.text.startswith("6.5 % of the frame is blown")


def test_places_are_told_of_the_upright_picture() -> None:
    values = picture(4000)
    values[:60, 180:] = CLIP_DN  # upper right on the sensor
    turned = judged(measured_mono(values, pile_up=pile_up_at(), orientation=6)).largest_blown_area
    assert turned is not None
    assert turned.centre == pytest.approx((0.875, 0.875), abs=0.01), "turned clockwise: lower right"


def test_a_settled_level_below_the_cut_still_finds_its_places() -> None:
    values = picture(4000)
    values[:60, :60] = 12_000
    level = Level(12_000, 11_990, LevelSource.SHOOT)
    result = judged(measured_mono(values), level)
    assert result.blown_fraction == pytest.approx(1 / 16)
    assert result.largest_blown_area is not None
    assert result.largest_blown_area.share == pytest.approx(1 / 16)


def test_one_blown_pixel_is_told_and_is_no_blown_frame() -> None:
    values = picture(4000)
    values[7, 7] = CLIP_DN
    result = judged(measured_mono(values, clip_threshold_dn=CLIP_DN - 6))
    assert 0 < (result.blown_fraction or 0) < 1e-4
    assert result.verdict == Verdict.HELD
    assert "blown-points" in codes(measured_mono(values, clip_threshold_dn=CLIP_DN - 6))


@pytest.mark.parametrize("side", [12, 16, 24, 32, 48, 120])
def test_the_verdict_follows_the_grade_and_a_small_patch_is_no_loss(side: int) -> None:
    values = np.full((1200, 1600), 4000 + BLACK_DN)
    values[100 : 100 + side, 200 : 200 + side] = CLIP_DN
    frame = FrameMeasurement(FileFacts(), measured(mosaic_of(values)), None, Pictures(b""))
    result = judged(frame)
    assert result.loss is not None
    assert (result.verdict == Verdict.BLOWN) == result.loss.grave
    # half of a per mille and more in every channel is no longer what the sun leaves
    assert result.loss.grave == (side >= 64)
    told = findings(frame, "blown-area")
    assert all((one.severity is Severity.LOST) == result.loss.grave for one in told)


def test_blocked_is_judged_on_the_local_mean() -> None:
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 3, (SIDE, SIDE))
    values = np.where(np.arange(SIDE)[:, None] >= 160, 1.0, 900.0) + BLACK_DN + noise
    result = judged(measured_mono(np.rint(values).astype(np.uint16)))
    assert result.blocked_fraction == pytest.approx(1 / 3, abs=0.001)
    assert result.verdict == Verdict.BLOCKED


def test_noise_alone_neither_blocks_nor_rescues() -> None:
    rng = np.random.default_rng(2)
    just_over = BLACK_DN + 6.0 + rng.normal(0, 3, (SIDE, SIDE))
    assert judged(measured_mono(np.rint(just_over).astype(np.uint16))).blocked_fraction == 0


def test_a_cap_left_on_is_a_dark_frame() -> None:
    rng = np.random.default_rng(3)
    values = np.rint(BLACK_DN + rng.normal(0, 3, (SIDE, SIDE))).astype(np.uint16)
    assert judged(measured_mono(values)).verdict == Verdict.DARK_FRAME
    assert "dark-frame" in codes(measured_mono(values))
    assert "blocked-area" not in codes(measured_mono(values))


def test_a_moon_on_a_black_sky_is_no_dark_frame() -> None:
    rng = np.random.default_rng(3)
    values = np.rint(BLACK_DN + rng.normal(0, 3, (600, 800)))
    dark = FrameMeasurement(FileFacts(), measured(mosaic_of(values)), None, Pictures(b""))
    assert judged(dark).verdict == Verdict.DARK_FRAME
    values[100:116, 200:216] = CLIP_DN
    moon = FrameMeasurement(FileFacts(), measured(mosaic_of(values)), None, Pictures(b""))
    assert judged(moon).verdict != Verdict.DARK_FRAME
    assert judged(moon).loss == Loss.PATCH
    assert "blown-area" in codes(moon)


def test_a_dark_frame_without_a_floor_is_told_by_its_pixels_at_black() -> None:
    rng = np.random.default_rng(3)
    values = np.rint(BLACK_DN + rng.normal(0, 3, (SIDE, SIDE))).astype(np.uint16)
    (told,) = findings(measured_mono(values, gain=None), "dark-frame")
    assert told.value == pytest.approx(0.565, abs=0.01)
    assert told.text.startswith("In every channel 56")


def test_a_read_noise_that_is_only_a_bound_says_so() -> None:
    found = measured_mono(picture(4000))
    text = "Read noise is finer than whole DN can show: 0.49 DN is its upper bound."
    fine = remark(RemarkCode.FINE_READ_NOISE, bound_dn=0.49)
    noise = replace(found.mosaic.planes[0].noise, remarks=(fine,))
    planes = (replace(found.mosaic.planes[0], noise=noise),)
    (channel,) = judged(replace(found, mosaic=replace(found.mosaic, planes=planes))).channels
    assert text in channel.notes


def test_hot_pixels_of_a_frame_without_a_time_are_told_without_one() -> None:
    found = measured_mono(picture(4000))
    hot = replace(found.mosaic.hot, count=2, per_megapixel=34.7)
    found = replace(found, facts=FileFacts(), mosaic=replace(found.mosaic, hot=hot))
    (told,) = findings(found, "hot-pixels")
    assert told.text == "35 hot pixels per megapixel."


def test_hot_pixels_are_told_after_the_time_that_the_dial_names() -> None:
    found = measured_mono(picture(4000))
    hot = replace(found.mosaic.hot, count=2, per_megapixel=34.7)
    facts = FileFacts(exposure=ExposureFacts(time_s=32.0, nominal_time_s=30.0))
    found = replace(found, facts=facts, mosaic=replace(found.mosaic, hot=hot))
    (told,) = findings(found, "hot-pixels")
    assert told.text == "35 hot pixels per megapixel after 30 s."


def test_what_the_sun_may_have_blown_is_let_go() -> None:
    values = picture(4000)
    values[:20, :20] = CLIP_DN
    limits = replace(SETTINGS, patch_limit=1e-6)
    blown = judge_frame(
        card_file(), settled(measured_mono(values, pile_up=pile_up_at()), (CLIPS,)), limits
    )
    assert blown.largest_blown_area is not None
    small = replace(blown.largest_blown_area, share=4e-4)
    sun = replace(blown, blown_fraction=6e-4, blown_all_fraction=3e-4, largest_blown_area=small)
    cloud = replace(sun, blown_all_fraction=1e-5)
    for result, there in ((sun, True), (cloud, False), (blown, False)):
        (told,) = map(with_words, find_blown_area(FrameView(result, Settings())))
        assert ("the sun or its reflection" in with_words(told).text) is there
    assert "no eye protection" in KINDS["blown-area"].caution


def test_light_in_hand_is_told_once() -> None:
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 3, (SIDE, SIDE))
    for bright, told in ((900.0, False), (9000.0, True)):
        values = np.where(np.arange(SIDE)[:, None] >= 160, 1.0, bright) + BLACK_DN + noise
        found = measured_mono(np.rint(values).astype(np.uint16))
        (blocked,) = findings(found, "blocked-area")
        assert ("headroom" in blocked.text) is told
        assert len(findings(found, "headroom-left")) == (not told)


@pytest.mark.parametrize(
    ("level", "words"),
    [(Level(15800, 15794, LevelSource.MEASURED), "clips at 15800 DN, 0.05 stop below the 16383"),
     (Level(17100, 17101, LevelSource.METADATA),
      "records up to 17100 DN, 0.06 stop above the 16383")],
)  # fmt: skip
def test_a_wrong_white_level_is_told_by_how_much(level: Level, words: str) -> None:
    result = judged(measured_mono(picture(4000)), level)
    ((_, told),) = find_white_level_tag(ShootView({result.id: result}, Grouping(), Settings()))
    told = with_words(told)
    assert words in with_words(told).text


def test_an_unknown_floor_stays_unknown_with_its_reason() -> None:
    result = judged(measured_mono(picture(4000), gain=None))
    assert result.blocked_fraction is None
    assert result.channels[0].noise_floor_dn is None
    assert any("Too few flat places" in note for note in result.channels[0].notes)
    assert "noise-unknown" in codes(measured_mono(picture(4000), gain=None))


def test_hot_pixels_do_not_make_a_bright_end() -> None:
    values = picture(1000)
    hot = tuple([15_000] * 40)
    values.ravel()[:40] = 15_000
    assert bright_end_dn(plane("L", values, hot_dn=hot), 1e-4) == BLACK_DN + 1000
    assert bright_end_dn(plane("L", values), 1e-4) == 15_000


def test_the_bright_end_leaves_out_one_in_ten_thousand() -> None:
    values = picture(1000)
    values.ravel()[:5] = 15_000  # of 57,600: 0.0087 %
    assert bright_end_dn(plane("L", values), 1e-4) == BLACK_DN + 1000
    values.ravel()[:6] = 15_000
    assert bright_end_dn(plane("L", values), 1e-4) == 15_000


def test_the_noise_floor_is_the_emva_threshold() -> None:
    """EMVA 1288: SNR is 1 at 0.5 + sqrt(0.25 + (r/g)²) electrons, times g in DN."""
    result = judged(measured_mono(picture(4000), read_noise_dn=3.0, gain=2.0))
    expected_e = 0.5 + math.sqrt(0.25 + (3.0 / 2.0) ** 2)
    assert result.channels[0].noise_floor_dn == pytest.approx(2.0 * expected_e)


def test_a_tone_that_cannot_be_told_from_black_has_no_stops() -> None:
    values = picture(0)
    values[:2] += 400  # the middle lies a hair over black, by straight line within its bin
    result = judged(measured_mono(values))
    channel = result.channels[0]
    assert channel.median_stops is None
    assert channel.mean_stops is not None
    assert any("median" in note for note in channel.notes)
    lit = judged(measured_mono(picture(40))).channels[0]
    assert lit.median_stops == pytest.approx(math.log2((CLIP_DN - BLACK_DN) / 40))
    assert not any("median" in note for note in lit.notes)


@pytest.mark.parametrize(("share", "told"), [(0.39, True), (0.17, False)])
def test_a_mean_further_under_the_floor_than_four_stops_is_not_told(
    share: float, told: bool
) -> None:
    """A floor of 4.16 DN, and a mean of so many DN: 3.4 or 4.6 stops under it."""
    values = picture(0)
    values[: round(share * SIDE)] += 1
    (channel,) = judged(measured_mono(values)).channels
    assert (channel.mean_stops is not None) == told


def test_a_tone_range_that_not_every_plane_tells_is_called_a_lower_bound() -> None:
    pixels = np.random.default_rng(8).normal(BLACK_DN + 3000, 30, (SIDE, SIDE))
    pixels[:120] = np.random.default_rng(9).normal(BLACK_DN + 60, 4, (120, SIDE))
    whole = measured(mosaic_of(np.rint(pixels), RGGB))
    noise = NoiseEstimate(3.0, 0.3)
    planes = tuple(replace(each, noise=noise) for each in whole.planes)
    levels = (CLIPS,) * 4

    def told(first: PlaneMeasurement) -> FrameResult:
        mosaic = replace(whole, planes=(first, *planes[1:]))
        frame = FrameMeasurement(FileFacts(), mosaic, None, Pictures(b""))
        return judge_frame(card_file(), settled(frame, levels), SETTINGS)

    every, but_red = told(planes[0]), told(replace(planes[0], noise=NoiseEstimate(None, None)))
    assert every.tone_range_stops == pytest.approx(but_red.tone_range_stops, abs=0.3)
    assert not any("tone range" in note for note in every.notes)
    assert any("tone range" in note and "R" in note for note in but_red.notes)


def four_planes(pixels: np.ndarray, white_dn: float = 16383.0) -> FrameResult:
    """Judge a Bayer picture with a known noise in every plane."""
    mosaic = measured(mosaic_of(pixels, RGGB, white_dn=(white_dn,) * 4))
    planes = tuple(replace(each, noise=NoiseEstimate(3.0, 2.0)) for each in mosaic.planes)
    frame = FrameMeasurement(FileFacts(), replace(mosaic, planes=planes), None, Pictures(b""))
    return judge_frame(card_file(), settled(frame, (CLIPS,) * 4), SETTINGS)


def test_blocked_is_where_every_plane_is_under_its_floor() -> None:
    pixels = picture(900)
    pixels[:, :120] = int(BLACK_DN + 1)
    pixels[:40, :120:2] = int(BLACK_DN + 900)  # two planes out of four hold there
    assert four_planes(pixels).blocked_fraction == pytest.approx(5 / 12, abs=0.02)


def test_any_plane_blown_is_no_less_than_the_most_blown_plane() -> None:
    pixels = picture(4000)
    pixels[:20:2, :20:2] = CLIP_DN
    result = four_planes(pixels)
    assert result.blown_fraction is not None
    assert result.blown_fraction >= result.channels[0].blown_fraction > 0


def test_all_planes_blown_is_no_more_than_the_least_blown_plane() -> None:
    pixels = picture(4000)
    pixels[:20, :20] = CLIP_DN
    pixels[1, 1] = CLIP_DN - 50  # over the claim that the tiles were counted at, not blown
    result = four_planes(pixels, white_dn=CLIP_DN - 100)
    blue = result.channels[3].blown_fraction
    assert blue == pytest.approx(99 / 14400)
    assert result.blown_all_fraction == pytest.approx(blue, rel=1e-6)


def test_the_tone_range_is_that_of_the_plane_with_the_widest() -> None:
    pixels = picture(1000)
    pixels[::2, ::2][:60] = int(BLACK_DN + 8000)  # red alone spans three stops
    assert four_planes(pixels).tone_range_stops == pytest.approx(3.0, abs=0.01)


def test_half_of_saturation_is_halved_over_black() -> None:
    half_dn = (CLIP_DN - 6 - BLACK_DN) / 2
    for signal_dn, share in ((half_dn - 100, 0.0), (half_dn + 100, 1.0)):
        (channel,) = judged(measured_mono(picture(signal_dn))).channels
        assert channel.blown_one_stop_more == share


def test_blocked_with_other_light_is_the_tone_doubled_and_halved() -> None:
    """A floor of 2 + sqrt(4 + 36) over 2, 4.2 DN: 3 DN are over it doubled, 6 under it halved."""
    values = picture(3)
    values[80:] = int(BLACK_DN + 6)
    (channel,) = judged(measured_mono(values)).channels
    assert channel.blocked_fraction == pytest.approx(1 / 3)
    assert channel.blocked_one_stop_more == 0.0
    assert channel.blocked_one_stop_less == 1.0


def test_noise_alone_darkens_no_dark_end() -> None:
    noise = np.random.default_rng(6).normal(0, 6, (SIDE, SIDE))
    values = np.rint(BLACK_DN + 10 + noise).astype(np.uint16)
    (channel,) = judged(measured_mono(values)).channels
    floor = channel.noise_floor_dn
    assert floor is not None
    assert channel.shadow_room_stops == pytest.approx(math.log2(10 / floor), abs=0.2)


def test_a_preview_is_held_against_the_nearest_level_of_its_colour() -> None:
    lower = Level(BLACK_DN + 8000, BLACK_DN + 8000, LevelSource.SHOOT)
    mosaic = measured(mosaic_of(picture(4000), RGGB))
    clips = {"R": 2000.0, "G": 4000.0}
    shown = PreviewMeasurement(160, 120, 0.0, 0.0, clips, {}, {})
    frame = FrameMeasurement(FileFacts(), mosaic, shown, Pictures(b""))
    for greens in ((CLIPS, lower), (lower, CLIPS)):
        told = judge_frame(card_file(), settled(frame, (lower, *greens, lower)), SETTINGS).preview
        assert told is not None
        assert told.early_by_channel_stops == pytest.approx({"R": 2.0, "G": 1.0}), (
            "the lesser green"
        )
        assert told.early_stops == pytest.approx(1.0), "the channel that clips least early"


def test_how_early_a_preview_clips_is_the_figure_its_finding_goes_by() -> None:
    """Red alone tells: less what its white balance explains, a stop."""
    mosaic = measured(mosaic_of(picture(4000), RGGB))
    shown = PreviewMeasurement(160, 120, 0.0, 0.0, {"R": 2000.0}, {}, {})
    facts = FileFacts(white_balance={"R": 2.0, "G": 1.0, "B": 1.5})
    frame = FrameMeasurement(facts, mosaic, shown, Pictures(b""))
    levels = [Level(BLACK_DN + 8000, BLACK_DN + 8000, LevelSource.SHOOT)] * 4
    result = judge_frame(card_file(), settled(frame, levels), SETTINGS)
    (told,) = find_preview_early(FrameView(result, Settings()))
    assert result.preview is not None
    assert result.preview.early_stops == told.value == pytest.approx(1.0)


def test_spare_light_is_the_one_plane_nearest_to_clipping() -> None:
    pixels = picture(2000)
    pixels[1::2, ::2] = int(BLACK_DN + 3000)
    result = four_planes(pixels)
    (told,) = find_headroom_left(FrameView(result, Settings()))
    assert told.channel == "G2"
    assert told.value == pytest.approx(result.channels[2].headroom_stops)


def test_what_if_shares_come_straight_from_the_histogram() -> None:
    values = picture(4000)
    values[:24] = 9000  # above half of saturation, a tenth of the frame
    channel = judged(measured_mono(values)).channels[0]
    assert channel.blown_one_stop_more == pytest.approx(0.1)
    assert channel.blown_fraction == channel.blown_one_stop_less == 0


def test_a_histogram_over_stops_keeps_every_pixel_above_black() -> None:
    rng = np.random.default_rng(4)
    values = np.rint(BLACK_DN + np.exp2(rng.uniform(1, 13.5, 50_000))).astype(np.uint16)
    stops = stop_histogram(histogram(values), BLACK_DN, CLIP_DN - BLACK_DN, 0.125)
    assert sum(stops.counts) == pytest.approx(50_000, abs=30)
    assert stops.step == 0.125


@pytest.mark.parametrize("black_dn", [512.0, 511.7, 512.2])
def test_a_histogram_over_stops_leaves_out_what_is_at_or_under_black(black_dn: float) -> None:
    values = np.rint(np.random.default_rng(4).normal(512.0, 2.0, 50_000)).astype(np.uint16)
    stops = stop_histogram(histogram(values), black_dn, CLIP_DN - black_dn, 0.125)
    assert sum(stops.counts) == pytest.approx((values > black_dn).sum(), abs=30)


def test_quantiles_agree_with_numpy() -> None:
    values = np.random.default_rng(5).integers(600, 4000, 20_001)
    for share in (0.01, 0.5, 0.99):
        assert quantile_dn(histogram(values), share) == pytest.approx(
            np.quantile(values, share), abs=1.0
        )


def test_an_unreadable_file_keeps_its_line_and_its_reason() -> None:
    result = unreadable_frame(card_file(), FrameFailure("cut-off", "Ends too early."))
    assert (result.status, result.verdict) == ("unreadable", "unreadable")
    assert result.error is not None
    assert result.blown_fraction is None
