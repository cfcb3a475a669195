"""Every real file at hand in one audit: what can be measured is, and what cannot is named."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest

from tests.real_files import BESIDE

NAMED = {"header-only.cr3", "opens-but-zeros.arw", "truncated.nef"}


@pytest.fixture(scope="module")
def ended(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, str, dict[str, Any]]:
    """Exit status, what was said on standard error, and the audit."""
    if not BESIDE.is_dir():
        pytest.skip(f"no folder of real files at {BESIDE}")
    out = tmp_path_factory.mktemp("out")
    call = ["audit", str(BESIDE), "--out", str(out), "--no-store", "--format", "json", "--quiet"]
    done = subprocess.run(
        [sys.executable, "-m", "auditor", *call], capture_output=True, text=True, check=False
    )
    return done.returncode, done.stderr, json.loads((out / "audit.json").read_text("utf-8"))


def test_four_are_measured_and_three_are_named_with_reasons(
    ended: tuple[int, str, dict[str, Any]],
) -> None:
    status, said, told = ended
    assert status == 1, said
    frames = told["frames"]
    lost = {frame["file"]: frame["error"] for frame in frames if frame["status"] == "unreadable"}
    assert sum(frame["status"] == "measured" for frame in frames) == 4
    assert set(lost) == NAMED
    assert all(error["code"] and error["message"] for error in lost.values())
    assert all(frame["camera"]["model"] and frame["captured_at"] for frame in frames)
    assert all(name in said for name in NAMED)


def sentences(value: object) -> Iterator[str]:
    """Every text of the audit, wherever it stands."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from sentences(part)
    elif isinstance(value, list):
        for part in value:
            yield from sentences(part)


def test_nothing_is_said_of_them_that_was_not_measured(
    ended: tuple[int, str, dict[str, Any]],
) -> None:
    told = ended[2]
    frames = {frame["file"]: frame for frame in told["frames"]}
    every = "\n".join(sentences(told))
    assert "phase detection" not in every, "compacts of the nineties have none"
    assert ": no light came in" not in every, "the picture has a gradient under the noise floor"
    assert "next to no light came in" in every
    assert "retire" not in every
    assert "several reasons" not in every
    for name in NAMED:
        exposure = frames[name]["exposure"]
        assert None not in (exposure["time_s"], exposure["f_number"], exposure["iso"])
    # 5568 x 3712 pixels on a sensor of crop 1.5
    pitch_um = frames["linear-lossy.dng"]["optics"]["pitch_um"]
    assert pitch_um == pytest.approx(28.84 / 6692 * 1000, rel=0.01)
    printed = {one["frame"]: one["sizes_cm"]["300"] for one in told["prints"]}
    wide, high = printed["compact-1997.kdc"]
    assert wide / high == pytest.approx(4 / 3, rel=0.01), "a pixel is 1.53 times as wide as high"
    advised = {
        setup["frames"][0]: setup["next_time"]["iso"]
        for setup in told["setups"]
        if setup["next_time"] is not None
    }
    assert advised["compact-1997.kdc"] == 160, "the metadata hold none: it may have no other"
    assert advised["full-frame.arw"] == 100
