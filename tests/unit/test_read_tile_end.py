"""Lossless JPEG tiles of which a card lost a cluster: their last samples are not at their end."""

from __future__ import annotations

import random
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.examine import examine_file
from auditor.model.settings import MeasureSettings
from auditor.read.dng.tile_end import ends_as_decoded
from auditor.read.jpeg import read_jpeg_head
from auditor.task import ExamineTask
from auditor.words.notes import DAMAGE_SENTENCES
from tests.built_dng import chunked_dng, tiles_of

TILE = 256


def scene(
    seed: int, shape: tuple[int, ...] = (128, 160), noise_dn: float = 40.0, level_dn: float = 3000.0
) -> NDArray[np.uint16]:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[: shape[0], : shape[1]]
    waves = 300.0 * np.cos(x / 31.0 + y / 23.0 + seed)
    light = waves.reshape(*waves.shape, *(1 for _ in shape[2:])) + level_dn
    values: NDArray[np.float64] = light + rng.normal(0.0, noise_dn, shape)
    return np.clip(values, 0, 16383).astype(np.uint16)


def packed(values: NDArray[np.uint16], predictor: int = 1) -> bytes:
    return bytes(
        imagecodecs.jpeg8_encode(values, lossless=True, predictor=predictor, bitspersample=14)
    )


def holds(content: bytes) -> bool:
    own = memoryview(content)
    return ends_as_decoded(own, read_jpeg_head(own), imagecodecs.jpeg8_decode(content))


def spoilt(content: bytes, other: bytes, chance: random.Random, length: int) -> bytes:
    """A tile of which one stretch is that of another."""
    at = chance.randrange(400, len(content) - length - 400)
    begin = chance.randrange(400, len(other) - length - 400)
    return content[:at] + other[begin : begin + length] + content[at + length :]


@pytest.mark.parametrize("predictor", range(1, 8))
@pytest.mark.parametrize("shape", [(64, 80), (64, 80, 3), (3, 40), (2, 2)])
def test_a_whole_tile_ends_with_its_last_samples(predictor: int, shape: tuple[int, ...]) -> None:
    for seed in range(6):
        assert holds(packed(scene(seed, shape), predictor))
        assert holds(packed(scene(seed, shape, noise_dn=0.4), predictor))
        assert holds(packed(scene(seed, shape, noise_dn=6000.0, level_dn=8000.0), predictor))


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_the_codes_of_another_writer_are_understood(bits: int) -> None:
    for seed in range(6):
        values = scene(seed) >> (14 - bits) if bits < 14 else scene(seed) << 2
        content = bytes(imagecodecs.ljpeg_encode(values.astype(np.uint16), bitspersample=bits))
        assert holds(content)
        whole = content[:-2] + bytes(4) + content[-2:]
        assert holds(whole), "filled up to whole words"
        assert holds(whole + bytes(4096)), "zeros behind the end"


@pytest.mark.parametrize("bright", [0, 16383])
@pytest.mark.parametrize("from_row", [0, 3, 100, 127])
def test_blown_black_and_padded_tiles_end_well(bright: int, from_row: int) -> None:
    for predictor in range(1, 8):
        values = scene(predictor)
        values[from_row:] = bright
        assert holds(packed(values, predictor))
        values = np.pad(scene(predictor)[: from_row + 1], ((0, 127), (0, 90)), mode="edge")
        assert holds(packed(values, predictor))


@pytest.mark.parametrize("predictor", [1, 6, 7])
@pytest.mark.parametrize("length", [512, 4096])
def test_a_tile_with_foreign_data_does_not(predictor: int, length: int) -> None:
    chance, told, tried = random.Random(predictor), 0, 0
    for seed in range(20):
        content, other = packed(scene(seed), predictor), packed(scene(seed + 50), predictor)
        try:
            told += not holds(spoilt(content, other, chance, length))
        except RuntimeError:  # the decoder says so itself
            continue
        tried += 1
    assert tried >= 10
    assert told >= 0.8 * tried, "one in ten or so holds as many samples as what it stands for"


def test_they_are_told_under_blown_and_padded_rows_too() -> None:
    chance, told = random.Random(3), 0
    for seed in range(20):
        values, other = scene(seed), packed(scene(seed + 50), 6)
        values[100:] = values[99] if seed % 2 else 16383
        content = packed(values, 6)
        told += not holds(spoilt(content[:-2000], other, chance, 512) + content[-2000:])
    assert told >= 16


def test_what_is_no_lossless_jpeg_is_not_told_here() -> None:
    for content in (memoryview(b""), memoryview(b"\xff\xd8\xff\xd9")):
        assert ends_as_decoded(content, read_jpeg_head(content), scene(1))


def test_a_file_with_a_foreign_cluster_within_a_tile_is_told_with_its_place(
    tmp_path: Path,
) -> None:
    pixels = scene(1, (2 * TILE, 2 * TILE))
    tiles = [packed(tile) for tile in tiles_of(pixels, TILE, TILE)]
    task = ExamineTask(str(tmp_path / "a.dng"), "dng", MeasureSettings())

    def damage() -> list[str]:
        chunked_dng(tmp_path / "a.dng", tiles, pixels.shape, compression=7, tile=(TILE, TILE))
        return [DAMAGE_SENTENCES[sign.kind](sign) for sign in examine_file(task).mosaic.damage]

    assert damage() == []
    tiles[1] = spoilt(tiles[1], tiles[2], random.Random(5), 4096)
    (text,) = damage()
    assert f"1 of 4 tiles, the first from row 0, column {TILE} on, hold other packed data" in text


def test_a_tile_that_only_another_decoder_reads_is_told_with_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pixels = scene(1, (2 * TILE, 2 * TILE))
    tiles = [
        bytes(imagecodecs.ljpeg_encode(tile.reshape(TILE // 2, -1), bitspersample=14))
        for tile in tiles_of(pixels, TILE, TILE)
    ]
    path = chunked_dng(tmp_path / "a.dng", tiles, pixels.shape, compression=7, tile=(TILE, TILE))
    monkeypatch.setattr("auditor.read.jpeg.JpegHead.ends_well", lambda *_: False)
    (sign,) = examine_file(ExamineTask(str(path), "dng", MeasureSettings())).mosaic.damage
    assert "1 of 4 tiles, the first from row 0, column 0 on" in DAMAGE_SENTENCES[sign.kind](sign)
