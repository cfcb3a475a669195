"""Mutants of whole files through the decoder, in a process of their own.

The decoder can crash where no exception can be caught: a child does the work, and its exit
status is part of the test.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest

from auditor.model.errors import UnreadableFile
from auditor.words.unread import FAILURE_CODES
from tests.built_dng import chunked_dng, opened, tiles_of, write_dng
from tests.real_files import HERE

SEED = 20310914
MUTANTS = 40
READ_ONE_AFTER_ANOTHER = """
import json, sys
from pathlib import Path
from auditor.model.errors import UnreadableFile
from auditor.read.exif import read_facts
from auditor.read.preview import NoPreview
from auditor.read.raw import _by_libraw, read_dng, read_preview, read_raw
kind, decoder = sys.argv[1:3]
for path in sys.argv[3:]:
    data = Path(path).read_bytes()
    try:
        facts = read_facts(data, kind)
        if decoder == "own":
            mosaic = read_raw(data, kind, facts).mosaic
        else:
            mosaic = _by_libraw(data, kind, facts, read_dng(data)).mosaic
        told = {"code": "read", "peak": int(mosaic.pixels.max()), "white": min(mosaic.white_dn)}
        read_preview(data, 64)
    except NoPreview:
        pass
    except UnreadableFile as error:
        told = {"code": error.code, "message": error.message}
    except MemoryError:
        told = {"code": "out-of-memory"}
    print(json.dumps(told), flush=True)
"""


def mutants(content: bytes, folder: Path, suffix: str) -> list[str]:
    """Flip header bytes, overwrite and zero sectors, and cut: a quarter of each."""
    rng = np.random.default_rng(SEED)
    paths = []
    for number in range(MUTANTS):
        held = bytearray(content)
        if number % 4 == 0:
            for place in rng.integers(0, min(2048, len(held)), 6):
                held[place] = int(rng.integers(256))
        elif number % 4 == 1:
            start = int(rng.integers(0, max(1, len(held) - 4096)))
            held[start : start + 4096] = rng.bytes(min(4096, len(held) - start))
        elif number % 4 == 2:
            start = int(rng.integers(0, max(1, len(held) - 4096)))
            held[start : start + 4096] = bytes(min(4096, len(held) - start))
        else:
            held = held[: int(rng.integers(1, len(held)))]
        path = folder / f"{number}{suffix}"
        path.write_bytes(bytes(held))
        paths.append(str(path))
    return paths


LAYOUTS = ("plain", "packed", "lossless", "deflated", "JPEG XL", "lossy")


def whole_dng(folder: Path, layout: str) -> Path:
    """A sound file of each way of storing that is decoded by its tags."""
    path = folder / "whole.dng"
    stored = np.random.default_rng(4).normal(3000, 60, (120, 160)).astype(np.uint16)
    tiles = tiles_of(stored, 64, 64)
    if layout == "plain":
        return write_dng(path, stored)
    if layout == "lossy":
        codes = [(tile[:, :, None] // 16).astype(np.uint8).repeat(3, 2) for tile in tiles]
        return chunked_dng(
            path, [bytes(imagecodecs.jpeg8_encode(code)) for code in codes], (120, 160, 3),
            compression=34892, bits=8, tile=(64, 64),
        )  # fmt: skip
    ways: dict[str, tuple[int, int, Callable[[Any], Any]]] = {
        "packed": (1, 12, lambda tile: imagecodecs.packints_encode(tile, 12, runlen=64)),
        "lossless": (7, 16, lambda tile: imagecodecs.ljpeg_encode(tile, bitspersample=14)),
        "deflated": (8, 16, lambda tile: imagecodecs.zlib_encode(tile.tobytes())),
        "JPEG XL": (52546, 16, lambda tile: imagecodecs.jpegxl_encode(tile, lossless=True)),
    }
    compression, bits, encode = ways[layout]
    chunks = [bytes(encode(tile)) for tile in tiles]
    return chunked_dng(
        path, chunks, stored.shape, compression=compression, bits=bits, tile=(64, 64)
    )


@pytest.mark.parametrize("decoder", ["own", "LibRaw"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_mutant_of_a_dng_is_read_or_refused_with_a_reason(
    tmp_path: Path, layout: str, decoder: str
) -> None:
    whole = whole_dng(tmp_path, layout)
    told = all_told(mutants(whole.read_bytes(), tmp_path, ".dng"), "dng", decoder)
    codes = [one["code"] for one in told]
    assert codes.count("read") < MUTANTS
    if decoder == "own":  # these two carry checks of their own, which miss nothing
        assert ("read" in codes) == (layout not in ("deflated", "JPEG XL"))


@pytest.mark.parametrize("name", ["compact-1996.kdc", "compact-1997.kdc"])
def test_every_mutant_is_read_or_refused_with_a_reason(tmp_path: Path, name: str) -> None:
    paths = mutants((HERE / name).read_bytes(), tmp_path, Path(name).suffix)
    # the cut ones make a quarter: something must have been refused, and something read
    codes = [one["code"] for one in all_told(paths, "tiff", "own")]
    assert 0 < codes.count("read") < MUTANTS


def all_told(paths: list[str], kind: str, decoder: str) -> list[dict[str, Any]]:
    done = subprocess.run(
        [sys.executable, "-c", READ_ONE_AFTER_ANOTHER, kind, decoder, *paths],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(told) == MUTANTS
    assert all(one["code"] == "read" or one["code"] in FAILURE_CODES for one in told)
    assert all(one.get("message", "x") for one in told)
    return told


@pytest.mark.parametrize("layout", ["lossless", "deflated", "JPEG XL", "lossy"])
def test_a_claim_to_be_huge_costs_no_memory(tmp_path: Path, layout: str) -> None:
    # each tile claims to be far larger than its place: a hundred times, or all that fits
    whole = whole_dng(tmp_path, layout)
    huge = np.zeros((4096, 4096), dtype=np.uint8 if layout == "lossy" else np.uint16)
    chunk = {
        "lossless": lambda: imagecodecs.ljpeg_encode(huge, bitspersample=14),
        "deflated": lambda: imagecodecs.zlib_encode(huge.tobytes()),
        "JPEG XL": lambda: imagecodecs.jpegxl_encode(huge, lossless=True, effort=1),
        "lossy": lambda: imagecodecs.jpeg8_encode(huge[:, :, None].repeat(3, 2)),
    }[layout]()
    shape = (120, 160, 3) if layout == "lossy" else (120, 160)
    compression = {"lossless": 7, "deflated": 8, "JPEG XL": 52546, "lossy": 34892}[layout]
    chunked_dng(
        whole, [bytes(chunk)] * 6, shape, compression=compression,
        bits=8 if layout == "lossy" else 16, tile=(64, 64),
    )  # fmt: skip
    tracemalloc.start()
    with pytest.raises(UnreadableFile):
        opened(whole)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < huge.nbytes


@pytest.mark.parametrize("tile", [(64, 2_286_682_112), (2_000_000, 64), (65_536, 65_536)])
def test_a_tile_that_claims_to_be_huge_is_a_damaged_header(
    tmp_path: Path, tile: tuple[int, int]
) -> None:
    path = chunked_dng(tmp_path / "a.dng", [bytes(9000)], (120, 160), compression=7, tile=tile)
    with pytest.raises(UnreadableFile, match="far larger than the picture") as caught:
        opened(path)
    assert caught.value.code == "damaged"
