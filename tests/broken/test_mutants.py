"""A small part of the mutants at every test run; the long run is ``tests.broken.mutants``."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import imagecodecs
import numpy as np
import pytest

from auditor.audit import run_audit
from auditor.engine.local import LocalEngine
from auditor.request import AuditRequest
from auditor.words.unread import FAILURE_CODES
from tests.broken.mutants import BAD_ENDS, WAYS, Mutant, examine_mutant, mutate
from tests.built_dng import chunked_dng, tiles_of, write_dng
from tests.evening_audit import KeepingListener
from tests.real_files import BESIDE, HERE

KEPT: dict[str, tuple[int, ...]] = {"compact-1996.kdc": (3081,)}
"""Numbers of mutants that once fared badly, by the file they are made from."""


def small_dng(folder: Path) -> Path:
    noise = np.random.default_rng(5)
    pixels = np.clip(noise.normal(3000, 900, (128, 192)), 0, 16383).astype(np.uint16)
    return write_dng(folder / "small.dng", pixels)


def small_lossless_dng(folder: Path) -> Path:
    pixels = np.random.default_rng(6).normal(3000, 60, (128, 192)).astype(np.uint16)
    tiles = [
        bytes(imagecodecs.ljpeg_encode(tile.reshape(32, 128), bitspersample=14))
        for tile in tiles_of(pixels, 64, 64)
    ]
    return chunked_dng(folder / "lossless.dng", tiles, pixels.shape, compression=7, tile=(64, 64))


def sources(folder: Path) -> list[Path]:
    beside = [BESIDE / name for name in ("linear-lossy.dng", "header-only.cr3")]
    return [
        *sorted(HERE.glob("*.kdc")),
        small_dng(folder),
        small_lossless_dng(folder),
        *(p for p in beside if p.exists()),
    ]


def test_a_number_always_makes_the_same_mutant(tmp_path: Path) -> None:
    content = small_dng(tmp_path).read_bytes()
    for number in range(4 * len(WAYS)):
        how, changed = mutate(content, number)
        assert mutate(content, number) == (how, changed)
        assert how == WAYS[number % len(WAYS)][0]
    assert sum(mutate(content, n)[1] != content for n in range(100)) > 90


def test_every_mutant_is_measured_or_refused_with_a_reason(tmp_path: Path) -> None:
    mutants = [
        Mutant(str(source), number)
        for source in sources(tmp_path)
        for number in (*range(2 * len(WAYS)), *KEPT.get(source.name, ()))
    ]
    engine = LocalEngine(2, time_limit_s=30, memory_limit_mb=2048)
    ended = {outcome.index: outcome for outcome in engine.run(examine_mutant, mutants)}
    engine.close()
    assert sorted(ended) == list(range(len(mutants)))
    for index, outcome in ended.items():
        assert outcome.failure is None, (mutants[index], outcome.failure)
        assert outcome.value is not None
        assert outcome.value.code not in BAD_ENDS
        assert outcome.value.code in {"measured", "passed over", *FAILURE_CODES}
    assert len({outcome.value.code for outcome in ended.values() if outcome.value}) >= 3


@pytest.mark.parametrize("first", [100, 1000])
def test_an_audit_of_mutants_names_every_bad_file_and_changes_none(
    tmp_path: Path, first: int
) -> None:
    card = tmp_path / "card"
    card.mkdir()
    content = small_dng(tmp_path).read_bytes()
    for number in range(first, first + 21):
        (card / f"F45_{number:04d}.DNG").write_bytes(mutate(content, number)[1])
    before = digests(card)
    request = AuditRequest(
        (str(card),), tmp_path / "out", formats=("html", "json", "csv", "md"),
        keep_store=False, workers=2,
    )  # fmt: skip
    end = run_audit(request, KeepingListener())
    assert digests(card) == before
    written = json.loads((tmp_path / "out" / "audit.json").read_text(encoding="utf-8"))
    assert {frame["file"] for frame in written["frames"]} == {name for name, _ in before}
    for frame in written["frames"]:
        if frame["status"] == "measured":
            assert frame["channels"]
        else:
            assert frame["error"]["code"] in FAILURE_CODES
            assert frame["error"]["code"] not in BAD_ENDS
            assert frame["error"]["message"]
    assert end.exit_status == 1


def digests(card: Path) -> list[tuple[str, str]]:
    return [
        (path.name, hashlib.sha256(path.read_bytes()).hexdigest())
        for path in sorted(card.iterdir())
    ]
