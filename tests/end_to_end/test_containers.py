"""Two dozen containers whose headers are whole and whose pixels are not there: no wrong word."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from sample_generation.tiff import SHORT
from tests.built_containers import (
    IMAGE,
    cr3_file,
    crw_file,
    exif_tiff,
    mrw_file,
    raf_file,
    x3f_file,
    x3f_picture,
)

SENSOR_DATA = {262: (SHORT, 32803)}
"""Photometric interpretation: a colour filter array (TIFF/EP)."""

PLAIN = ("3fr", "arw", "bay", "cr2", "dcr", "dcs", "erf", "fff", "iiq", "k25", "kdc", "mdc", "mef",
         "mos", "nef", "nrw", "pef", "ptx", "sr2", "srf", "srw")  # fmt: skip
MAGIC = {"orf": b"IIRO", "ori": b"IIRS", "rw2": b"IIU\0", "rwl": b"IIU\0"}


def headers() -> dict[str, bytes]:
    """The file of each suffix: whole Exif data, and nothing where the pixels would be."""
    tiff = exif_tiff(image={**IMAGE, **SENSOR_DATA})
    made = dict.fromkeys(PLAIN, tiff)
    made |= {suffix: magic + tiff[4:] for suffix, magic in MAGIC.items()}
    made |= {
        "cr3": cr3_file(),
        "raf": raf_file(exif_tiff()),
        "mrw": mrw_file(exif_tiff()),
        "x3f": x3f_file([(b"IMA2", x3f_picture(exif_tiff()))]),
        "crw": crw_file("Brackwell", "Brackwell F45", 1947177727),
    }
    return made


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """What an audit says of each, by suffix."""
    card, out = tmp_path_factory.mktemp("card"), tmp_path_factory.mktemp("out")
    for suffix, content in headers().items():
        (card / f"BRK_0001.{suffix.upper()}").write_bytes(content)
    call = ["audit", str(card), "--out", str(out), "--no-store", "--format", "json", "--quiet"]
    ended = subprocess.run(
        [sys.executable, "-m", "auditor", *call], capture_output=True, text=True, check=False
    )
    assert "Traceback" not in ended.stderr
    frames = json.loads((out / "audit.json").read_text("utf-8"))["frames"]
    return {Path(frame["file"]).suffix[1:].lower(): frame for frame in frames}


def test_none_is_passed_over_and_none_is_measured(told: dict[str, dict[str, Any]]) -> None:
    assert len(headers()) >= 24
    assert told.keys() == headers().keys()
    assert {frame["status"] for frame in told.values()} == {"unreadable"}


@pytest.mark.parametrize("suffix", sorted(headers()))
def test_what_a_header_tells_is_told(told: dict[str, dict[str, Any]], suffix: str) -> None:
    frame = told[suffix]
    assert (frame["camera"]["make"], frame["camera"]["model"]) == ("Brackwell", "Brackwell F45")
    assert frame["captured_at"]
    if suffix != "crw":  # a heap that holds body and time only
        exposure = frame["exposure"]
        assert None not in (exposure["time_s"], exposure["f_number"], exposure["iso"])
        assert exposure == told["nef"]["exposure"]
    assert frame["error"]["code"]
    assert frame["error"]["message"].strip()
    assert "retire" not in frame["error"]["message"], "nothing proves a bad card"
