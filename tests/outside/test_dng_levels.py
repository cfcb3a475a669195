"""White, linearity, noise and balance tags as the DNG specification 1.7 defines them.

Tags LinearizationTable (50712), WhiteLevel (50717), AsShotNeutral (50728), LinearResponseLimit
(50734), CFAPlaneColor (50710) and NoiseProfile (51041).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from auditor.read.dng.tags import read_dng
from tests.built_dng import (
    ASCII,
    BLACK,
    BYTE,
    DOUBLE,
    LIMIT,
    LONG,
    NEUTRAL,
    NOISE,
    RATIONAL,
    RGGB,
    SHORT,
    SRATIONAL,
    TABLE,
    WHITE,
    Tag,
    common_tags,
    extra,
    flat,
    mosaic_of,
    opened,
    write_dng,
)
from tests.told import said

NOISE_R, NOISE_G, NOISE_B = (1e-4, 1e-8), (2e-4, 2e-8), (3e-4, 3e-8)


@pytest.mark.parametrize(("kind", "expected"), [(np.uint8, 255.0), (np.uint16, 65535.0)])
def test_white_defaults_to_all_bits_set(
    tmp_path: Path, kind: type[np.unsignedinteger], expected: float
) -> None:
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", flat(dn=100).astype(kind)))
    assert mosaic.white_dn == (expected,) * 4


def test_white_is_told_with_black_still_on_it(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (BLACK, SHORT, 512), (WHITE, LONG, 16383))
    assert mosaic_of(path).white_dn == (16383.0,) * 4


def test_linear_data_have_a_white_level_a_sample(tmp_path: Path) -> None:
    # the decoder gives the first for all
    stored = np.stack([flat(), flat(), flat()], axis=2)
    path = write_dng(tmp_path / "a.dng", stored, (WHITE, LONG, (16383, 16000, 15000)), pattern=None)
    assert mosaic_of(path).white_dn == (16383.0, 16000.0, 15000.0)


def test_three_levels_of_a_colour_pattern_go_by_colour(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (WHITE, LONG, (16383, 16000, 15000)))
    assert mosaic_of(path).white_dn == (16383.0, 16000.0, 16000.0, 15000.0)


def test_data_far_above_the_white_level_are_told(tmp_path: Path) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat(dn=3000), (WHITE, LONG, 1023)))
    assert "far above the white level" in said(frame.remarks)


def test_data_a_little_above_the_white_level_change_nothing(tmp_path: Path) -> None:
    stored = flat()
    stored[:] = 16628
    frame = opened(write_dng(tmp_path / "a.dng", stored, (WHITE, LONG, 16383)))
    assert frame.mosaic.white_dn == (16383.0,) * 4
    assert frame.mosaic.pixels.max() == 16628


def test_linearity_ends_at_a_fraction_of_the_range_above_black(tmp_path: Path) -> None:
    # 512 + 0.95 (16383 - 512) = 15589.45; the decoder rounds down to 15589
    tags = (BLACK, SHORT, 512), (WHITE, LONG, 16383), (LIMIT, RATIONAL, 0.95)
    limits = mosaic_of(write_dng(tmp_path / "a.dng", flat(), *tags)).linear_limit_dn
    assert limits == pytest.approx((15589.45,) * 4)


def test_a_limit_of_one_is_no_limit(tmp_path: Path) -> None:
    assert (
        mosaic_of(write_dng(tmp_path / "a.dng", flat(), (LIMIT, RATIONAL, 1))).linear_limit_dn
        is None
    )


def test_the_linearisation_table_comes_before_all_levels(tmp_path: Path) -> None:
    # stored 128 through i² / 256 is 64; what lies beyond the table takes its last entry
    table = [i * i // 256 for i in range(256)]
    stored = np.full((48, 64), 128, dtype=np.uint16)
    stored[0, 0] = 300
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", stored, (TABLE, SHORT, table)))
    assert int(mosaic.pixels[1, 1]) == 64
    assert int(mosaic.pixels[0, 0]) == table[-1]


def test_noise_goes_by_colour(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (NOISE, DOUBLE, NOISE_R + NOISE_G + NOISE_B))
    frame = opened(path)
    profile = frame.mosaic.noise_profile
    assert frame.facts.noise_profile == profile
    assert profile == {"R": NOISE_R, "G1": NOISE_G, "G2": NOISE_G, "B": NOISE_B}


def test_one_pair_of_noise_serves_all_planes(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (NOISE, DOUBLE, NOISE_R))
    assert mosaic_of(path).noise_profile == dict.fromkeys(("R", "G1", "G2", "B"), NOISE_R)


def test_noise_follows_the_order_of_the_colours(tmp_path: Path) -> None:
    reversed_colours = 50710, BYTE, bytes((2, 1, 0))
    path = write_dng(
        tmp_path / "a.dng", flat(), reversed_colours, (NOISE, DOUBLE, NOISE_B + NOISE_G + NOISE_R)
    )
    profile = mosaic_of(path).noise_profile
    assert (profile["R"], profile["B"]) == (NOISE_R, NOISE_B)


def test_the_main_picture_comes_first_and_takes_the_noise_of_the_first_directory(
    tmp_path: Path,
) -> None:
    # TIFF 6.0, NewSubfileType: bit 0 is a reduced picture. Older DNG files hold one NoiseProfile,
    # in their first directory (from memory).
    path = tmp_path / "a.dng"
    tags = [extra(*tag) for tag in common_tags(RGGB)]
    with tifffile.TiffWriter(path) as writer:
        for side, kind, more in ((64, 1, [extra(NOISE, DOUBLE, NOISE_R)]), (32, 0, [])):
            writer.write(
                flat(side, side), photometric="CFA", subfiletype=kind,
                extratags=[*tags, *more], metadata=None,
            )  # fmt: skip
    assert [(found.height, found.noise_profile) for found in read_dng(path.read_bytes())] == [
        (32, (NOISE_R,)),
        (64, (NOISE_R,)),
    ]


@pytest.mark.parametrize("values", [(1e-4,), (float("nan"), 1e-8), (-1.0, 1e-8)])
def test_noise_that_cannot_be_is_absent(tmp_path: Path, values: tuple[float, ...]) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (NOISE, DOUBLE, values))
    assert mosaic_of(path).noise_profile == {}


def test_white_balance_is_one_over_the_neutral(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (NEUTRAL, RATIONAL, (0.5, 1.0, 0.625)))
    frame = opened(path)
    balance = frame.facts.white_balance
    assert balance == pytest.approx({"R": 2.0, "G": 1.0, "B": 1.6}, rel=1e-5)


def test_baseline_exposure_is_read_and_not_applied(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (50730, SRATIONAL, 0.35))
    assert read_dng(path.read_bytes())[0].baseline_exposure_stops == pytest.approx(0.35)
    frame = opened(path)
    assert frame.facts.exposure.baseline_exposure_stops == pytest.approx(0.35)
    assert frame.mosaic.pixels[0, 0] == 1000


@pytest.mark.parametrize(
    "tag",
    [
        None,
        (50730, SRATIONAL, 40.0),
        (50730, SRATIONAL, -2147.0),
        (50730, DOUBLE, float("nan")),
        (50730, DOUBLE, float("-inf")),
        (50730, ASCII, "bright"),
    ],
)
def test_a_baseline_exposure_that_is_none_or_absurd_is_not_told(
    tmp_path: Path, tag: Tag | None
) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), *([] if tag is None else [tag]))
    assert opened(path).facts.exposure.baseline_exposure_stops is None


def test_a_baseline_exposure_over_nothing_is_not_told(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (50730, SRATIONAL, 0.35))
    with tifffile.TiffFile(path, mode="r+") as file:
        file.pages.first.tags[50730].overwrite((7, 0))
    assert opened(path).facts.exposure.baseline_exposure_stops is None


@pytest.mark.parametrize(("white", "bits"), [(1023, 10), (4095, 12), (16383, 14), (15000, 14)])
def test_bits_are_those_that_the_white_level_needs(tmp_path: Path, white: int, bits: int) -> None:
    assert (
        mosaic_of(write_dng(tmp_path / "a.dng", flat(dn=900), (WHITE, LONG, white))).bit_depth
        == bits
    )
