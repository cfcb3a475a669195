"""Whose fault a failure is: every code has one kind, and a limit of ours blames no file."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.engine.failures import Limits, worker_died
from auditor.engine.worker import failure_of
from auditor.model.errors import FAILURE_KINDS, FailureKind, FrameFailure
from auditor.read.failures import decoder_failure
from auditor.words.unread import FAILURE_CODES
from tests.built_dng import flat, write_dng
from tests.built_makers import containers


def test_every_code_has_one_kind_and_every_kind_a_code() -> None:
    assert FAILURE_KINDS.keys() == FAILURE_CODES.keys()
    assert set(FAILURE_KINDS.values()) == set(FailureKind)


@pytest.mark.parametrize("name", ["LibRawUnsufficientMemoryError", "LibRawMemPoolOverflowError"])
def test_a_decoder_short_of_memory_blames_the_limit_and_not_the_file(
    tmp_path: Path, name: str
) -> None:
    error = decoder_failure(name, write_dng(tmp_path / "a.dng", flat()).read_bytes(), "dng")
    failure = FrameFailure(error.code, error.message)
    assert failure.kind is FailureKind.OURS
    assert "memory_limit_mb" in failure.message
    assert "damaged" not in failure.message


def test_a_library_short_of_memory_blames_the_limit_and_not_the_file() -> None:
    assert failure_of(MemoryError(), Limits(1.0, 64)).kind is FailureKind.OURS


def test_a_crash_says_nothing_sure_of_the_file() -> None:
    failure = worker_died(-11)
    assert failure.kind is FailureKind.OURS
    assert "probably damaged" not in failure.message
    assert "memory_limit_mb" in failure.message


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("LibRawFileUnsupportedError", FailureKind.UNSUPPORTED),
        ("LibRawTooBigError", FailureKind.UNSUPPORTED),
        ("LibRawDataError", FailureKind.DAMAGED),
        ("LibRawIOError", FailureKind.DAMAGED),
    ],
)
def test_the_decoder_s_own_refusals_have_their_kind(
    tmp_path: Path, name: str, kind: FailureKind
) -> None:
    error = decoder_failure(name, write_dng(tmp_path / "a.dng", flat()).read_bytes(), "dng")
    assert FrameFailure(error.code, error.message).kind is kind


@pytest.mark.parametrize("suffix", ["nef", "arw", "pef", "dcr", "srw", "k25"])
def test_damaged_data_in_a_maker_s_own_compression_are_damaged(suffix: str) -> None:
    """The decoder knows that compression, or it had said another thing."""
    error = decoder_failure("LibRawDataError", containers()[suffix], "tiff")
    assert error.code == "damaged"
    assert "stored as" not in error.message


def test_a_code_from_elsewhere_blames_no_file() -> None:
    assert FrameFailure("of a later version", "").kind is FailureKind.OURS
