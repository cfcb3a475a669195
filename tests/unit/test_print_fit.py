from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.model.audit import FrameResult
from auditor.model.codes import FrameStatus, Layout, LevelSource, Verdict
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts, LensFacts
from auditor.model.measurement import (
    FrameMeasurement,
    Level,
    MosaicMeasurement,
    PlaneMeasurement,
    TileMaps,
)
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import PrintSettings
from auditor.print.fit import PAPERS, print_fit, rendered_tones
from auditor.words.optics import print_notes
from tests.judge_maker import measured_mono, plane, settled

FULL_DN = 16383.0 - 512.0
ROWS, COLS, TILE_PX = 10, 20, 4
LEVELS = tuple(Level(16383.0, 16383.0, LevelSource.METADATA) for _ in range(4))
GLOSS = PrintSettings(paper_dmax=2.0, paper_dmin=0.0)
"""6.64 stops."""


def picture(
    stops: np.ndarray, *, balance: dict[str, float] | None = None, orientation: int = 1
) -> FrameMeasurement:
    """A Bayer frame whose tiles lie so many stops below saturation, alike in every plane."""
    base = measured_mono(np.full((240, 240), 512.0))
    planes = tuple(plane(name, np.full((4, 4), 600.0)) for name in ("R", "G1", "G2", "B"))
    mean_dn = np.broadcast_to(FULL_DN * 2.0**-stops, (4, ROWS, COLS)).astype(np.float32)
    maps = replace_maps(base.mosaic.maps, mean_dn)
    mosaic = replace_mosaic(base.mosaic, planes, maps)
    facts = FileFacts(white_balance=balance or {}, orientation=orientation)
    return FrameMeasurement(facts, mosaic, None, base.pictures)


def replace_maps(maps: TileMaps, mean_dn: np.ndarray) -> TileMaps:
    return replace(maps, mean_dn=mean_dn, tile_px=TILE_PX)


def replace_mosaic(
    mosaic: MosaicMeasurement, planes: tuple[PlaneMeasurement, ...], maps: TileMaps
) -> MosaicMeasurement:
    return replace(
        mosaic, layout=Layout.BAYER, planes=planes, maps=maps, width=COLS * TILE_PX,
        height=ROWS * TILE_PX,
    )  # fmt: skip


def result(*, spare: float = 0.0, tones: float | None = 8.0, orientation: int = 1) -> FrameResult:
    return FrameResult(
        id="S.dng", input=0, file="S.dng", status=FrameStatus.MEASURED, error=None,
        camera=CameraFacts(),
        lens=LensFacts(), orientation=orientation, captured_at=None, exposure=ExposureFacts(),
        headroom_stops=spare, tone_range_stops=tones, blown_all_fraction=0.0, verdict=Verdict.HELD,
    )  # fmt: skip


def halves(left: float, right: float) -> np.ndarray:
    return np.where(np.arange(COLS) < COLS // 4, left, right) * np.ones((ROWS, 1))


def test_tones_past_the_papers_range_merge_into_black() -> None:
    fit = print_fit(result(), settled(picture(halves(7.0, 3.0)), LEVELS), GLOSS)
    assert fit.paper_range_stops == pytest.approx(6.644, abs=1e-3)
    assert fit.merged_black_fraction == pytest.approx(0.25)
    assert fit.neutral_merged_black_fraction == pytest.approx(0.25)
    assert fit.merged_white_fraction == 0.0
    assert fit.unfit_stops == pytest.approx(8.0 - 6.644, abs=1e-3)


@pytest.mark.parametrize(
    ("aspect", "orientation", "wide", "high"),
    [(1.5, 1, 120, 40), (0.5, 1, 80, 80), (1.5, 6, 40, 120), (1.0, 6, 40, 80)],
)
def test_long_pixels_are_printed_in_their_true_shape(
    aspect: float, orientation: int, wide: int, high: int
) -> None:
    """Of 80 by 40 pixels the shorter side of each is lengthened; 254 pixels an inch."""
    shown = replace(
        result(orientation=orientation), remarks=(remark(RemarkCode.ODD_ASPECT, aspect=aspect),)
    )
    frame = settled(picture(halves(7.0, 3.0), orientation=orientation), LEVELS)
    fit = print_fit(shown, frame, replace(GLOSS, sizes_ppi=(254.0,)))
    assert fit.sizes_cm["254"] == pytest.approx((wide / 100, high / 100))


def test_a_matte_paper_merges_more_than_a_gloss_one() -> None:
    ramp = np.linspace(0.5, 9.5, COLS) * np.ones((ROWS, 1))
    shares = [
        print_fit(
            result(), settled(picture(ramp), LEVELS), PAPERS[name].settings()
        ).merged_black_fraction
        for name in ("matte", "gloss", "best gloss")
    ]
    assert shares[0] > shares[1] > shares[2] > 0


def test_spare_light_is_used_before_anything_merges() -> None:
    dark = picture(halves(7.0, 3.0))
    assert print_fit(result(spare=1.0), settled(dark, LEVELS), GLOSS).merged_black_fraction == 0.0


def test_blown_tones_are_paper_white() -> None:
    fit = print_fit(result(), settled(picture(halves(0.0, 3.0)), LEVELS), GLOSS)
    assert fit.merged_white_fraction == pytest.approx(0.25)
    pixels = replace(result(), blown_all_fraction=0.3)
    told = print_fit(pixels, settled(picture(halves(2.0, 3.0)), LEVELS), GLOSS)
    assert told.merged_white_fraction == pytest.approx(0.3)


def test_a_neutral_print_weighs_the_channels() -> None:
    frame = picture(halves(3.0, 3.0))
    frame.mosaic.maps.mean_dn.setflags(write=True)
    frame.mosaic.maps.mean_dn[1:3] = FULL_DN * 2.0**-9
    frame.mosaic.maps.mean_dn[3] = FULL_DN * 2.0**-9
    tones = rendered_tones(settled(frame, LEVELS), 0.0)
    expected = 0.2126 * 2.0**-3 + (0.7152 + 0.0722) * 2.0**-9
    assert tones.luminance[0, 0] == pytest.approx(expected, rel=1e-5)
    fit = print_fit(result(), settled(frame, LEVELS), PrintSettings(paper_dmax=1.5, paper_dmin=0.0))
    assert fit.merged_black_fraction == 0.0
    assert fit.neutral_merged_black_fraction == 1.0


def test_white_balance_lifts_a_channel_out_of_black() -> None:
    flat = halves(7.5, 7.5)
    cold = print_fit(result(), settled(picture(flat), LEVELS), GLOSS)
    warm = print_fit(result(), settled(picture(flat, balance={"R": 2.0}), LEVELS), GLOSS)
    assert (cold.merged_black_fraction, warm.merged_black_fraction) == (1.0, 0.0)


def test_a_turned_frame_prints_upright() -> None:
    turned = picture(halves(3.0, 3.0), orientation=6)
    fit = print_fit(result(orientation=6), settled(turned, LEVELS), GLOSS)
    assert set(fit.sizes_cm) == set(fit.viewing_cm) == {"360", "300", "240"}
    width, height = fit.sizes_cm["300"]
    assert (width, height) == pytest.approx((40 / 300 * 2.54, 80 / 300 * 2.54))
    assert fit.viewing_cm["240"] > fit.viewing_cm["360"]


def test_an_unknown_tone_range_is_unknown_not_zero() -> None:
    fit = print_fit(result(tones=None), settled(picture(halves(3.0, 3.0)), LEVELS), GLOSS)
    assert fit.unfit_stops is None
    assert any("is not known" in note for note in print_notes(result(tones=None)))


def test_a_rendering_says_by_how_much_it_was_raised_and_nothing_else_twice() -> None:
    raised, plain = (print_notes(result(spare=spare)) for spare in (1.0, 0.0))
    assert ["raised by 1.0 stop to paper white" in note for note in raised] == [True]
    assert ["brightest channel as recorded." in note for note in plain] == [True]


def test_a_monochrome_sensor_is_its_own_luminance() -> None:
    values = np.full((240, 240), 512.0 + FULL_DN / 8)
    fit = print_fit(result(), settled(measured_mono(values), LEVELS[:1]), GLOSS)
    assert fit.merged_black_fraction == fit.neutral_merged_black_fraction == 0.0
    assert rendered_tones(settled(measured_mono(values), LEVELS[:1]), 0.0).luminance[0, 0] == (
        pytest.approx(1 / 8, rel=1e-3)
    )


def test_a_tile_that_is_cut_at_the_edge_counts_by_its_area() -> None:
    frame = picture(halves(7.0, 3.0))
    wider = replace(frame.mosaic, width=COLS * TILE_PX - 3)
    tones = rendered_tones(settled(replace(frame, mosaic=wider), LEVELS), 0.0)
    assert tones.area.sum() == pytest.approx(1.0)
    assert tones.area[0, -1] == pytest.approx(tones.area[0, 0] / 4)
    lower = replace(frame.mosaic, height=ROWS * TILE_PX - 3)
    tones = rendered_tones(settled(replace(frame, mosaic=lower), LEVELS), 0.0)
    assert tones.area.sum() == pytest.approx(1.0)
    assert tones.area[-1, 0] == pytest.approx(tones.area[0, 0] / 4)
