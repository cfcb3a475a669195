"""Noise that does not grow as light's does, codes that miss at black, borders that glow."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.black.border import BorderLevel
from auditor.measures import mosaic
from auditor.model.remark import RemarkCode
from auditor.noise.level_bins import LevelBins
from auditor.noise.photon_transfer import TransferFit, fit_transfer
from auditor.noise.straight import _Freed, _sure, straight
from auditor.sensor.code_gaps import widest_gap_dn
from tests.built_effects import (
    Effect,
    bent,
    codes_missing,
    glowing,
    read_twice,
    remade,
    smoothed,
    swelling,
    two_lines,
)
from tests.built_mosaics import (
    exposed,
    histogram_of,
    measured,
    noises_of,
    told_alone,
    true_or_null,
)

NO_BORDER = {"margin_top": 0, "margin_left": 0}
DARK = ("coast", "wedge")
"""Scenes that reach down to the dark; the other is a bright sky alone."""
SCENES = (*DARK, "glow")

EFFECTS: dict[str, tuple[Effect, tuple[str, ...]]] = {
    "rises by a tenth, evenly": (bent(-0.1, 1.0), SCENES),
    "rises by a tenth, late": (bent(-0.1, 2.0), DARK),
    "rises by a tenth, at the top": (bent(-0.1, 3.0), DARK),
    "other noise above 1000 DN": (read_twice(1000.0, 16.0), DARK),
    "other noise above 4000 DN": (read_twice(4000.0, 16.0), DARK),
    "far other noise above 4000 DN": (read_twice(4000.0, 40.0), SCENES),
    "three codes miss at black": (codes_missing(2), SCENES),
    "five codes miss at black": (codes_missing(3), SCENES),
    "smoothed by 0.36 px": (smoothed(0.36), SCENES),
    "smoothed by 0.38 px": (smoothed(0.38), SCENES),
    "smoothed by 0.42 px": (smoothed(0.42), SCENES),
    "a corner glows, 400 DN": (glowing(400.0, 50.0), SCENES),
}


@pytest.mark.parametrize("seed", [3, 21])
@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize(("effect", "scenes"), EFFECTS.values(), ids=EFFECTS)
def test_gain_and_read_noise_are_right_or_null(
    effect: Effect, scenes: tuple[str, ...], border: dict[str, Any], iso: float, seed: int
) -> None:
    for scene in scenes:
        frame = exposed("RGGB", iso, 1200, 800, scene, shot=seed, **border)
        true_or_null(frame, noises_of(measured(remade(frame, effect))))


BENT: dict[str, tuple[Effect, str, float, dict[str, Any]]] = {
    "rises by a tenth, late, in a bright sky": (bent(-0.1, 2.0), "glow", 100.0, {}),
    "other noise above 1000 DN in a bright sky": (read_twice(1000.0, 16.0), "glow", 100.0, {}),
    "other noise above 4000 DN in a bright sky": (read_twice(4000.0, 16.0), "glow", 100.0, {}),
    "all beyond a bend": (two_lines(2000.0, 0.65), "glow", 100.0, {}),
    "all beyond a slight bend": (two_lines(2000.0, 0.8), "glow", 1600.0, {}),
    "a bend within darker tones": (two_lines(2000.0, 0.65), "coast", 1600.0, {}),
    "the same without a border": (two_lines(2000.0, 0.65), "coast", 1600.0, NO_BORDER),
    "a slight bend without a border": (two_lines(2000.0, 0.8), "wedge", 100.0, NO_BORDER),
    "the same at ISO 1600": (two_lines(2000.0, 0.8), "wedge", 1600.0, NO_BORDER),
    "waves over 700 rows": (swelling(0.15, 700), "coast", 1600.0, {}),
    "the same waves without a border": (swelling(0.15, 700), "coast", 1600.0, NO_BORDER),
}


@pytest.mark.parametrize(("effect", "scene", "iso", "border"), BENT.values(), ids=BENT)
def test_a_frame_alone_tells_no_gain_of_a_bent_response(
    effect: Effect, scene: str, iso: float, border: dict[str, Any]
) -> None:
    frame = exposed("RGGB", iso, 1200, 800, scene, shot=3, **border)
    found = told_alone(measured(remade(frame, effect)))
    true_or_null(frame, found)
    assert not any(noise.gain_dn_per_e for noise in found)


def test_a_bright_sky_is_said_to_be_alone() -> None:
    frame = exposed("RGGB", 100.0, 1200, 800, "glow")
    for measured_alone, told in zip(
        noises_of(measured(frame.mosaic)), told_alone(measured(frame.mosaic)), strict=True
    ):
        assert measured_alone.gain_dn_per_e is not None
        assert told.gain_dn_per_e is None
        assert told.read_noise_dn == measured_alone.read_noise_dn
        assert RemarkCode.BRIGHT_ALONE in [own.code for own in told.remarks]


@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize("scene", SCENES)
def test_a_sky_whose_top_bends_over_tells_no_wrong_gain(scene: str, iso: float) -> None:
    """From 0.8 of the range on."""
    frame = exposed("RGGB", iso, 1200, 800, scene, knee=0.2)
    true_or_null(frame, noises_of(measured(frame.mosaic)))


@pytest.mark.parametrize("shot", [3, 5])
@pytest.mark.parametrize("iso", [100.0, 1600.0])
@pytest.mark.parametrize("scene", SCENES)
def test_plain_frames_keep_their_gain(scene: str, iso: float, shot: int) -> None:
    for noise in noises_of(measured(exposed("RGGB", iso, 1200, 800, scene, shot=shot).mosaic)):
        assert noise.gain_dn_per_e is not None
        assert noise.read_noise_dn is not None


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
def test_pixels_joined_two_by_two_have_their_own_gain(border: dict[str, Any]) -> None:
    """Averaged, they have a quarter of the gain and half of the read noise; added, four times."""
    frame = exposed("MONO", 100.0, 1200, 800, "coast", **border)
    (truth,) = frame.truth.planes
    joined = frame.mosaic.pixels.astype(np.float64).reshape(400, 2, 600, 2).sum(axis=(1, 3))
    for share in (0.25, 1.0):
        values = np.rint(512.0 + (joined - 4.0 * 512.0) * share)
        made = replace(
            frame.mosaic, pixels=values.clip(0, 65535).astype(np.uint16), masked=(), bit_depth=16
        )
        (found,) = noises_of(measured(made))
        assert found.gain_dn_per_e == pytest.approx(truth.gain_dn_per_e * share, rel=0.15)
        assert found.read_noise_dn is None or found.read_noise_dn == pytest.approx(
            2.0 * share * truth.read_noise_dn, rel=0.15
        )


@pytest.mark.parametrize(
    ("errors", "moves", "told"),
    [(4.5, 0.2, True), (3.5, 0.2, False), (-9.0, 0.06, True), (9.0, -0.04, False)],
)
def test_a_term_more_is_sure_and_moves_the_gain(errors: float, moves: float, told: bool) -> None:
    assert _sure([_Freed(errors, moves)]) == told


def levels(power: float) -> tuple[LevelBins, TransferFit, BorderLevel | None]:
    """Calm places of many levels, without chance, whose noise grows by a power of the signal."""
    group = np.repeat(np.arange(40), 60)
    signal, none = np.linspace(5.0, 4000.0, 40)[group], np.zeros(40 * 60)
    noise = 9.0 + 0.3 * signal + 600.0 * (signal / 4000.0) ** power
    bins = LevelBins(
        signal, noise, 0.05 * noise, noise, none, none, group, none + 0.05, np.full(40, 60), 60.0
    )
    fit = fit_transfer(bins, None)
    assert fit is not None
    return bins, fit, None


@pytest.mark.parametrize(("power", "told"), [(2.0, True), (5.0, False)])
def test_unevenness_is_straight_and_a_steeper_rise_is_not(power: float, told: bool) -> None:
    assert straight([levels(power)], (2e-5, 4e-5)) == told
    assert straight([], (2e-5, 4e-5))


@pytest.mark.parametrize(("share", "told"), [(0.96, False), (0.98, True)])
def test_a_border_is_doubted_sooner_where_the_picture_was_smoothed(
    share: float, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    border = BorderLevel(0.0, 0.01, 1.2, 10**5, share)
    monkeypatch.setattr(mosaic, "border_levels", lambda _: dict.fromkeys(range(4), border))
    frame = exposed("RGGB", 100.0, 450, 300)
    for effect, kept in ((smoothed(0.5), told), (smoothed(0.0), True)):
        found = noises_of(measured(remade(frame, effect)))
        assert [noise.read_noise_dn is not None for noise in found] == [kept] * 4


def test_it_is_said_why() -> None:
    frame = exposed("RGGB", 100.0, 1200, 800, "wedge")
    found = noises_of(measured(remade(frame, read_twice(1000.0, 16.0))))
    assert all(RemarkCode.NOT_STRAIGHT in [told.code for told in one.remarks] for one in found)


def test_the_widest_gap_is_no_accident() -> None:
    dn = np.arange(480, 545)
    whole = histogram_of(np.repeat(dn, 100))
    missing = histogram_of(np.repeat(dn[(dn < 510) | (dn > 513)], 100))
    assert widest_gap_dn(whole, 500.0, 520.0) == 1.0
    assert widest_gap_dn(missing, 500.0, 520.0) == 5.0
    assert widest_gap_dn(missing, 520.0, 530.0) == 1.0
