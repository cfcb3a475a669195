"""Large pictures: upright, of the right size, crops at the sensor's own pixels, small enough."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageOps

from auditor.measures.mosaic import MosaicView
from auditor.model.arrays import U8, U16
from auditor.model.codes import Layout
from auditor.model.large import MOST_BYTES, LargePicture, PictureKind
from auditor.model.mosaic import PLANE_NAMES, BlackLevels, Mosaic
from auditor.model.orientation import upright, upright_box
from auditor.model.settings import MeasureSettings
from auditor.pictures.crops import CROP_PX
from auditor.pictures.encode import (
    BAND_PX,
    BEST_QUALITY,
    LEAST_QUALITY,
    MOST_BANDS,
    QUALITY_STEP,
    jpeg_within,
)
from auditor.pictures.large import LONGEST_PX
from auditor.pictures.render import Rendering, codes_of, planes_by_channel
from auditor.pictures.shrink import LEAST_CELL_PX, shrink
from sample_generation.layouts import LAYOUT_NAMES
from tests.built_mosaics import exposed

BLACK, WHITE = 512, 15000
NOISE_DN = 12.0
PLANES = PLANE_NAMES[Layout.BAYER]
BAYER = np.array([[0, 1], [2, 3]], dtype=np.uint8)


def mosaic_of(pixels: NDArray[np.integer], aspect: float = 1.0) -> Mosaic:
    """A Bayer mosaic without colour: every pixel's signal is that of the place."""
    return Mosaic(
        pixels=pixels.astype(np.uint16), layout=Layout.BAYER, pattern=BAYER,
        black=BlackLevels(np.full((2, 2), float(BLACK))), white_dn=(float(WHITE),) * 4,
        bit_depth=14, pixel_aspect=aspect,
        noise_profile=dict.fromkeys(PLANES, (1e-08, (NOISE_DN / (WHITE - BLACK)) ** 2)),
    )  # fmt: skip


def drawn(mosaic: Mosaic, orientation: int | None = 1) -> dict[PictureKind, LargePicture]:
    found = MosaicView(mosaic, MeasureSettings()).drawn().encoded(orientation)
    return {one.place.kind: one for one in found}


def codes(picture: LargePicture) -> U8:
    with Image.open(io.BytesIO(picture.jpeg)) as image:
        assert image.format == "JPEG"
        assert image.size == (picture.place.width_px, picture.place.height_px)
        return np.asarray(image.convert("RGB"))


def noisy(height: int, width: int, level: int = 2000) -> U16:
    noise = np.random.default_rng(4).normal(0.0, NOISE_DN, (height, width))
    return (BLACK + level + noise).astype(np.uint16)


def corner_lit(height: int = 900, width: int = 1300) -> U16:
    """Bright in the upper left, black elsewhere."""
    pixels = noisy(height, width, 40)
    pixels[: height // 4, : width // 4] += 9000
    return pixels


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_out_upright(orientation: int) -> None:
    shown = codes(drawn(mosaic_of(corner_lit()), orientation)[PictureKind.WHOLE])
    # what a viewer makes of the picture as it lies on the sensor, by the Exif standard
    lying = Image.fromarray(codes(drawn(mosaic_of(corner_lit()), 1)[PictureKind.WHOLE]))
    lying.getexif()[0x0112] = orientation
    expected = np.asarray(ImageOps.exif_transpose(lying))
    assert shown.shape == expected.shape
    assert np.abs(shown.astype(int) - expected).mean() < 1.0


@given(st.integers(1, 8), st.integers(1, 40), st.integers(1, 40))
def test_a_box_turns_as_the_picture_does(orientation: int, down: int, across: int) -> None:
    marked = np.zeros((60, 80), dtype=np.uint8)
    marked[down : down + 15, across : across + 25] = 1
    left, top, right, bottom = upright_box(
        (across / 80, down / 60, (across + 25) / 80, (down + 15) / 60), orientation
    )
    turned = upright(marked, orientation)
    tall, wide = turned.shape
    rows, cols = np.nonzero(turned)
    found = (cols.min() / wide, rows.min() / tall, (cols.max() + 1) / wide, (rows.max() + 1) / tall)
    assert found == pytest.approx((left, top, right, bottom))


@pytest.mark.parametrize(
    ("height", "width", "size"),
    [(3000, 4500, (2048, 1365)),  # filtered down
     (2760, 4140, (2048, 1365)),  # a little longer: thinned
     (5480, 4110, (1536, 2048)),  # portrait by its own pixels
     (1000, 1500, (750, 500))],  # half of each side is all that a mosaic tells of colour
)  # fmt: skip
def test_the_longer_side_is_2048(height: int, width: int, size: tuple[int, int]) -> None:
    place = drawn(mosaic_of(noisy(height, width)))[PictureKind.WHOLE].place
    assert (place.width_px, place.height_px) == pytest.approx(size, abs=1)
    assert max(place.width_px, place.height_px) <= LONGEST_PX


def test_oblong_pixels_are_drawn_in_their_true_shape() -> None:
    place = drawn(mosaic_of(noisy(600, 1600), aspect=0.5))[PictureKind.WHOLE].place
    assert (place.width_px, place.height_px) == (800, 600)


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
def test_every_layout_shows_what_its_thumb_shows(layout: str) -> None:
    view = MosaicView(exposed(layout, 100.0, 600, 400).mosaic, MeasureSettings())
    whole = codes(view.drawn().encoded(1)[0])
    thumb = Image.fromarray(view.rgb).resize((60, 40), Image.Resampling.BOX)
    shown = Image.fromarray(whole).resize((60, 40), Image.Resampling.BOX)
    apart = np.abs(np.asarray(thumb).astype(int) - np.asarray(shown))
    assert np.median(apart) <= 2
    assert apart.mean() < 4


def with_blown(box: tuple[int, int, int, int], height: int = 1800, width: int = 2400) -> U16:
    pixels = noisy(height, width)
    top, left, bottom, right = box
    pixels[top:bottom, left:right] = 16000
    return pixels


@pytest.mark.parametrize("orientation", [1, 3, 6, 7])
def test_a_crop_is_the_sensors_own_pixels_in_its_place(orientation: int) -> None:
    pixels = with_blown((700, 1100, 801, 1251))
    pixels[640:644, 1040:1044] = BLACK  # a mark whose place is known to the pixel
    crop = drawn(mosaic_of(pixels), orientation)[PictureKind.BLOWN]
    shown = codes(crop)
    assert shown.shape == (CROP_PX, CROP_PX, 3)
    turned = upright(pixels, orientation)
    tall, wide = turned.shape
    left, top = round(crop.place.left * wide), round(crop.place.top * tall)
    assert crop.place.width * wide == pytest.approx(CROP_PX)
    assert crop.place.height * tall == pytest.approx(CROP_PX)
    there = turned[top : top + CROP_PX, left : left + CROP_PX]
    for shown_there, wanted in (
        (shown.min(axis=2) > 200, there >= 15000),
        (shown.max(axis=2) < 60, there == BLACK),
    ):
        # a JPEG and the neighbours' colours may move an edge by a pixel
        assert edges(shown_there) == pytest.approx(edges(wanted), abs=1)
        apart = np.argwhere(shown_there).mean(axis=0) - np.argwhere(wanted).mean(axis=0)
        assert np.abs(apart).max() < 0.5


def edges(places: NDArray[np.bool_]) -> list[int]:
    rows, cols = np.nonzero(places)
    return [int(edge) for edge in (rows.min(), rows.max(), cols.min(), cols.max())]


def test_the_crop_of_a_wide_patch_shows_its_edge() -> None:
    crop = drawn(mosaic_of(with_blown((0, 0, 800, 2400))))[PictureKind.BLOWN]
    white = (codes(crop).min(axis=2) > 250).mean()
    assert 0.4 < white < 0.6


def test_of_two_patches_the_larger_is_shown() -> None:
    pixels = with_blown((200, 200, 260, 260))
    pixels[1300:1500, 1700:1900] = 16000
    place = drawn(mosaic_of(pixels))[PictureKind.BLOWN].place
    assert (place.left, place.top) < (1700 / 2400, 1300 / 1800)
    assert place.left + place.width > 1900 / 2400
    assert place.top + place.height > 1500 / 1800


def test_a_few_blown_pixels_are_a_place_too() -> None:
    place = drawn(mosaic_of(with_blown((900, 1500, 902, 1502))))[PictureKind.BLOWN].place
    assert place.left < 1500 / 2400 < place.left + place.width
    assert place.top < 900 / 1800 < place.top + place.height


def textured(pixels: U16, box: tuple[int, int, int, int], strength: float) -> None:
    top, left, bottom, right = box
    rng = np.random.default_rng(9)
    shape = ((bottom - top) // 2, (right - left) // 2)
    coarse = rng.choice([-strength, strength], shape).repeat(2, axis=0).repeat(2, axis=1)
    pixels[top:bottom, left:right] = (pixels[top:bottom, left:right] + coarse).astype(np.uint16)


def test_the_sharpest_place_is_where_most_detail_is_and_nothing_blown() -> None:
    pixels = with_blown((300, 300, 420, 420))
    textured(pixels, (200, 200, 700, 700), 900.0)
    pixels[300:420, 300:420] = 16000
    textured(pixels, (1100, 1700, 1600, 2200), 600.0)
    textured(pixels, (1100, 300, 1600, 800), 150.0)
    place = drawn(mosaic_of(pixels))[PictureKind.SHARP].place
    middle = (place.left + place.width / 2) * 2400, (place.top + place.height / 2) * 1800
    assert middle == pytest.approx((1950, 1350), abs=60)


def test_without_blown_places_and_without_detail_there_are_no_crops() -> None:
    assert list(drawn(mosaic_of(noisy(900, 1300)))) == [PictureKind.WHOLE]


def test_a_crop_of_a_small_frame_is_the_frame() -> None:
    crop = drawn(mosaic_of(with_blown((100, 100, 140, 140), 300, 400)))[PictureKind.BLOWN]
    assert (crop.place.width_px, crop.place.height_px) == (400, 300)
    assert (crop.place.left, crop.place.top) == (0.0, 0.0)


def test_even_pure_noise_takes_no_more_than_the_limit() -> None:
    pixels = np.random.default_rng(1).integers(BLACK, 16000, (3000, 4100))
    found = drawn(mosaic_of(pixels))
    assert PictureKind.SHARP in found or PictureKind.BLOWN in found
    assert 100_000 < sum(len(one.jpeg) for one in found.values()) <= MOST_BYTES < 400_000


@given(st.integers(1, 9), st.integers(1, 9), st.sampled_from(LAYOUT_NAMES))
def test_frames_of_a_few_pixels(height: int, width: int, layout: str) -> None:
    mosaic = exposed(layout, 100.0, 60, 60).mosaic
    cut = Mosaic(
        pixels=np.ascontiguousarray(mosaic.pixels[:height, :width]), layout=mosaic.layout,
        pattern=mosaic.pattern, black=mosaic.black, white_dn=mosaic.white_dn,
        bit_depth=mosaic.bit_depth,
    )  # fmt: skip
    for one in _all(cut):
        assert codes(one).size


def _all(mosaic: Mosaic) -> Sequence[LargePicture]:
    return MosaicView(mosaic, MeasureSettings()).drawn().encoded(1)


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
@pytest.mark.parametrize("cells", [1, 2, 3])
def test_a_pixel_is_the_mean_of_its_cell(layout: str, cells: int) -> None:
    view = MosaicView(exposed(layout, 100.0, 70, 50).mosaic, MeasureSettings())
    mosaic, cell_px = view.mosaic, cells * LEAST_CELL_PX[view.mosaic.layout]
    rendering = Rendering(
        layout=mosaic.layout, lattices=view.lattices, blacks_dn=[0.0] * len(mosaic.plane_names),
        whites_dn=[float(mosaic.pixels.max())] * 3,
    )  # fmt: skip
    shown = shrink(rendering, cell_px, int(mosaic.pixels.max()))
    for channel, planes in zip(shown, planes_by_channel(mosaic.layout), strict=True):
        cell_means = []
        for plane in planes:
            lattice = next(one for one in view.lattices if plane in one.planes)
            rows, cols = (side // cell_px * cell_px for side in lattice.pixels.shape)
            own = np.tile(lattice.pattern == plane, (rows, cols))[:rows, :cols]
            pixels = np.where(own, lattice.pixels[:rows, :cols], 0).astype(np.float64)
            block = (rows // cell_px, cell_px, cols // cell_px, cell_px)
            counts = own.reshape(block).sum(axis=(1, 3))
            cell_means.append(pixels.reshape(block).sum(axis=(1, 3)) / counts)
        wanted = codes_of(np.mean(cell_means, axis=0).astype(np.float32), rendering.whites_dn[0])
        assert np.abs(channel.astype(int) - wanted).max() <= 1


def encodings(image: Image.Image, most_bytes: int) -> tuple[int, int]:
    """How often a picture is encoded whole, and the size of what comes of it."""
    sizes: list[tuple[int, int]] = []
    save = Image.Image.save

    def counted(self: Image.Image, *given: Any, **named: Any) -> None:
        sizes.append(self.size)
        save(self, *given, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Image.Image, "save", counted)
        jpeg = jpeg_within(image, most_bytes)
    return sizes.count(image.size), len(jpeg)


def landscape(roughness: float) -> Image.Image:
    """Smooth above, rough below."""
    rng = np.random.default_rng(3)
    noise = rng.normal(0.0, roughness, (1366, 2048, 3)) * np.linspace(0, 1, 1366)[:, None, None]
    return Image.fromarray(
        (np.linspace(200, 60, 1366)[:, None, None] + noise).clip(0, 255).astype(np.uint8)
    )


@pytest.mark.parametrize("most_bytes", [120_000, 200_000, 300_000])
@pytest.mark.parametrize("roughness", [25.0, 45.0])
def test_a_picture_is_encoded_once_and_fills_its_room(roughness: float, most_bytes: int) -> None:
    times, size = encodings(landscape(roughness), most_bytes)
    assert times == 1
    assert 0.8 * most_bytes < size <= most_bytes


def test_what_the_bands_do_not_show_is_encoded_again() -> None:
    rough = np.random.default_rng(3).integers(0, 256, (1366, 2048, 3)).astype(np.uint8)
    for top in range(0, 1366, MOST_BANDS * BAND_PX):
        rough[top : top + BAND_PX] = 128
    times, size = encodings(Image.fromarray(rough), 1_000_000)
    assert times > 1
    assert size <= 1_000_000


def test_a_smooth_picture_has_the_best_quality() -> None:
    image = landscape(0.0)
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=BEST_QUALITY)
    assert jpeg_within(image, 300_000) == stream.getvalue()


@pytest.mark.parametrize("most_bytes", [1, 3000, 5200, 8000, 20_000])
@pytest.mark.parametrize("roughness", [0.0, 15.0, 60.0])
def test_a_small_picture_has_the_best_quality_that_fits(roughness: float, most_bytes: int) -> None:
    image = landscape(roughness).resize((360, 240))
    packed = []
    for quality in range(LEAST_QUALITY, BEST_QUALITY + 1, QUALITY_STEP):
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=quality)
        packed.append(stream.getvalue())
    *_, best = [packed[0], *(one for one in packed if len(one) <= most_bytes)]
    assert jpeg_within(image, most_bytes) == best
    assert encodings(image, most_bytes)[0] <= 10
