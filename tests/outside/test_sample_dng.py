"""The invented DNG files as other readers see them: LibRaw (rawpy), exifread and tifffile.

Meanings of the tags are those of the DNG specification 1.4 and Exif 2.31.
"""

from __future__ import annotations

import hashlib
import io
import math
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Any

import exifread
import numpy as np
import pytest
import rawpy
import tifffile
from PIL import Image

from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.digest import new_raw_image_digest, raw_image_digest
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.facts import FrameFacts, nominal_f_number, nominal_time, true_time_s
from sample_generation.filters import NeutralFilter
from sample_generation.layouts import LAYOUT_NAMES
from sample_generation.preview import PreviewStyle
from sample_generation.real_scenes import real_radiance
from sample_generation.truth_of_exposure import plane_values
from tests.built_dng import page_below

DATA = Path(__file__).parent.parent / "data"
WIDTH, HEIGHT = 636, 426
MOMENT = datetime(2024, 10, 3, 19, 4, 9, 370_000, tzinfo=timezone(timedelta(hours=2)))
FACTS = FrameFacts(
    time_s=1 / 64,
    f_number=2.0**3.5,
    iso=100.0,
    captured_at=MOMENT,
    focal_mm=35.0,
    orientation=8,
    position=(54.2, -3.6),
)
ALL = DngOptions(digests=True, noise_profile=True)
Tags = dict[str, Any]


def exposed(layout: str = "RGGB", top: int = 12, left: int = 24, **body: Any) -> Exposure:
    """A ramp from black to a stop over saturation."""
    taken = SimulatedCamera(
        layout=layout, width=WIDTH, height=HEIGHT, margin_top=top, margin_left=left, **body
    )
    ramp = np.geomspace(20.0, 1.0e5, WIDTH, dtype=np.float32) * 8192.0
    light = np.broadcast_to(ramp[None, :, None], (HEIGHT, WIDTH, 3))
    return taken.expose(light * np.array([0.5, 1.0, 0.67], np.float32), 1 / 64, 2.0**3.5)


@cache
def usual() -> tuple[Exposure, bytes]:
    taken = exposed()
    return taken, dng_bytes(taken, FACTS, options=ALL)


def decoded(content: bytes, path: Path) -> rawpy.RawPy:
    path.write_bytes(content)
    return rawpy.imread(str(path))


def tags_of(content: bytes) -> tuple[Tags, Tags]:
    """Tags of the first directory and of the raw picture's, by tifffile."""
    with tifffile.TiffFile(io.BytesIO(content)) as file:
        first = file.pages.first
        return named(first), named(page_below(first) if first.pages else first)


def named(page: tifffile.TiffPage) -> Tags:
    return {tag.name: tag.value for tag in page.tags}


@pytest.mark.parametrize("compressed", [True, False])
@pytest.mark.parametrize("layout", LAYOUT_NAMES)
@pytest.mark.parametrize(("top", "left"), [(12, 24), (5, 7), (0, 0)])
def test_every_reader_gets_every_pixel(
    layout: str, compressed: bool, top: int, left: int, tmp_path: Path
) -> None:
    taken = exposed(layout, top, left)
    content = dng_bytes(taken, FACTS, options=DngOptions(compressed=compressed))
    with decoded(content, tmp_path / "frame.dng") as raw:
        pixels = raw.raw_image[..., :3] if layout == "LINEAR" else raw.raw_image
        assert np.array_equal(pixels, taken.stored)
    with tifffile.TiffFile(io.BytesIO(content)) as file:
        assert np.array_equal(page_below(file.pages.first).asarray(), taken.stored)


def test_without_a_preview_the_raw_picture_comes_first(tmp_path: Path) -> None:
    taken = exposed()
    content = dng_bytes(taken, FACTS, options=DngOptions(preview=False))
    with decoded(content, tmp_path / "frame.dng") as raw:
        assert np.array_equal(raw.raw_image, taken.stored)
        with pytest.raises(rawpy.LibRawNoThumbnailError):
            raw.extract_thumb()


@pytest.mark.parametrize("layout", ["RGGB", "GRBG", "GBRG", "BGGR"])
def test_libraw_sees_the_same_colours_and_margins(layout: str, tmp_path: Path) -> None:
    taken = exposed(layout)
    with decoded(dng_bytes(taken, FACTS), tmp_path / "frame.dng") as raw:
        sizes = raw.sizes
        assert (sizes.top_margin, sizes.left_margin) == (12, 24)
        assert (sizes.height, sizes.width) == (HEIGHT, WIDTH)
        # LibRaw numbers the second green 3; the planes here are R, G1, G2, B
        libraw_index = {"R": (0,), "G1": (1, 3), "G2": (1, 3), "B": (2,)}
        for y in range(2):
            for x in range(2):
                name = taken.mosaic.plane_names[taken.mosaic.pattern[y, x]]
                assert raw.raw_color(12 + y, 24 + x) in libraw_index[name]
        assert raw.camera_whitebalance[:3] == pytest.approx([2.0, 1.0, 1.5])
        assert raw.white_level == 16383


def test_libraw_sees_xtrans_at_every_place(tmp_path: Path) -> None:
    taken = exposed("XTRANS")
    with decoded(dng_bytes(taken, FACTS), tmp_path / "frame.dng") as raw:
        seen = [[raw.raw_color(12 + y, 24 + x) for x in range(6)] for y in range(6)]
    assert seen == taken.mosaic.pattern.tolist()


def test_libraw_takes_black_from_the_masked_border(tmp_path: Path) -> None:
    # LibRaw 0.22.2 overrides BlackLevel by the mean of MaskedAreas: seen by running it.
    taken = exposed(black_tag_error_dn=40.0)
    with decoded(dng_bytes(taken, FACTS), tmp_path / "frame.dng") as raw:
        blacks = sorted(raw.black_level_per_channel)
    claimed = np.sort(taken.mosaic.black.pattern_dn.ravel())
    assert blacks == pytest.approx(claimed - 40.0, abs=1.0)


def test_exif_is_whole() -> None:
    tags = exifread.process_file(io.BytesIO(usual()[1]), details=False)

    def text(name: str) -> str:
        return str(tags[name])

    assert text("Image Make") == "Brackwell"
    assert text("Image Model") == "Brackwell F45"
    assert text("EXIF BodySerialNumber") == "4510027"
    assert text("EXIF LensModel") == "Brackwell 24-70 mm f/4"
    assert text("EXIF ExposureTime") == "1/60"
    assert 2.0 ** -float(tags["EXIF ShutterSpeedValue"].values[0]) == pytest.approx(1 / 64)
    assert float(tags["EXIF FNumber"].values[0]) == 11.0
    assert float(tags["EXIF ApertureValue"].values[0]) == pytest.approx(7.0)
    assert tags["EXIF ISOSpeedRatings"].values == [100]
    assert text("EXIF DateTimeOriginal") == "2024:10:03 19:04:09"
    assert text("EXIF SubSecTimeOriginal") == "37"
    assert text("EXIF OffsetTimeOriginal") == "+02:00"
    assert tags["EXIF FocalLength"].values[0] == 35
    assert tags["EXIF FocalLengthIn35mmFilm"].values == [35]
    assert text("EXIF ExposureProgram") == "Manual"
    assert text("EXIF MeteringMode") == "Pattern"
    assert "did not fire" in text("EXIF Flash")
    assert tags["Image Orientation"].values == [8]


def test_position_is_in_degrees_minutes_and_seconds() -> None:
    tags = exifread.process_file(io.BytesIO(usual()[1]), details=False)
    assert (str(tags["GPS GPSLatitudeRef"]), str(tags["GPS GPSLongitudeRef"])) == ("N", "W")
    for name, expected in (("GPSLatitude", 54.2), ("GPSLongitude", 3.6)):
        degrees, minutes, seconds = (float(v) for v in tags[f"GPS {name}"].values)
        assert degrees + minutes / 60 + seconds / 3600 == pytest.approx(expected, abs=1e-5)


def test_dng_tags_say_what_is_true_or_claimed() -> None:
    taken, content = usual()
    first, raw = tags_of(content)
    rows, cols = taken.stored.shape
    assert tuple(first["DNGVersion"]) == (1, 4, 0, 0)
    assert first["NewSubfileType"] == 1
    assert raw["NewSubfileType"] == 0
    assert tuple(raw["ActiveArea"]) == (12, 24, rows, cols)
    assert tuple(raw["MaskedAreas"]) == (0, 0, 12, cols, 12, 0, rows, 24)
    assert list(raw["BlackLevel"]) == taken.mosaic.black.pattern_dn.ravel().tolist()
    assert raw["WhiteLevel"] == 16383
    assert taken.truth.planes[0].saturation_dn < 16383 - 400
    assert bytes(raw["CFAPattern"]) == bytes((0, 1, 1, 2))
    neutral = first["AsShotNeutral"]
    assert [neutral[0] / neutral[1], neutral[4] / neutral[5]] == pytest.approx([0.5, 2 / 3])


def test_noise_profile_is_the_true_noise() -> None:
    # sigma² = S x + O with x from black to white: S = g / (W - B), O = (r / (W - B))²
    taken, content = usual()
    slope, offset = tags_of(content)[1]["NoiseProfile"][:2]
    span = 16383 - 512
    truth = taken.truth.planes[0]
    assert slope * span == pytest.approx(truth.gain_dn_per_e)
    assert math.sqrt(offset) * span == pytest.approx(truth.read_noise_dn)


def test_raw_image_digest_is_as_specified() -> None:
    # "All pixels in the image are processed in row-scan order. Each pixel is zero padded to
    # 16 or 32 bits deep ... in little-endian byte order" (DNG specification, RawImageDigest)
    taken, content = usual()
    expected = hashlib.md5()
    for row in taken.stored:
        for pixel in row.tolist():
            expected.update(pixel.to_bytes(2, "little"))
    assert bytes(tags_of(content)[0]["RawImageDigest"]) == expected.digest()
    assert raw_image_digest(taken.stored) == expected.digest()


def test_new_raw_image_digest_is_of_tiles() -> None:
    taken, content = usual()
    assert bytes(tags_of(content)[0]["NewRawImageDigest"]) == new_raw_image_digest(taken.stored)
    small = taken.stored[:200, :300]
    tiles = (small[:, :256], small[:, 256:])
    inner = b"".join(hashlib.md5(tile.astype("<u2").tobytes()).digest() for tile in tiles)
    assert new_raw_image_digest(small) == hashlib.md5(inner).digest()


def test_the_preview_is_found_and_clips_when_it_says(tmp_path: Path) -> None:
    taken = exposed()
    style = PreviewStyle(early_stops=1.0, quality=97)
    with decoded(dng_bytes(taken, FACTS, style=style), tmp_path / "frame.dng") as raw:
        thumb = raw.extract_thumb()
    assert thumb.format == rawpy.ThumbFormat.JPEG
    assert isinstance(thumb.data, bytes)
    picture = np.asarray(Image.open(io.BytesIO(thumb.data))).mean(axis=0)
    said = style.early_stops_by_channel()
    for channel, (name, plane) in enumerate((("R", 0), ("G", 1), ("B", 3))):
        first_white = int(np.argmax(picture[:, channel] >= 254.0))
        truth = taken.truth.planes[plane]
        values = plane_values(taken.mosaic.pixels, taken.sensor, plane)[0].mean(axis=0)
        signal = values[first_white] - truth.black_dn
        early = math.log2(truth.saturation_signal_dn / signal)
        assert early == pytest.approx(said[name], abs=0.08), name


NOMINAL = """30=32 25=25.398 20=20.159 15=16 13=12.699 10=10.079 8=8 6=6.3496 5=5.0397 4=4
3.2=3.1748 2.5=2.5198 2=2 1.6=1.5874 1.3=1.2599 1=1 .8=.79370 .6=.62996 .5=.5 .4=.39685 .3=.31498
1/4=.25 1/5=1/5.0397 1/6=1/6.3496 1/8=1/8 1/10=1/10.079 1/13=1/12.699 1/15=1/16 1/20=1/20.159
1/25=1/25.398 1/30=1/32 1/40=1/40.317 1/50=1/50.797 1/60=1/64 1/80=1/80.635 1/100=1/101.59
1/125=1/128 1/160=1/161.27 1/200=1/203.19 1/250=1/256 1/320=1/322.54 1/400=1/406.37 1/500=1/512
1/640=1/645.08 1/800=1/812.75 1/1000=1/1024 1/2000=1/2048 1/4000=1/4096 1/8000=1/8192"""
"""Marked against true shutter times: t = 2^(5 - i/3) s (the idea: scantips.com, f-stops, 2)."""


def number(text: str) -> float:
    above, _, below = text.partition("/")
    return float(above) / float(below or 1)


@pytest.mark.parametrize("row", NOMINAL.split())
def test_nominal_times_are_those_on_the_dial(row: str) -> None:
    marked, true = (number(part) for part in row.split("="))
    above, below = nominal_time(true)
    assert above / below == pytest.approx(marked)


def test_bulb_times_are_written_as_counted() -> None:
    assert nominal_time(true_time_s(0)) == (30, 1)
    assert nominal_time(161.0) == (1610, 10)


@pytest.mark.parametrize(
    ("true", "marked"), [(2.0**3.5, 11.0), (5.65685, 5.6), (3.56359, 3.5), (22.62742, 22.0)]
)
def test_nominal_f_numbers(true: float, marked: float) -> None:
    # N = 2^(i/6), check values: scantips.com as above
    assert nominal_f_number(true) == marked


@pytest.mark.parametrize("scene", ["dawn", "sunset"])
@pytest.mark.parametrize("stops", [0.0, 1.0, 3.0])
def test_blown_share_of_a_real_scene_is_that_of_its_radiance(scene: str, stops: float) -> None:
    """Straight from the radiance: npm package @pmndrs/assets 1.7.0, CC0 1.0."""
    light = real_radiance(DATA / f"{scene}.npz", (512, 128))
    taken = SimulatedCamera(width=512, height=128, prnu=0.0, hot_per_megapixel=0.0)
    time_s = 2.0**stops / 64
    truth = taken.expose(light, time_s, 8.0).truth
    for plane, (y, x, channel) in enumerate(((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2))):
        electrons = light[y::2, x::2, channel] * time_s / 64.0
        full = (truth.planes[plane].saturation_dn - truth.planes[plane].black_dn) / 0.3
        assert truth.planes[plane].blown_fraction == pytest.approx(
            float(np.mean(electrons >= full)), abs=6e-4
        )


def test_a_filter_over_a_real_scene_is_recovered() -> None:
    """Densities 2.95, 3.00 and 3.06 over the sunset scene, 1/8 s against 128 s."""
    per_density = math.log2(10.0)
    densities = (2.95, 3.00, 3.06)
    light = real_radiance(DATA / "sunset.npz", (512, 128)) / 64.0
    taken = SimulatedCamera(width=512, height=128, hot_per_megapixel=0.0)
    stops = tuple(density * per_density for density in densities)
    filters = (NeutralFilter(10.0, (stops[0], stops[1], stops[2])),)
    short = taken.expose(light, 1 / 8, 4.0, rng=1)
    long = taken.expose(light, 128.0, 4.0, rng=2, filters=filters)
    for plane, channel in enumerate((0, 1, 1, 2)):
        one, two = (
            np.concatenate([p.ravel() for p in plane_values(e.mosaic.pixels, e.sensor, plane)])
            - e.truth.planes[plane].black_dn
            for e in (short, long)
        )
        good = (one > 100) & (one < 14000) & (two > 100) & (two < 14000)
        assert good.mean() > 0.3
        held = 10.0 - math.log2(two[good].sum() / one[good].sum())
        assert held / per_density == pytest.approx(densities[channel], abs=0.003)
