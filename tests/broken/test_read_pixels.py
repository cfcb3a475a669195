"""Mutants of whole files through the decoder, in a process of their own.

The decoder can crash where no exception can be caught: a child does the work, and its exit
status is part of the test.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from auditor.model.errors import FAILURE_CODES
from tests.built_dng import flat, write_dng
from tests.real_files import HERE

SEED = 20310914
MUTANTS = 40
READ_ONE_AFTER_ANOTHER = """
import json, sys
from pathlib import Path
from auditor.model.errors import UnreadableFile
from auditor.read.exif import read_facts
from auditor.read.preview import NoPreview
from auditor.read.raw import read_preview, read_raw
for path in sys.argv[2:]:
    data = Path(path).read_bytes()
    try:
        mosaic = read_raw(data, sys.argv[1], read_facts(data, sys.argv[1])).mosaic
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


@pytest.mark.parametrize("name", ["compact-1996.kdc", "compact-1997.kdc", "small.dng"])
def test_every_mutant_is_read_or_refused_with_a_reason(tmp_path: Path, name: str) -> None:
    if name.endswith(".dng"):
        content = write_dng(tmp_path / name, flat(120, 160)).read_bytes()
        kind = "dng"
    else:
        content, kind = (HERE / name).read_bytes(), "tiff"
    paths = mutants(content, tmp_path, Path(name).suffix)
    done = subprocess.run(
        [sys.executable, "-c", READ_ONE_AFTER_ANOTHER, kind, *paths],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(told) == MUTANTS
    assert all(one["code"] == "read" or one["code"] in FAILURE_CODES for one in told)
    assert all(one.get("message", "x") for one in told)
    # the cut ones make a quarter: something must have been refused, and something read
    codes = [one["code"] for one in told]
    assert 0 < codes.count("read") < MUTANTS
